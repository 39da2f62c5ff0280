"""Changing the plan of a year: the form, what a change costs before it is kept, and planning on from a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError, UnknownId
from app.services import forecasts, knowledge_service, properties, year_again, year_compare, years
from app.services.scouting import weed_name
from app.services.shelf import shelf_products
from app.services.year_changes import changes, loosened, names
from app.services.year_question import (
    Known,
    Question,
    YearNote,
    YearWish,
    known,
    question,
    read_wish,
    usual_catalog,
    usual_visits,
    wish_of,
)
from app.services.years import KeptYear, Tried
from app.store.changed import Changed
from app.web import year_form
from app.web.conflict import Conflict, conflict
from app.web.security import here
from app.web.year import first_day, now, shown, whole
from app.web.year_form import BANS, HELD, TANK, Typed
from app.web.year_view import loosen_words, signed, sure_words

blueprint = Blueprint("year_edit", __name__)
Page = str | BaseResponse | tuple[str, int]
CATALOGS = {"actives": "actives, without products", "shelf": "products of the shelf"}
PRESSURES = {"low": "low", "moderate": "moderate", "high": "high"}


@blueprint.get("/year/<slug>/<int:season>/edit")
def edit(slug: str, season: int) -> Page:
    """The form of a year: empty of a plan, of the chosen one, of one tried out, or of the year before."""
    store, kept = here(), years.chosen(here(), slug, season)
    carried: Sequence[str] = ()
    try:
        if (key := request.args.get("tried", "")) and (waiting := years.tried(store, slug, season, key)) is not None:
            wish, plan, after = wish_of(waiting.asked, waiting.note), waiting.plan, waiting.note.after or 0
            wish_weeds = _known(slug, season, wish).weeds
        elif (before := _carried_from(slug, season, request.args.get("carry", ""))) is not None:
            over = year_again.carried_over(store, before, date.today())
            wish, plan, after, carried, wish_weeds = over.wish, None, 0, over.note.said, over.weeds
        elif kept is not None:
            wish, plan, after = wish_of(kept.asked, kept.note), kept.plan, kept.number
            wish_weeds = _known(slug, season, wish).weeds
        else:
            usual = {"visits": usual_visits().model_dump(), "catalog": usual_catalog(store)}
            wish = read_wish({**usual, "from": first_day(season)})
            plan, after = None, 0
            wish_weeds = _known(slug, season, wish).weeds
        found = _known(slug, season, wish)
    except InputError as error:
        return shown(slug, season, faults=error.faults), 422
    areas = [area.id for area in found.ground.areas]
    typed = year_form.shown(wish, wish_weeds, plan, areas)
    typed.fields["site_use"] = found.ground.site_use
    return _form(slug, season, typed, found, after=after, carried=carried, carry=request.args.get("carry", ""))


@blueprint.post("/year/<slug>/<int:season>/edit")
def change(slug: str, season: int) -> Page:
    """Plan by the form: a first plan is kept at once, any other is shown against the chosen one first."""
    store, typed = here(), year_form.typed_in(request.form)
    after, carry, at = (typed.get(name) for name in ("after", "carry", "at"))
    found: Known | None = None
    try:
        found = _known(slug, season, None, typed)
        wish = year_form.wished(typed, [area.id for area in found.ground.areas])
        try:
            told = read_wish(wish)
        except InputError as error:
            year_form.blame(typed, error.faults)
        if typed.faults:
            return _form(slug, season, typed, found, after=whole(after), carry=carry), 422
        made = _made(slug, season, told, whole(after), carry)
        if not years.mark(store, slug, season):
            plan = years.planned(store, made.asked)
            if plan.relax is None:
                years.keep(store, slug, made, plan, whole(at), now=now())
                return redirect(f"/year/{slug}/{season}?told=planned", code=303)
        waiting = years.try_out(store, slug, made, whole(at), now())
    except InputError as error:
        if found is None:
            return shown(slug, season, faults=error.faults), 422
        year_form.blame(typed, error.faults)
        return _form(slug, season, typed, found, after=whole(after), carry=carry), 422
    except Changed as changed:
        assert found is not None, "what is kept was read before"
        told_of = conflict(changed, [], f"/year/{slug}/{season}")
        return _form(slug, season, typed, found, after=whole(after), carry=carry, told=told_of), 409
    return redirect(f"/year/{slug}/{season}/tried/{waiting.key}", code=303)


@blueprint.get("/year/<slug>/<int:season>/tried/<key>")
def tried(slug: str, season: int, key: str) -> str:
    """A plan that was tried out, against the chosen one."""
    return _tried(_waiting(slug, season, key))


@blueprint.post("/year/<slug>/<int:season>/tried/<key>")
def keep(slug: str, season: int, key: str) -> Page:
    """Keep a plan that was tried out."""
    waiting, choose = _waiting(slug, season, key), request.form.get("choose", "yes") != "no"
    seen = whole(request.form["at"]) if "at" in request.form else waiting.at
    try:
        years.keep_tried(here(), replace(waiting, at=seen), now(), choose=choose)
    except Changed as changed:
        fault = f"{changed}. Below it is compared with what is chosen now; keep it if it is right."
        return _tried(replace(waiting, at=changed.version or 0), fault), 409
    except InputError as error:
        return _tried(waiting, error.faults[0].message), 422
    return redirect(f"/year/{slug}/{season}?told={'kept' if choose else 'beside'}", code=303)


@blueprint.post("/year/<slug>/<int:season>/tried/<key>/loosen")
def loosen(slug: str, season: int, key: str) -> Page:
    """Loosen one constraint of a question that nothing fits, and plan again."""
    waiting, constraint = _waiting(slug, season, key), request.form.get("constraint", "")
    least = next((item.least for item in waiting.plan.relax or () if item.constraint == constraint), None)
    try:
        wish = loosened(wish_of(waiting.asked, waiting.note), constraint, least)
        note = waiting.note.model_copy(update={"said": (*waiting.note.said, f"Loosened: {constraint}.")})
        again = years.try_out(here(), slug, question(here(), slug, season, wish, note), waiting.at, now())
    except InputError as error:
        return _tried(waiting, error.faults[0].message), 422
    return redirect(f"/year/{slug}/{season}/tried/{again.key}", code=303)


@blueprint.get("/year/<slug>/<int:season>/again")
def look_again(slug: str, season: int) -> Page:
    """Where the chosen plan stands on a day, and the visits to come."""
    kept = _chosen(slug, season)
    day, faults = _day_of(request.args.get("from", ""), kept)
    return _again(kept, day, faults)


@blueprint.post("/year/<slug>/<int:season>/again")
def plan_again(slug: str, season: int) -> Page:
    """Plan the rest of a year from a day, and show it against the chosen plan."""
    kept = _chosen(slug, season)
    day, faults = _day_of(request.form.get("from", ""), kept)
    typed = request.form.getlist("day")
    days: list[date] = []
    for place, text in enumerate(typed):
        if text.strip():
            try:
                days.append(date.fromisoformat(text.strip()))
            except ValueError:
                faults[f"d{place}"] = f"'{text[:20]}' is no day; write it as {season}-05-04"
                continue
            if days[-1].year != season or days[-1] < day:
                faults[f"d{place}"] = f"{days[-1]} must lie in {season} and not before {day}, the first day"
    if faults:
        return _again(kept, day, faults, typed), 422
    try:
        made = year_again.again(here(), kept, day, days)
        waiting = years.try_out(here(), slug, made, whole(request.form.get("at", "0")), now())
    except InputError as error:
        return _again(kept, day, {"": "; ".join(f"{f.path}: {f.message}" for f in error.faults)}, typed), 422
    return redirect(f"/year/{slug}/{season}/tried/{waiting.key}", code=303)


def _chosen(slug: str, season: int) -> KeptYear:
    kept = years.chosen(here(), slug, season)
    if kept is None:
        raise UnknownId("plan", str(season), (), f"of {properties.one(here(), slug).property.name}")
    return kept


def _day_of(text: str, kept: KeptYear) -> tuple[date, dict[str, str]]:
    """The day to plan from: that typed, else today, else the first day of the season."""
    usual = date.today() if date.today().year == kept.season else date(kept.season, 1, 1)
    if not text.strip():
        return usual, {}
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        return usual, {"from": f"'{text[:20]}' is no day; write it as {kept.season}-05-04"}
    if day.year != kept.season:
        return usual, {"from": f"{day} must lie in {kept.season}, the year that is planned"}
    return day, {}


def _again(kept: KeptYear, day: date, faults: dict[str, str], typed: Sequence[str] | None = None) -> str:
    stands = year_again.standing(here(), kept, day)
    days = list(typed) if typed is not None else [*(item.isoformat() for item in stands.ahead), ""]
    return render_template(
        "year_again.html",
        slug=kept.property,
        season=kept.season,
        place=properties.one(here(), kept.property).property,
        stands=stands,
        treatment=year_compare.treatment,
        day=day,
        days=days,
        faults=faults,
        mark_at=kept.at,
        area_names={area.id: area.name or area.id for area in kept.asked.areas},
    )


def _carried_from(slug: str, season: int, text: str) -> KeptYear | None:
    return years.chosen(here(), slug, season - 1) if whole(text) == season - 1 else None


def _made(slug: str, season: int, wish: YearWish, after: int, carry: str) -> Question:
    """The question of a wish, with how it came about and what it asks otherwise than the version before."""
    store, before = here(), _carried_from(slug, season, carry)
    if before is not None:
        over = year_again.carried_over(store, before, date.today())
        made = question(store, slug, season, wish, over.note)
        asked = {weed.weed for weed in made.asked.weeds}
        whence = {item.weed.weed: item.text for item in over.weeds if item.weed.weed in asked}
        made = replace(made, note=made.note.model_copy(update={"weeds": {**made.note.weeds, **whence}}))
        return year_again.with_last_year(store, before, made, date.today())
    kept = years.version(store, slug, season, after) if after else None
    if kept is None:
        return question(store, slug, season, wish)
    made = question(store, slug, season, wish, YearNote(how="edited", after=after))
    told = changes(knowledge_service.knowledge_base(), kept.asked, kept.plan, made.asked)
    note = made.note.model_copy(update={"said": (*told, *made.note.said)})
    return replace(made, note=note)


def _waiting(slug: str, season: int, key: str) -> Tried:
    found = years.tried(here(), slug, season, key, now())
    if found is None:
        raise UnknownId("plan that was tried out", key[:40], (), "that still waits; plan again")
    return found


def _tried(waiting: Tried, fault: str = "") -> str:
    before = years.chosen(here(), waiting.property, waiting.season)
    feasible = waiting.plan.relax is None
    return render_template(
        "year_tried.html",
        slug=waiting.property,
        season=waiting.season,
        key=waiting.key,
        at_mark=waiting.at,
        place=properties.one(here(), waiting.property).property,
        plan=waiting.plan,
        note=waiting.note,
        before=before,
        beside=year_compare.beside(before.plan, waiting.plan, waiting.asked.start)
        if before is not None and feasible
        else None,
        area_names={area.id: area.name or area.id for area in waiting.asked.areas},
        numbers={source: number for number, source in enumerate(waiting.plan.sources, start=1)},
        sure=sure_words(waiting.plan),
        signed=signed,
        treatment=year_compare.treatment,
        loosen_words=lambda item: loosen_words(item, waiting.plan.currency),
        fault=fault,
    )


def _known(slug: str, season: int, wish: YearWish | None, typed: Typed | None = None) -> Known:
    """What is kept of a property, for the ground and the first day that are wished."""
    years.checked_season(season)
    if wish is not None:
        return known(here(), slug, season, wish.start, wish.site_use)
    assert typed is not None, "one of them is told"
    told: dict[str, Any] = {"site_use": typed.get("site_use") or None}
    try:
        asked = read_wish({**told, "from": typed.get("from") or None})
    except InputError as error:
        year_form.blame(typed, error.faults)
        return known(here(), slug, season)
    return known(here(), slug, season, asked.start, asked.site_use)


def _form(
    slug: str,
    season: int,
    typed: Typed,
    found: Known,
    *,
    after: int,
    carried: Sequence[str] = (),
    carry: str = "",
    told: Conflict | None = None,
) -> str:
    """The form with what was typed."""
    base, store = knowledge_service.knowledge_base(), here()
    products = shelf_products(store)
    tanks = [f"{p.name} ({names(base, [part.active for part in p.actives])})" for p in products if p.actives]
    actives = [active.name for active in base.actives.values()]
    areas = found.ground.areas
    kept = years.chosen(store, slug, season)
    return render_template(
        "year_form.html",
        slug=slug,
        season=season,
        place=found.property,
        plan=kept is not None,
        typed=typed,
        faults=typed.faults,
        conflict=told,
        label_of=label_of,
        carried=carried,
        carry=carry if _carried_from(slug, season, carry) is not None else "",
        mark_at=years.mark(store, slug, season) if told is not None or request.method == "GET" else typed.get("at"),
        after=after,
        areas=areas,
        area_names={area.id: area.name or area.id for area in areas},
        visit_rows=typed.visits,
        weed_rows=typed.weeds,
        weed_name=weed_name,
        **year_form.lines_of(typed, [area.id for area in areas], {area.id: area.name or area.id for area in areas}),
        tank_parts=TANK,
        ban_rows=BANS,
        hold_words=HELD,
        actives_named=lambda text: names(base, text.split(",")),
        tank_names=[*tanks, *actives],
        active_names=actives,
        weed_choices=sorted((weed.name for weed in base.weed_names.values()), key=str.lower),
        pressures=PRESSURES,
        catalogs=CATALOGS,
        forecasts={item.slug: item.name for item in forecasts.every(store)},
        site_uses={use: base.sites[use].name for use in found.ground.site_uses},
        left_out=found.ground.left_out,
        currency=next((p.currency for p in products if p.packs), ""),
    )


_LABELS = {
    "count": "Visits",
    "budget": "Products of the year, at most",
    "most": "Products a visit, at most",
    "from": "First day that is planned",
    "weeds": "Weeds",
    "site_use": "Which ground",
    "forecast": "Temperatures",
    "catalog": "Made of",
}
_PARTS = {"date": "day", "hold": "what it holds", "tank": "what the tank holds", "not": "not on this visit"}
_OF_WEED = {"weed": "name", "pressure": "pressure", "priority": "weight", "resists": "known to resist"}


def label_of(name: str) -> str:
    """What a field is called in the summary of faults; lines are counted from one."""
    if name.startswith("ban"):
        return "Not this year"
    head, _, rest = name.partition(".")
    if rest and head[1:].isdecimal():
        word, parts = ("Visit", _PARTS) if head[0] == "v" else ("Weed", _OF_WEED)
        return f"{word} {int(head[1:]) + 1}, {parts.get(rest.split('.')[0], rest)}"
    return _LABELS.get(name, name)
