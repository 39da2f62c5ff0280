"""Rules of the product's own label, as its user typed it: it binds beside the facts, whichever is stricter."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from app.engine.doses import ProductUse, counted_rate, delivered, label_line
from app.engine.product import untold
from app.engine.rules.registry import ROUNDING, Finding, Question, rule
from knowledge.base import applies_to_turf
from knowledge.quantities import Quantity

_TODAY, _LATER = "forecast.max_temp_f", "forecast.max_temp_next_3_days_f"


def _named(use: ProductUse) -> dict[str, str]:
    return {"product": use.product.name, "rate": str(use.rate)}


@rule("label-site", "dose")
def label_site(question: Question) -> Iterator[Finding]:
    """A product is used only on the sites that its label names."""
    use, here = question.dose.product, question.understood.situation.site_use
    if use is not None and use.product.site_uses is not None and here not in use.product.site_uses:
        yield Finding("label-site", "stop", {**_named(use), "site": question.base.sites[here].name})


@rule("label-turf", "dose")
def label_turf(question: Question) -> Iterator[Finding]:
    """A product is used only on the turf that its label names."""
    use = question.dose.product
    if use is None or use.product.turf is None:
        return
    for turf in question.understood.turf:
        if applies_to_turf(use.product.turf, turf) < 0:
            yield Finding("label-turf", "stop", {**_named(use), "turf": turf.name})


@rule("label-rate", "dose")
def label_rate(question: Question) -> Iterator[Finding]:
    """A rate stays within what the label gives for this turf and in one application."""
    use = question.dose.product
    if use is None:
        return
    most = use.product.max_per_application
    if most is not None and _exceeds(use, most.quantity):
        yield Finding("label-rate", "stop", {**_named(use), "why": f"at most {most.quantity} in one application"})
    broadcast = [line for line in use.product.rates if line.purpose != "spot"]
    if not broadcast:
        return
    lines = [use.line] if use.line is not None else []
    if not lines:
        purposes = dict.fromkeys(line.purpose for line in broadcast)
        found = (label_line(use.product, question.understood, purpose) for purpose in purposes)
        lines = [line for line in found if line is not None]
    turf = " and ".join(turf.name for turf in question.understood.turf)
    if not lines:
        yield Finding("label-rate", "stop", {**_named(use), "why": f"no rate for {turf}"})
        return
    highest = max((line.high.quantity for line in lines), key=lambda quantity: quantity.base)
    lowest = min((line.low.quantity for line in lines), key=lambda quantity: quantity.base)
    if _exceeds(use, highest):
        yield Finding("label-rate", "stop", {**_named(use), "why": f"at most {highest} on {turf}"})
    elif lowest.dimension == use.rate.dimension and use.rate.base * ROUNDING < lowest.base:
        yield Finding("label-rate", "caution", {**_named(use), "why": f"at least {lowest} on {turf}"})


def _exceeds(use: ProductUse, ceiling: Quantity) -> bool:
    """Whether the rate is above a ceiling; measures that cannot be compared count as above."""
    density = use.product.density
    rate, most = use.rate, ceiling
    if rate.dimension != most.dimension and density is not None:
        # Both as weights: a litre weighs the density.
        weigh = density.quantity.base
        bases = [q.base * (weigh if q.dimension == "volume-rate" else 1) for q in (rate, most)]
        return bases[0] > bases[1] * ROUNDING
    return rate.dimension != most.dimension or rate.base > most.base * ROUNDING


@rule("label-annual", "repeat")
def label_annual(question: Question) -> Iterator[Finding]:
    """The year's total of a product, with its actives applied already, stays within its label's maximum."""
    use = question.dose.product
    if use is None or use.product.max_per_year is None:
        return
    most = use.product.max_per_year.quantity
    number = [part.active for part in use.product.actives].index(question.dose.active.id)
    ceiling = delivered(use.product, number, most, question.dose.active, question.dose.form, "catalog")
    if ceiling is None:
        return
    used = sum(amount for _, amount, product in _past(question) if product in (None, use.product.name))
    coming = question.planned if question.planned is not None else question.repeats * question.dose.rate.base
    if used + coming > ceiling.base * ROUNDING:
        unit = f"lb {question.dose.active.rate_basis}/acre"
        per = Quantity(1.0, unit).base
        values = {
            "product": use.product.name,
            "ceiling": str(most),
            "active": question.dose.active.name,
            "most": f"{ceiling.base / per:.3g} {unit}",
            "planned": f"{(used + coming) / per:.3g} {unit}",
        }
        yield Finding("label-annual", "stop", values)


def _past(question: Question, *, this_year: bool = True) -> list[tuple[int, float, str | None]]:
    """Earlier applications of this active: days ago, rate [g/ha], and the product where it was told."""
    situation, dose = question.understood.situation, question.dose
    found = []
    for past in situation.applied_this_year:
        if past.active != dose.active.id or (this_year and past.date.year != situation.date.year):
            continue
        counted = counted_rate(past.rate.quantity, dose.active, dose.active.forms[0])
        amount = counted.base if counted is not None else past.rate.quantity.base
        found.append(((situation.date - past.date).days, amount, past.product))
    return found


@rule("label-count", "repeat")
def label_count(question: Question) -> Iterator[Finding]:
    """The number of applications of a product in a year stays within its label's number."""
    use = question.dose.product
    if use is None or use.product.max_applications_per_year is None:
        return
    # An earlier application whose product was not told may have been this one.
    done = len({ago for ago, _, product in _past(question) if product in (None, use.product.name)})
    if done + question.repeats > use.product.max_applications_per_year:
        ceiling = str(use.product.max_applications_per_year)
        values = {"product": use.product.name, "ceiling": ceiling, "done": str(done), "more": str(question.repeats)}
        yield Finding("label-count", "stop", values)


