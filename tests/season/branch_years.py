"""Questions and plans of a year, written by hand, for what is done with many of them."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from app.engine.output import ActiveInProduct, AdjuvantInTank, Amount, Application, ProductInTank
from app.season.year_output import VisitWindow, YearControl, YearPlan, YearVisit


def asked(**told: Any) -> dict[str, Any]:
    """A question of a year, as plain data."""
    return {
        "year": 2027,
        "zone": "cool-humid",
        "site_use": "residential-lawn",
        "areas": [{"id": "front", "name": "Front", "turf": ["tall-fescue"]}],
        "weeds": [{"weed": "dandelion"}],
        "visits": {"count": 5},
        **told,
    }


def used(active: str = "dicamba", rate: float = 0.5, product: str | None = None, **told: Any) -> ProductInTank:
    """A product of a tank, or an active at a rate [lb ae/acre]."""
    amount = Amount(value=rate, unit="lb ae/acre")
    part = ActiveInProduct(active=active, name=active, form=active, form_name=active, group="4", rate=amount)
    return ProductInTank(product=product, id=told.get("id"), actives=(part,), rate=told.get("product_rate"))


def application(day: date, *products: ProductInTank, adjuvant: AdjuvantInTank | None = None) -> Application:
    """One application of some products, in one gallon of spray on 1000 ft2."""
    carrier = Amount(value=1, unit="gal/1000 ft2")
    return Application(day=0, date=day, products=products, adjuvant=adjuvant, carrier=carrier)


def visit(number: int, area: str, told: Application | None, day: date) -> YearVisit:
    """A visit to an area, with an application or none."""
    return YearVisit(
        number=number,
        date=day,
        window=VisitWindow(start=day, end=day + timedelta(days=7), trigger="by the calendar"),
        area=area,
        name=f"Visit {number}",
        applications=(told,) if told is not None else (),
        against=("dandelion",),
        groups=(4,),
        gain=10.0,
        cost_per_1000_ft2=1.5,
        locked=False,
        reasons=(),
        cautions=(),
    )


def control(likely: float = 80, weed: str = "dandelion", area: str | None = None) -> YearControl:
    """Expected control of a weed."""
    return YearControl(
        weed=weed,
        name=weed,
        area=area,
        low=likely - 20,
        likely=likely,
        high=min(likely + 10, 100.0),
        visits=(1,),
        text="",
        sources=(),
    )


def plan(areas: tuple[str, ...] = ("area-01",), text: str = "Two visits.", **told: Any) -> YearPlan:
    """A plan of two visits to each area, proven."""
    days = (date(2027, 4, 12), date(2027, 9, 20))
    visits = tuple(
        visit(number, area, application(day, used()), day) for number, day in enumerate(days, 1) for area in areas
    )
    plain: dict[str, Any] = {
        "year": 2027,
        "headline": text,
        "visits": visits,
        "control": (control(),),
        "allowance": (),
        "groups_by_visit": ((4,), (4,)),
        "rotation": (),
        "weeds": (),
        "objective": 80.0,
        "bound": 80.0,
        "gap": 0.0,
        "proven": True,
        "cost": 3.0,
        "currency": "USD",
        "frontier": (),
        "next_visit": "",
        "relax": None,
        "considered": 10,
        "notices": (),
        "sources": {},
        "knowledge_version": "made",
    }
    return YearPlan(**{**plain, **told})
