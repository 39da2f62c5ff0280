"""The hours in which each tank of a round may be sprayed, as a day to be drawn."""

from __future__ import annotations

from app.engine.errors import UnknownId
from app.season.limits import Sprayed, limits_of
from app.season.round_output import PlannedTank, RoundPlan
from app.season.windows import day_ahead, window_of
from app.season.windows_output import WindowDay
from app.services import forecasts
from app.services.knowledge_service import knowledge_base
from app.services.shelf import shelf_products
from app.store.opening import Store
from knowledge.models import Turf


def tank_days(store: Store, plan: RoundPlan, forecast: str | None) -> dict[str, WindowDay]:
    """The day of each tank by its label, where its hours are still those of the plan.

    Parameters
    ----------
    forecast : str or None
        Id of the forecast that the round was planned on.

    Returns
    -------
    dict
        Without a tank for which the forecast or the shelf tells other hours than when it was planned: the plan
        is what was decided, and is shown in words.
    """
    if forecast is None:
        return {}
    try:
        told = forecasts.one(store, forecast).forecast
    except UnknownId:
        return {}
    ahead = day_ahead(knowledge_base(), told, plan.date)
    found = {}
    for tank in plan.tanks:
        turf, site_use = _ground(plan, tank.label)
        day = window_of(ahead, limits_of(_parts(store, tank), turf, site_use, tank.name))
        if day.words == tank.open_hours:
            found[tank.label] = day
    return found


def _parts(store: Store, tank: PlannedTank) -> list[Sprayed]:
    base, held = knowledge_base(), {product.id: product for product in shelf_products(store)}
    parts = []
    for product in tank.products:
        for part in product.actives:
            active = base.actives.get(part.active)
            if active is not None:
                form = next((form for form in active.forms if form.id == part.form), None)
                parts.append(Sprayed(active, form, held.get(product.id)))
    return parts


def _ground(plan: RoundPlan, label: str) -> tuple[tuple[Turf, ...], str | None]:
    """The turfs of a tank's stops, and their use where it is one."""
    base, stops = knowledge_base(), [stop for stop in plan.stops if stop.tank == label]
    sites = {stop.site_use for stop in stops}
    turf = dict.fromkeys(key for stop in stops for key in stop.turf if key in base.turf)
    return tuple(base.turf[key] for key in turf), sites.pop() if len(sites) == 1 else None
