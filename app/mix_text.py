"""A mix and a calibration as text for people, at eighty columns."""

from __future__ import annotations

from collections.abc import Iterator

from app.engine.output import Amount
from app.mixing.calibration import Calibrated
from app.mixing.output import ActiveLoad, Mix, TankMix
from app.text import caution_lines, ending_lines, wrapped


def mix_text(answer: Mix) -> str:
    """A mix: the sentence, what stands against it, tank by tank, the order, the load."""
    return "\n".join(_lines(answer)).rstrip() + "\n"


def _lines(answer: Mix) -> Iterator[str]:
    for stop in answer.stops:
        yield wrapped(f"[stop] {stop.text}")
    yield wrapped(answer.headline)
    yield ""
    yield from caution_lines(answer.warnings)
    for tank in _different(answer.tanks):
        yield from _tank(tank, answer)
    for title, rows in (("Per 1000 ft2", answer.per_1000_ft2), ("Per acre", answer.per_acre)):
        if rows:
            yield wrapped(f"{title}: " + "; ".join(f"{row.name} {_amount(row.amount)}" for row in rows))
    yield wrapped("Whole load: " + "; ".join(f"{row.name} {_amount(row.amount)}" for row in answer.totals))
    for spread in answer.spreader:
        caught = "; ".join(f"{_amount(c.amount)} on {_amount(c.area)}" for c in spread.catches)
        yield wrapped(f"Spreader for {spread.name}: catch {caught}; {spread.bags}.")
    yield ""
    if answer.order:
        yield "Order of adding (the label's own order comes first)"
        for number, step in enumerate(answer.order, start=1):
            yield wrapped(f"{number}. {step}", "  ", "     ")
        yield ""
    yield "Actives"
    for load in answer.active_load:
        yield wrapped(_load(load), "  ", "    ")
    yield ""
    for heading, steps in (("Jar test", answer.jar_test), ("Rinse", answer.rinse)):
        if steps:
            yield heading
            for said in steps:
                yield wrapped(said.text, "  - ", "    ")
            yield ""
    yield from ending_lines(answer.notices, answer.sources, answer.knowledge_version)


def _different(tanks: tuple[TankMix, ...]) -> list[TankMix]:
    """The first of the full tanks, which are all alike, and the part-tank."""
    full = [tank for tank in tanks if tank.full]
    return [*full[:1], *(tank for tank in tanks if not tank.full)]


def _tank(tank: TankMix, answer: Mix) -> Iterator[str]:
    full = sum(1 for other in answer.tanks if other.full)
    title = f"Each of {full} full tanks" if tank.full and full > 1 else f"Tank {tank.number}"
    told = [_amount(part) for part in (tank.spray, tank.area) if part is not None]
    yield f"{title} ({' on '.join(told)})" if told else title
    for item in tank.products:
        exact = f"exactly {_amount(item.amount)}, {item.error_pct:+.1f} %"
        yield wrapped(f"{item.said}  {item.name} ({exact})", "  ", "    ")
    if tank.adjuvant is not None:
        yield wrapped(f"{tank.adjuvant.said}  {tank.adjuvant.name}", "  ", "    ")
    if tank.water is not None:
        yield f"  {_amount(tank.water)}  water"
    yield ""


def _load(load: ActiveLoad) -> str:
    rate = _amount(load.rate) if load.rate is not None else "rate per acre not known"
    sources = f" [{', '.join(load.sources)}]" if load.sources else ""
    return f"{load.name} ({load.form_name}), group {load.group}: {rate}. {load.text}{sources}"


def _amount(amount: Amount) -> str:
    return f"{amount.value:.4g} {amount.unit}" if amount.value < 1000 else f"{amount.value:,.0f} {amount.unit}"


def calibration_text(found: Calibrated) -> str:
    """A calibration: the working, what it comes to, advice."""
    lines = [wrapped(step) for step in found.working]
    if found.carrier is not None and found.carrier_per_1000_ft2 is not None:
        lines.append(f"Carrier volume: {_amount(found.carrier)} = {_amount(found.carrier_per_1000_ft2)}")
    lines += [wrapped(item.text) for item in found.advice]
    return "\n".join(lines) + "\n"
