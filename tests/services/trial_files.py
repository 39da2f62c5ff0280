"""Files of plots and random sound trials, for tests of reading and keeping them."""

from __future__ import annotations

import csv
import io
from datetime import date
from typing import Any

from hypothesis import strategies as st

from app.services.knowledge_service import knowledge_base
from app.services.trial_cells import is_blank
from app.services.trial_names import CHECKS, names_in, plain
from app.store.names import name_key
from app.trials.trial import Trial
from knowledge.models.common import ALL_STAGES, SEASONS, STAGES_BY_LIFE_FORM
from knowledge.quantities import RATE_UNITS

BASE = knowledge_base()
NAMES = names_in(BASE)
ROW = {"trial": "Mill Field", "weed": "dandelion", "days_after": "28", "treatment": "2,4-D", "rep": "1"}
ROW["control_pct"] = "80"
FORMS = [(active.id, form.id) for active in BASE.actives.values() for form in active.forms]

_LETTERS = st.sampled_from("+-@'\";,% (aZé中/|") | st.characters(
    codec="utf-8", exclude_categories=["Cs", "Cc", "Cf", "Cn", "Co", "Zs", "Zl", "Zp"]
)


def sheet(*rows: dict[str, str], delimiter: str = ",", headings: tuple[str, ...] = ()) -> str:
    """A file of these rows, each the plain one with changes."""
    whole = [{**ROW, **row} for row in rows]
    told = io.StringIO(newline="")
    names = headings or tuple(dict.fromkeys(name for row in whole for name in row))
    writer = csv.DictWriter(told, names, restval="", delimiter=delimiter, extrasaction="ignore")
    writer.writeheader()
    writer.writerows(whole)
    return told.getvalue()


def trial_sheet(name: str = "Mill Field", reps: int = 4, **changes: str) -> str:
    """A whole small trial of three treatments and a check at two dates."""
    rows = []
    means = {"nontreated": 0, "2,4-D": 70, "triclopyr": 80, "2,4-D + triclopyr": 92}
    for index, (treatment, mean) in enumerate(means.items()):
        for days in (28, 56):
            for rep in range(1, reps + 1):
                control = 0 if not mean else mean + (3 * rep + 5 * index + days) % 7 - 3
                told = {"trial": name, "treatment": treatment, "rep": str(rep), "days_after": str(days)}
                told |= {"rate": "" if not mean else "1 + 0.5 lb ae/acre" if "+" in treatment else "1 lb ae/acre"}
                told |= {"stage": "flowering"}
                rows.append({**told, "control_pct": str(control), **changes})
    return sheet(*rows)


def _name(most: int) -> st.SearchStrategy[str]:
    """Names that are read as they stand: not blank, no check, nothing guessed from them."""
    texts = st.text(_LETTERS, min_size=1, max_size=most).map(lambda text: " ".join(text.split()))
    return texts.filter(lambda text: bool(text) and not is_blank(text) and plain(text) not in CHECKS)


TREATMENT = _name(30).filter(lambda text: NAMES.guess(text) is None and NAMES.adjuvant_in(text) is None)
WEED = st.sampled_from(sorted(BASE.weed_names)) | _name(20).filter(lambda text: not NAMES.weed(text))


def _unique(names: st.SearchStrategy[str], most: int) -> st.SearchStrategy[list[str]]:
    return st.lists(names, min_size=1, max_size=most, unique_by=name_key)


def _figures(most: float) -> st.SearchStrategy[float]:
    return st.floats(0, most, allow_subnormal=False) | st.sampled_from([0.0, 12.5, 100 / 3])


@st.composite
def _treatments(draw: st.DrawFn, weeds: list[str]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = [{"name": "nontreated"}] if draw(st.booleans()) else []
    for name in draw(_unique(TREATMENT, 4)):
        pairs = draw(st.lists(st.sampled_from(FORMS), max_size=3, unique_by=lambda pair: pair[0]))
        rate = st.fixed_dictionaries({"value": _figures(1e6).filter(bool), "unit": st.sampled_from(RATE_UNITS)})
        actives = [
            {"active": active, "form": draw(st.sampled_from([None, form])), "rate": draw(st.none() | rate)}
            for active, form in pairs
        ]
        adjuvant = draw(st.none() | st.sampled_from(sorted(BASE.adjuvants)))
        found.append(
            {
                "name": name,
                "actives": actives,
                "adjuvant": adjuvant,
                "applications": draw(st.integers(1, 12)),
            }
        )
    for treatment in found:
        stages = {
            weed: draw(
                st.sampled_from(STAGES_BY_LIFE_FORM[BASE.weeds[weed].life_form] if weed in BASE.weeds else ALL_STAGES)
            )
            for weed in weeds
            if draw(st.booleans())
        }
        treatment["stages"] = stages
    return found


@st.composite
def trials(draw: st.DrawFn, names: st.SearchStrategy[str] | None = None) -> Trial:
    """Sound trials that a file can hold: every treatment is rated on every weed, and there are no notes."""
    weeds = draw(_unique(WEED, 3))
    treatments = draw(_treatments(weeds))
    reps, days = draw(_unique(_name(8), 3)), draw(st.lists(st.integers(0, 730), min_size=1, max_size=3, unique=True))
    percent = st.none() | _figures(100)
    plots = [
        {
            "weed": weed,
            "days_after": day,
            "treatment": treatment["name"],
            "rep": rep,
            **{name: draw(percent) for name in ("control_pct", "injury_pct", "cover_pct", "cover_before_pct")},
        }
        for treatment in treatments
        for weed in weeds
        for day in days
        for rep in reps
    ]
    told: dict[str, Any] = {
        "name": draw(names or _name(40)),
        "kind": draw(st.sampled_from(["plots", "lawns"])),
        "design": draw(st.sampled_from([None, "rcbd", "crd"])),
        "place": draw(st.just("") | _name(20)),
        "applied": draw(st.none() | st.dates(date(2000, 1, 1), date(2100, 12, 31)).map(date.isoformat)),
        "season": draw(st.none() | st.sampled_from(SEASONS)),
        "turf": draw(st.none() | st.sampled_from(sorted(BASE.turf))),
        "treatments": treatments,
        "plots": plots,
    }
    return Trial.model_validate(told)
