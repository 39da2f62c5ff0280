"""Pages that look over the whole knowledge: the table of weeds and actives, which weed it is, the calibration."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError
from app.engine.matrix import Matrix, MatrixCell, MatrixColumn, MatrixRow
from app.services import advice, calibration, knowledge_service
from app.services.advice import DEFAULT_SITE_USE, DEFAULT_TURF, DEFAULT_ZONE, day_in
from app.web.choices import MONTHS, form_choices

blueprint = Blueprint("survey", __name__)

# From these percentages a figure is drawn as strong, fair or weak; below the last it is as good as nothing.
STRONG, FAIR, WEAK = 80, 50, 10
GROUPS = {"all": "all weeds", "grass-like": "grasses, sedges and bulbs", "broadleaf": "broadleaf weeds"}
LIFE_CYCLES = {
    "summer-annual": "summer annuals",
    "winter-annual": "winter annuals",
    "biennial": "biennials",
    "perennial": "perennials",
}
PURPOSES = {"as-it-stands": "as the weeds stand then", "before-emergence": "before the weeds emerge"}
SHOWN = {"allowed": "actives allowed here", "all": "all actives, also those not allowed"}


@dataclass(frozen=True)
class Sheet:
    """One table of the page: weeds that are alike, against the columns."""

    title: str
    rows: tuple[tuple[MatrixRow, dict[str, MatrixCell]], ...]


@dataclass(frozen=True)
class Arranged:
    """The tables, their columns, and the actives that are left out with what stands against them."""

    columns: tuple[MatrixColumn, ...]
    sheets: tuple[Sheet, ...]
    barred: tuple[MatrixColumn, ...]
    idle: tuple[MatrixColumn, ...]

    @property
    def longest(self) -> int:
        """Rows of the longest table."""
        return max((len(sheet.rows) for sheet in self.sheets), default=0)


def strength(cell: MatrixCell) -> str:
    """How a figure is drawn: strong, fair, weak or none."""
    for word, least in (("strong", STRONG), ("fair", FAIR), ("weak", WEAK)):
        if round(cell.likely) >= least:
            return word
    return "none"


def arranged(found: Matrix, group: str, cycle: str, shown: str) -> Arranged:
    """Choose rows and columns, and drop the columns that do nothing on the rows."""
    rows = [row for row in found.rows if group in ("all", _group(row)) and cycle in ("", row.life_cycle)]
    doing = {cell.active for row in rows for cell in row.cells if strength(cell) != "none"}
    wanted = [c for c in found.columns if c.allowed or shown == "all"]
    columns = tuple(c for c in wanted if c.active in doing)
    sheets = []
    for key, title in (("grass-like", "Grasses, sedges and bulbs"), ("broadleaf", "Broadleaf weeds and moss")):
        part = tuple((row, {cell.active: cell for cell in row.cells}) for row in rows if _group(row) == key)
        if part:
            sheets.append(Sheet(title, part))
    barred = tuple(c for c in found.columns if not c.allowed)
    return Arranged(columns, tuple(sheets), barred, tuple(c for c in wanted if c.active not in doing))


def _group(row: MatrixRow) -> str:
    return "broadleaf" if row.life_form in ("broadleaf", "moss") else "grass-like"


def in_words(
    row: Mapping[str, MatrixCell], columns: tuple[MatrixColumn, ...]
) -> dict[str, list[tuple[str, MatrixCell]]]:
    """A row as lists of names and figures by strength, the best first, for a narrow screen."""
    found: dict[str, list[tuple[str, MatrixCell]]] = {"strong": [], "fair": [], "weak": [], "none": []}
    for column in columns:
        if column.active in row:
            cell = row[column.active]
            found[strength(cell)].append((column.name, cell))
    return {
        word: sorted(part, key=lambda pair: (-round(pair[1].likely), pair[0].lower()))
        for word, part in found.items()
        if part
    }


def _asked(keys: tuple[str, ...]) -> dict[str, str]:
    return {key: request.args.get(key, "").strip() for key in keys}


def _day_of(month: str, today: date) -> str | None:
    """The middle of a month as a date; today where none is told, None where it is no month."""
    if not month:
        return today.isoformat()
    return day_in(int(month), today).isoformat() if month in MONTHS else None


@blueprint.get("/knowledge/matrix")
def matrix() -> str | tuple[str, int]:
    """Weeds by actives on one turf in one season."""
    typed = _asked(("turf", "zone", "month", "site_use", "purpose", "group", "life_cycle", "shown"))
    zone = typed["zone"] or DEFAULT_ZONE
    usual = {
        "zone": zone,
        "turf": DEFAULT_TURF.get(zone, DEFAULT_TURF[DEFAULT_ZONE]),
        "month": str(date.today().month),
        "site_use": DEFAULT_SITE_USE,
        "purpose": "as-it-stands",
        "group": "all",
        "life_cycle": "",
        "shown": "allowed",
    }
    chosen = {key: typed[key] or usual[key] for key in usual}
    faults = {
        key: f"'{chosen[key][:40]}' is not one of the choices"
        for key, known in (
            ("month", MONTHS),
            ("group", GROUPS),
            ("life_cycle", {"": "", **LIFE_CYCLES}),
            ("shown", SHOWN),
        )
        if chosen[key] not in known
    }
    context: dict[str, Any] = {
        "typed": chosen,
        "groups": GROUPS,
        "cycles": LIFE_CYCLES,
        "purposes": PURPOSES,
        "shown_choices": SHOWN,
        **form_choices(knowledge_service.knowledge_base()),
    }
    try:
        day = _day_of(chosen["month"], date.today())
        keys = ("zone", "site_use", "turf", "purpose")
        found = advice.matrix({"date": day or date.today().isoformat(), **{key: chosen[key] for key in keys}})
    except InputError as error:
        faults = {**{fault.path.split(".")[0]: fault.message for fault in error.faults}, **faults}
    if faults:
        return render_template("matrix.html", faults=faults, found=None, table=None, **context), 422
    table = arranged(found, chosen["group"], chosen["life_cycle"], chosen["shown"])
    return render_template(
        "matrix.html", faults={}, found=found, table=table, strength=strength, in_words=in_words, **context
    )


@blueprint.get("/identify")
def identify() -> str | tuple[str, int] | BaseResponse:
    """Which weed is it, from what can be seen."""
    if any(not value for value in request.args.values()):
        return redirect(f"{request.path}?{urlencode([pair for pair in request.args.items() if pair[1]])}")
    base = knowledge_service.knowledge_base()
    typed = {key: value.strip() for key, value in request.args.items()}
    month, zone = typed.get("month", ""), typed.get("zone", "")
    traits = {key: value for key, value in typed.items() if key not in ("month", "zone")}
    payload: dict[str, Any] = {"traits": traits}
    faults: dict[str, str] = {}
    if month or zone:
        day = _day_of(month, date.today())
        if day is None:
            faults["month"] = f"'{month[:20]}' is no month; choose one"
        payload |= {"zone": zone or DEFAULT_ZONE, "date": day or date.today().isoformat()}
    found = None
    try:
        found = advice.identify(payload)
    except InputError as error:
        faults = {**{fault.path.removeprefix("traits."): fault.message for fault in error.faults}, **faults}
    page = render_template(
        "identify.html",
        typed=typed,
        traits=base.traits.values(),
        found=None if faults else found,
        faults=faults,
        told=bool(typed),
        trait_of=base.traits,
        words={(t.id, v.id): v.text for t in base.traits.values() for v in t.values},
        **form_choices(base),
    )
    return (page, 422) if faults else page


@blueprint.get("/knowledge/calibration")
def calibrated() -> str:
    """How near the engine comes to what publications print."""
    return render_template("calibration.html", found=calibration.shipped())
