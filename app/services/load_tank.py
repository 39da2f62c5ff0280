"""One tank of a round: what goes into its fills, and what each of its stops takes of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from app.engine.errors import InputError, UnknownId
from app.engine.output import Amount, Caution, ProductInTank
from app.engine.product import Product
from app.mixing.output import Mix, TankMix
from app.mixing.plan import System
from app.season.load_fills import Share, fill_size, mixed, shares
from app.season.load_output import SheetContent, SheetFill, SheetPour, SheetRate, SheetTank, SheetTotal
from app.season.round_output import PlannedStop, PlannedTank, RoundPlan
from app.services import mixing
from knowledge.base import KnowledgeBase
from knowledge.quantities import Quantity

SPRAY_UNIT: dict[System, str] = {"us": "gal", "metric": "L"}
_AREA_UNIT: dict[System, str] = {"us": "ft2", "metric": "m2"}
_SQUARE_METRES_PER_HECTARE = 10_000
# A mix is held against so many turfs at most; each stop was held against its own when it was planned.
_MOST_TURFS = 5
# Rules whose cautions are minded on the spot. Heat, wind and rain close a tank's hours, the wait before seed is told to
# the customer, and the rest was weighed when the round was planned: all of it stands on the page of the round.
ON_THE_SPOT = frozenset(
    {
        *("surroundings", "near-by", "open-flowers", "local-rule", "wind", "volatility", "water-in"),
        *("turf-condition", "turf-stress", "turf-injury", "seedling-turf", "green-up"),
    }
)
# Spray below which nothing is over [L].
_NOTHING = 1e-6


@dataclass(frozen=True)
class Sprayer:
    """What the round is sprayed with; what is absent is not told."""

    name: str = ""
    carrier: Mapping[str, Any] | None = None
    tank: Mapping[str, Any] | None = None


@dataclass(frozen=True)
class Loaded:
    """A tank with what was worked out for it."""

    tank: PlannedTank
    stops: tuple[PlannedStop, ...]
    labels: tuple[Product, ...]
    sheet: SheetTank
    shared: frozenset[str]
    taken: Mapping[tuple[str, str], tuple[SheetTotal, ...]]
    fills: Mapping[tuple[str, str], list[Share]]


class TankLoad:
    """Works one tank out."""

    def __init__(
        self,
        base: KnowledgeBase,
        plan: RoundPlan,
        tank: PlannedTank,
        held: Mapping[str, Product],
        sprayer: Sprayer,
        system: System,
    ) -> None:
        self.base, self.plan, self.tank, self.held, self.sprayer, self.system = base, plan, tank, held, sprayer, system
        self.stops = tuple(s for s in plan.stops if s.status == "spray" and s.tank == tank.label)
        self.labels = tuple(held[p.id] for p in tank.products if p.id is not None and p.id in held)
        told = tank.carrier.model_dump() if tank.carrier is not None else sprayer.carrier
        self.carrier = Quantity(float(told["value"]), str(told["unit"])) if told is not None else None

    def loaded(self) -> Loaded:
        """The tank, poured where that can be done."""
        shared = self._shared()
        why = self._unpoured()
        if not why:
            try:
                return self._spread(shared) if self.dry else self._poured(shared)
            except InputError as error:
                why = f"It cannot be mixed as planned: {error.faults[0].message}."
        sheet = self._sheet(why, None, shared)
        return Loaded(self.tank, self.stops, self.labels, sheet, frozenset(shared), {}, {})

    @property
    def dry(self) -> bool:
        """Whether it is a granule, which is spread and not sprayed."""
        return bool(self.labels) and all(label.granular for label in self.labels)

    def _poured(self, shared: Mapping[str, Caution]) -> Loaded:
        assert self.carrier is not None, "otherwise it cannot be poured"
        takes = [_hectares(stop.treated) * self.carrier.base for stop in self.stops]
        mark = Quantity(self.base.parameter(f"tank-mark-{self.system}"), SPRAY_UNIT[self.system]).base
        litres = mixed(sum(takes), mark)
        area = Quantity(litres / self.carrier.base, "ha").to(self.tank.treated.unit)
        mix = self._mix(area, self._holds(litres, mark))
        fills = [Quantity(t.spray.value, t.spray.unit).base for t in mix.tanks if t.spray is not None]
        split = dict(zip((key_of(stop) for stop in self.stops), shares(takes, fills), strict=True))
        sheet = self._sheet("", mix, shared, sum(takes), litres)
        return Loaded(self.tank, self.stops, self.labels, sheet, frozenset(shared), self._taken_by_all(), split)

    def _spread(self, shared: Mapping[str, Caution]) -> Loaded:
        whole = Quantity(sum(_hectares(stop.treated) for stop in self.stops), "ha").to(self.tank.treated.unit)
        sheet = self._sheet("", self._mix(whole), shared)
        return Loaded(self.tank, self.stops, self.labels, sheet, frozenset(shared), self._taken_by_all(), {})

    def _unpoured(self) -> str:
        generic = [_names(p) for p in self.tank.products if p.id is None or p.id not in self.held]
        if generic:
            said = f"{listed(generic)}: no product of the shelf is named, so nothing can be poured"
            return f"{said}. Only rates stand here; plan the round with the shelf to have amounts."
        if self.carrier is None and not self.dry:
            return "The carrier volume is not told; name a calibrated sprayer, and it can be poured."
        if any(stop.treated is None for stop in self.stops):
            return "The area of a stop is not told, so that nothing can be poured for all of them."
        return ""

    def _holds(self, litres: float, mark: float) -> dict[str, Any] | None:
        """What one fill is made of: the whole tank, or less of it where the last would be too small to measure."""
        told = self.sprayer.tank
        if told is None:
            return None
        whole = Quantity(float(told["value"]), str(told["unit"]))
        size = fill_size(litres, whole.base, self.base.parameter("part-fill-least"), mark)
        if size == whole.base:
            return dict(told)
        return {"value": Quantity(size, "L").to(whole.unit).value, "unit": whole.unit}

    def _mix(self, area: Quantity, holds: Mapping[str, Any] | None = None) -> Mix:
        """What the mixing of this house makes of so much area, in fills that hold so much."""
        turf = tuple(dict.fromkeys(key for stop in self.stops for key in stop.turf))
        sites = {stop.site_use for stop in self.stops}
        payload: dict[str, Any] = {
            "method": "granular" if self.dry else "broadcast",
            "area": {"value": area.value, "unit": area.unit},
            "tank": holds,
            "products": [
                {"id": p.id, "rate": p.rate.model_dump() if p.rate is not None else None} for p in self.tank.products
            ],
            "adjuvant": self._adjuvant(),
            "turf": list(turf) if len(turf) <= _MOST_TURFS else [],
            "site_use": sites.pop() if len(sites) == 1 else None,
            "date": self.plan.date.isoformat(),
            "units": self.system,
        }
        if self.carrier is not None and not self.dry:
            payload["carrier"] = {"value": self.carrier.value, "unit": self.carrier.unit}
        return mixing.mix(payload, self._product)

    def _adjuvant(self) -> dict[str, Any] | None:
        told = self.tank.adjuvant
        if told is None or told.id == "none" or self.dry:
            return None
        named = next((p.id for p in self.held.values() if told.product is not None and p.name == told.product), None)
        return {"id": named or told.id, "rate": told.rate.model_dump() if told.rate is not None else None}

    def _product(self, slug: str) -> Product:
        if slug not in self.held:
            raise UnknownId("product", slug, ())
        return self.held[slug]

    def _taken_by_all(self) -> dict[tuple[str, str], tuple[SheetTotal, ...]]:
        return {key_of(stop): self._taken(stop) for stop in self.stops}

    def _taken(self, stop: PlannedStop) -> tuple[SheetTotal, ...]:
        assert stop.treated is not None, "otherwise it cannot be poured"
        mix = self._mix(Quantity(stop.treated.value, stop.treated.unit))
        return tuple(SheetTotal(name=item.name, amount=item.amount) for item in mix.totals)

    def _shared(self) -> dict[str, Caution]:
        """Cautions that every stop of the tank has, by their text: they are said once."""
        if len(self.stops) < 2:
            return {}
        first = {caution.text: caution for caution in self.stops[0].cautions if caution.code in ON_THE_SPOT}
        common = set(first).intersection(*({c.text for c in stop.cautions} for stop in self.stops[1:]))
        return {text: caution for text, caution in first.items() if text in common}

    def _sheet(
        self,
        unpoured: str,
        mix: Mix | None,
        shared: Mapping[str, Caution],
        needed: float | None = None,
        litres: float | None = None,
    ) -> SheetTank:
        tank = self.tank
        own = tuple(w for w in mix.warnings if w.code == "pour") if mix is not None else ()
        over = max(litres - needed, 0.0) if litres is not None and needed is not None else None
        return SheetTank(
            label=tank.label,
            name=tank.name,
            open_hours=tank.open_hours,
            closed=tank.closed,
            treated=tank.treated,
            carrier=None
            if self.carrier is None or self.dry
            else Amount(value=self.carrier.value, unit=self.carrier.unit),
            contents=self._contents(),
            rates=self._rates(),
            unpoured=unpoured,
            stops=mix.stops if mix is not None else (),
            warnings=(*own, *shared.values()),
            fills=_fills(mix) if mix is not None else (),
            fills_text=self._equal(mix),
            needed=self._volume(needed),
            spray=self._volume(litres),
            left_over=self._volume(over),
            left_text=self._left(over),
            totals=tuple(SheetTotal(name=t.name, amount=t.amount) for t in mix.totals) if mix is not None else (),
            order=mix.steps if mix is not None else (),
            rinse=mix.rinse if mix is not None and not self.dry else (),
            spreader=_spreader(mix) if mix is not None else (),
            max_air_f=tank.max_air_f,
            heat_text=_heat(tank),
            rainfast_hours=tank.rainfast_hours,
            serves=tuple(f"{stop.property_name}, {stop.area_name}" for stop in self.stops),
        )

    def _carrier_said(self) -> Amount | None:
        if self.carrier is None or self.dry:
            return None
        return Amount(value=self.carrier.value, unit=self.carrier.unit)

    def _equal(self, mix: Mix | None) -> str:
        told = self.sprayer.tank
        if mix is None or told is None or len(mix.tanks) < 2 or mix.tanks[0].spray is None:
            return ""
        first = mix.tanks[0].spray
        if Quantity(first.value, first.unit).base >= Quantity(float(told["value"]), str(told["unit"])).base - _NOTHING:
            return ""
        return "The fills are made equal: after full ones the last would be too small to measure and stir well."

    def _contents(self) -> tuple[SheetContent, ...]:
        registered = {label.id: label.registration for label in self.labels}
        return tuple(
            SheetContent(
                product=p.product or "",
                registration=registered.get(p.id, ""),
                actives=tuple(part.name for part in p.actives),
            )
            for p in self.tank.products
        )

    def _rates(self) -> tuple[SheetRate, ...]:
        rows = [
            SheetRate(name=p.product, rate=p.rate)
            if p.product is not None
            else SheetRate(name=a.name if a.form_name == a.name else f"{a.name} ({a.form_name})", rate=a.rate)
            for p in self.tank.products
            for a in (p.actives if p.product is None else p.actives[:1])
        ]
        added = self.tank.adjuvant
        if added is not None and added.id != "none":
            rows.append(SheetRate(name=added.product or added.name, rate=added.rate))
        return tuple(rows)

    def _volume(self, litres: float | None) -> Amount | None:
        if litres is None:
            return None
        unit = SPRAY_UNIT[self.system]
        return Amount(value=Quantity(litres, "L").to(unit).value, unit=unit)

    def _left(self, over: float | None) -> str:
        if over is None or over <= _NOTHING or self.carrier is None:
            return ""
        area = Quantity(over / self.carrier.base, "ha").to(_AREA_UNIT[self.system])
        said = self._volume(over)
        assert said is not None, "there is some"
        return (
            f"{said.value:.2g} {said.unit} is over, enough for {area.value:,.0f} {area.unit}: finish it on turf that "
            "the label allows, never twice on one place."
        )


def _fills(mix: Mix) -> tuple[SheetFill, ...]:
    """The full tanks as one, and the part fill."""
    full = [tank for tank in mix.tanks if tank.full]
    part = [tank for tank in mix.tanks if not tank.full]
    found = []
    if mix.method == "granular":
        return tuple(_fill(mix, tank, "The load", 1) for tank in mix.tanks)
    if full:
        several = f"Fills {'1 and 2' if len(full) == 2 else f'1 to {len(full)}'}, each"
        title = several if len(full) > 1 else "Fill 1" if part else "One fill"
        found.append(_fill(mix, full[0], title, len(full)))
    found += [_fill(mix, t, f"Fill {t.number}" if full else "One fill", 1) for t in part]
    return tuple(found)


def _fill(mix: Mix, tank: TankMix, title: str, count: int) -> SheetFill:
    assert tank.area is not None, "its area or its carrier is told"
    pours = [
        SheetPour(name=p.name, formulation=p.formulation, said=p.said, amount=p.amount, off_pct=p.error_pct)
        for p in tank.products
    ]
    # In the order in which the steps name them.
    pours.sort(key=lambda item: next((n for n, step in enumerate(mix.order) if step.startswith(item.name)), 0))
    if tank.adjuvant is not None:
        added = tank.adjuvant
        off = added.error_pct or 0.0
        pours.append(SheetPour(name=added.name, formulation="", said=added.said, amount=added.amount, off_pct=off))
    return SheetFill(
        title=title,
        count=count,
        full=tank.full,
        spray=tank.spray,
        water=tank.water,
        covers=tank.area,
        pours=tuple(pours),
    )


def _spreader(mix: Mix) -> tuple[str, ...]:
    found = []
    for item in mix.spreader:
        catches = [f"{c.amount.value:.3g} {c.amount.unit} on {c.area.value:g} {c.area.unit}" for c in item.catches]
        found.append(f"Set the spreader so that it drops {listed(catches, ' or ')} of {item.name}; {item.bags}.")
    return tuple(found)


def _heat(tank: PlannedTank) -> str:
    if tank.max_air_f is None:
        return ""
    hours = f"; {tank.open_hours}" if tank.open_hours else ""
    return f"Not above {tank.max_air_f:g} F{hours}."


def _names(product: ProductInTank) -> str:
    return product.product or " and ".join(part.name for part in product.actives)


def listed(items: Sequence[str], last: str = " and ") -> str:
    return last.join((", ".join(items[:-1]), items[-1])) if len(items) > 1 else items[0]


def key_of(stop: PlannedStop) -> tuple[str, str]:
    return stop.property, stop.area


def _hectares(area: Amount | None) -> float:
    assert area is not None, "otherwise it cannot be poured"
    return Quantity(area.value, area.unit).base / _SQUARE_METRES_PER_HECTARE
