"""Made-up facts for one rule at a time: a bare active, a bare turf record, and a question on them.

Everything is made from the shipped base, with all that might speak beside the rule taken away, so
that a test states the one threshold that it is about.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from app.engine.doses import Dose
from app.engine.rules import Finding, Question, registered
from app.engine.situation import Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase
from knowledge.models import Active, Tolerance, TurfRate
from knowledge.quantities import parse_quantity
from tests.conftest import plain

ACTIVE, TURF = "2-4-d", "tall-fescue"
RESTS: dict[str, Any] = {"basis": "common-practice", "sources": ["common-practice"]}
_BARE: dict[str, Any] = {
    "timing": ["postemergence"],
    "residual_half_life_days": None,
    "slope": None,
    "limits": [],
    "temperature_shifts": [],
    "air_temperature": [],
    "rainfast_hours": None,
    "carrier_floor": None,
    "adjuvants": [],
    "sites_barred": [],
    "surroundings": [],
    "seedling": [],
    "seeding_interval": [],
    "green_up": [],
}


def fact(**fields: Any) -> dict[str, Any]:
    """A record with a basis and a source."""
    return {**fields, **RESTS}


def with_active(base: KnowledgeBase, key: str = ACTIVE, **changes: Any) -> KnowledgeBase:
    """The base with this active bare of rules but for the changes, given as plain data."""
    told = base.actives[key].model_dump(by_alias=True)
    bare = {**told, **_BARE, **changes}
    return replace(base, actives={**base.actives, key: Active.model_validate(bare)})


def with_form(base: KnowledgeBase, key: str = ACTIVE, **changes: Any) -> KnowledgeBase:
    """The base with this active bare and in one form alone, with the changes."""
    told = base.actives[key].forms[0].model_dump()
    return with_active(base, key, forms=[{**told, **changes}])


def with_tolerance(base: KnowledgeBase, *records: dict[str, Any], turf: str = TURF, key: str = ACTIVE) -> KnowledgeBase:
    """The base in which these records alone say how the turf takes the active."""
    told = base.turf[turf]
    others = tuple(record for record in told.tolerance if record.active != key)
    mine = tuple(Tolerance.model_validate(fact(active=key, **{"class": "T", **record})) for record in records)
    return replace(base, turf={**base.turf, turf: told.model_copy(update={"tolerance": (*others, *mine)})})


def dose(base: KnowledgeBase, rate: str = "1.0 lb ae/acre", key: str = ACTIVE, **changes: Any) -> Dose:
    """A dose of the active, whose usual rates are far enough not to speak."""
    active = base.actives[key]
    amount = parse_quantity(rate)
    usual = TurfRate.model_validate(
        fact(turf=["all"], timing="postemergence", low=f"0.001 {amount.unit}", usual=rate, high=f"9999 {amount.unit}")
    )
    told = {"timing": "postemergence", "level": "alone", "usual": usual, "form": active.forms[0], **changes}
    return Dose(active=active, rate=amount, **told)


def question(
    base: KnowledgeBase, *, of: Dose | None = None, told: dict[str, Any] | None = None, **asked: Any
) -> Question:
    """A question on a dose in the plain situation, with what is told otherwise."""
    understood = understand(Situation.model_validate(plain(**(told or {}))), base)
    return Question(base, understood, of or dose(base), **asked)


def findings(code: str, asked: Question) -> tuple[Finding, ...]:
    """What the rule of this code finds; each finding must read as a sentence."""
    rule = next(item for item in registered() if item.code == code)
    found = tuple(rule.function(asked))
    for finding in found:
        assert finding.code == code
        assert "{" not in finding.sentence(asked.base)
    return found


def outcomes(code: str, asked: Question) -> list[str]:
    """Outcomes of the rule of this code."""
    return [finding.outcome for finding in findings(code, asked)]