@rule("label-interval", "dose")
def label_interval(question: Question) -> Iterator[Finding]:
    """A product is not sprayed again before its label's interval has passed."""
    use = question.dose.product
    if use is None or use.product.min_interval_days is None:
        return
    told = [ago for ago, _, product in _past(question, this_year=False) if product in (None, use.product.name)]
    since = min(told, default=None)
    if since is not None and since < use.product.min_interval_days:
        values = {"product": use.product.name, "days": str(use.product.min_interval_days), "since": str(since)}
        yield Finding("label-interval", "stop", values)


@rule("label-carrier", "dose")
def label_carrier(question: Question) -> Iterator[Finding]:
    """The carrier volume is not below the label's least."""
    use, told = question.dose.product, question.understood.situation.carrier
    if use is None or use.product.carrier_floor is None or told is None or use.product.granular:
        return
    if told.quantity.base * ROUNDING < use.product.carrier_floor.quantity.base:
        floor = str(use.product.carrier_floor.quantity)
        yield Finding("label-carrier", "stop", {**_named(use), "floor": floor, "told": str(told.quantity)})


@rule("label-temperature", "dose")
def label_temperature(question: Question) -> Iterator[Finding]:
    """A product is not sprayed into warmer air than its label allows."""
    use, forecast = question.dose.product, question.understood.situation.forecast
    if use is None or use.product.max_air_f is None:
        return
    told = [t for t in (forecast.max_temp_f, forecast.max_temp_next_3_days_f) if t is not None]
    values = {**_named(use), "ceiling": f"{use.product.max_air_f:g}"}
    if told and max(told) > use.product.max_air_f:
        yield Finding("label-temperature", "stop", {**values, "warmest": f"{max(told):g}"})
    elif forecast.max_temp_f is None or forecast.max_temp_next_3_days_f is None:
        missing = _TODAY if forecast.max_temp_f is None else _LATER
        yield Finding("label-temperature", "unknown", values, settled_by=missing)


@rule("label-adjuvant", "adjuvant")
def label_adjuvant(question: Question) -> Iterator[Finding]:
    """The tank holds an adjuvant that the label requires, and none that it forbids."""
    use = question.dose.product
    if use is None:
        return
    uses: dict[str, str] = {item.id: item.use for item in use.product.adjuvants}
    name = question.base.adjuvants[question.adjuvant].name
    required = [item for item, said in uses.items() if said == "required"]
    if uses.get(question.adjuvant) == "forbidden":
        yield Finding("label-adjuvant", "stop", {**_named(use), "why": f"no {name}"})
    elif required and question.adjuvant not in required:
        wanted = " or ".join(question.base.adjuvants[item].name for item in required)
        yield Finding("label-adjuvant", "stop", {**_named(use), "why": f"{wanted} is required"})


@rule("label-rainfast", "dose")
def label_rainfast(question: Question) -> Iterator[Finding]:
    """Rain before the label's hours have passed washes a leaf-applied product off."""
    use, told = question.dose.product, question.understood.situation.forecast.rain_free_hours
    if use is None or not use.product.rainfast_hours or use.product.granular:
        return
    if use.line is not None and use.line.purpose == "preemergence":
        return
    values = {**_named(use), "hours": f"{use.product.rainfast_hours:g}"}
    if told is None:
        yield Finding("label-rainfast", "unknown", values, settled_by="forecast.rain_free_hours")
    elif told < use.product.rainfast_hours:
        yield Finding("label-rainfast", "warning", {**values, "told": f"{told:g}"})


@rule("label-seeding", "repeat")
def label_seeding(question: Question) -> Iterator[Finding]:
    """Seed is not sown before the label's interval has passed."""
    use = question.dose.product
    planned = question.understood.situation.turf_condition.seeding_planned
    if use is None or use.product.seeding_interval_days is None or planned is None:
        return
    last = question.understood.situation.date + timedelta(days=question.last_day)
    if (planned - last).days < use.product.seeding_interval_days:
        days = str(use.product.seeding_interval_days)
        values = {"product": use.product.name, "days": days, "planned": planned.isoformat(), "last": last.isoformat()}
        yield Finding("label-seeding", "stop", values)


@rule("label-expired", "repeat")
def label_expired(question: Question) -> Iterator[Finding]:
    """What is past its date is not counted on."""
    use = question.dose.product
    if use is not None and use.product.expiry is not None and use.product.expiry.isoformat() < question.last_date:
        yield Finding(
            "label-expired", "warning", {"product": use.product.name, "expiry": use.product.expiry.isoformat()}
        )


@rule("label-reentry", "dose")
def label_reentry(question: Question) -> Iterator[Finding]:
    """People and pets keep off until the label's time has passed."""
    use = question.dose.product
    if use is None or (use.product.reentry_hours is None and not use.product.reentry_text):
        return
    hours = use.product.reentry_hours
    parts = [f"for {hours:g} hours" if hours else "", use.product.reentry_text]
    until = ", ".join(part for part in parts if part) or "until the spray has dried"
    yield Finding("label-reentry", "info", {"product": use.product.name, "until": until})


@rule("label-untold", "dose")
def label_untold(question: Question) -> Iterator[Finding]:
    """What was not typed from the label is unknown; the label tells it."""
    use = question.dose.product
    if use is not None and (missing := untold(use.product)):
        yield Finding("label-untold", "info", {"product": use.product.name, "missing": ", ".join(missing)})
