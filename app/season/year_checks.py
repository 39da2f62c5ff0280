"""What of a year that is asked for cannot be true or cannot be planned, said all at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date as Date

from app.engine.cost import unit_price
from app.engine.errors import FieldFault, InputError
from app.engine.product import Product
from app.engine.understood import past_faults, resistance_faults, rule_faults, unknown_id
from app.season.year import Forbid, Lock, YearAsked
from knowledge.base import KnowledgeBase


def checked(base: KnowledgeBase, asked: YearAsked, products: Sequence[Product] | None = None) -> None:
    """Look at every id, day and number of a year against the knowledge base and against each other.

    Parameters
    ----------
    products : sequence of Product, optional
        Those that the catalog means, where it is the shelf.

    Raises
    ------
    InputError
        With one fault for each field that cannot be used, ids with their three nearest.
    """
    faults = [
        *_areas(base, asked),
        *_weeds(base, asked),
        *past_faults("applied_this_year", asked.applied_this_year, base),
        *past_faults("applied_last_year", asked.applied_last_year, base),
        *_past_days(asked),
        *rule_faults("local_rules", asked.local_rules, base),
        *_visit_days(asked),
        *_held("locks", asked.locks, asked, base),
        *_held("forbid", asked.forbid, asked, base),
        *_budget(asked, products),
    ]
    if faults:
        raise InputError(faults)


def _areas(base: KnowledgeBase, asked: YearAsked) -> Iterator[FieldFault]:
    # A seeding of the year itself may lie before the first day that is planned: the stand is then a young one.
    first = Date(asked.year, 1, 1)
    for number, area in enumerate(asked.areas):
        for place, key in enumerate(area.turf):
            path = f"areas.{number}.turf.{place}"
            if key not in base.turf:
                yield unknown_id(path, "turf", key, base.turf)
            elif key in area.turf[:place]:
                yield FieldFault(path, f"'{key}' is named twice; name each turf once")
        planned = area.turf_condition.seeding_planned
        if planned is not None and planned < first:
            what = f"lies before {asked.year}, the year that is planned; for a stand already sown use 'stand'"
            yield FieldFault(f"areas.{number}.turf_condition.seeding_planned", what)


def _weeds(base: KnowledgeBase, asked: YearAsked) -> Iterator[FieldFault]:
    for number, told in enumerate(asked.weeds):
        yield from resistance_faults(f"weeds.{number}.resistant_to", told.resistant_to, base)
        weed = base.weeds.get(told.weed)
        if weed is None:
            yield unknown_id(f"weeds.{number}.weed", "weed", told.weed, base.weeds)
            continue
        for area in asked.areas:
            same = [turf for turf in area.turf if turf in weed.same_species_turf]
            if same and (not told.areas or area.id in told.areas):
                what = f"'{weed.id}' is the turf {same[0]} itself on area '{area.id}'"
                other = "leave that area out of its 'areas'" if len(asked.areas) > 1 else "name another weed"
                yield FieldFault(f"weeds.{number}.weed", f"{what}; {other}")
                break


def first_day(asked: YearAsked) -> Date:
    """The first day that may be planned."""
    return asked.start or Date(asked.year, 1, 1)


def _past_days(asked: YearAsked) -> Iterator[FieldFault]:
    if asked.start is None:
        return
    for number, past in enumerate(asked.applied_this_year):
        if past.date > asked.start:
            what = f"lies after {asked.start}, the first day that is planned; use a later 'from'"
            yield FieldFault(f"applied_this_year.{number}.date", what)


def _visit_days(asked: YearAsked) -> Iterator[FieldFault]:
    first = first_day(asked)
    for number, day in enumerate(asked.visits.dates or ()):
        if day < first:
            yield FieldFault(f"visits.dates.{number}", f"lies before {first}, the first day that is planned")


def _held(path: str, items: Sequence[Lock | Forbid], asked: YearAsked, base: KnowledgeBase) -> Iterator[FieldFault]:
    """Faults of locks or of what is forbidden: their actives, and the visits that they name."""
    dates, first = asked.visits.dates, first_day(asked)
    most = len(dates) if dates is not None else asked.visits.count
    for number, item in enumerate(items):
        for place, key in enumerate(item.actives):
            where = f"{path}.{number}.actives.{place}"
            if key not in base.actives:
                yield unknown_id(where, "active", key, base.actives)
            elif key in item.actives[:place]:
                yield FieldFault(where, f"'{key}' is named twice; name each active once")
        if item.visit is not None and most is not None and item.visit > most:
            yield FieldFault(f"{path}.{number}.visit", f"there is no visit {item.visit}; at most {most} are asked for")
        if isinstance(item, Forbid) and item.visit is not None and item.date is not None:
            yield FieldFault(f"{path}.{number}.visit", "stands beside 'date'; name the visit by one of the two")
        if item.date is not None:
            yield from _named_day(f"{path}.{number}.date", item.date, first, asked)


def _named_day(path: str, day: Date, first: Date, asked: YearAsked) -> Iterator[FieldFault]:
    dates = asked.visits.dates
    if day.year != asked.year:
        yield FieldFault(path, f"must lie in {asked.year}, the year that is planned")
    elif day < first:
        yield FieldFault(path, f"lies before {first}, the first day that is planned")
    elif dates is not None and day not in dates:
        told = ", ".join(str(known) for known in dates) or "none"
        yield FieldFault(path, f"{day} is no date of a visit; visits.dates are {told}")


def _budget(asked: YearAsked, products: Sequence[Product] | None) -> Iterator[FieldFault]:
    if asked.limits.budget_per_1000_ft2 is None:
        return
    path = "limits.budget_per_1000_ft2"
    if asked.catalog == "actives":
        yield FieldFault(path, "needs prices, and generic actives have none; use catalog 'shelf', or list products")
        return
    known = asked.catalog if isinstance(asked.catalog, tuple) else products
    if known is None:
        return
    sold = [product for product in known if product.kind == "herbicide" and unit_price(product) is not None]
    currencies = sorted({product.currency for product in sold})
    if not sold:
        yield FieldFault(path, "needs prices, and no product of the catalog has a pack with one")
    elif len(currencies) > 1:
        yield FieldFault(path, f"needs one currency, and the catalog has {' and '.join(currencies)}")
