"""The register of rules: each a small pure function with the code of its text in the facts."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Literal

from app.engine.doses import Dose
from app.engine.understood import Understood
from knowledge.base import KnowledgeBase
from knowledge.models import Citation

# Room for the rounding of unit conversions, not for a higher rate.
ROUNDING = 1 + 1e-9

Outcome = Literal["stop", "warning", "caution", "info", "unknown"]
Scope = Literal["dose", "adjuvant", "pair", "repeat"]


@dataclass(frozen=True)
class Finding:
    """What a rule found. Silence means that the rule passes.

    Attributes
    ----------
    code : str
        Code of the rule.
    outcome : str
        `stop` removes the candidate; `warning`, `caution` and `info` inform; `unknown` names in
        `settled_by` the field of the situation that would settle it.
    values : dict
        What the sentence of this outcome is filled with.
    sources : tuple of Citation
        The facts it rests on.
    """

    code: str
    outcome: Outcome
    values: dict[str, str]
    sources: tuple[Citation, ...] = ()
    settled_by: str | None = None

    def sentence(self, base: KnowledgeBase) -> str:
        """The sentence a technician reads, from the rule's text."""
        said = base.rules[self.code].sentences[self.outcome].format(**self.values)
        return said[:1].upper() + said[1:]

    @property
    def severity(self) -> str:
        """Severity as a caution: an unknown is a caution until it is settled."""
        return "caution" if self.outcome == "unknown" else self.outcome

    def merged_key(self) -> tuple[str, str, str]:
        """Equal for findings that say the same."""
        return (self.code, self.outcome, repr(sorted(self.values.items())))


@dataclass(frozen=True)
class Question:
    """What a rule is asked about: a dose in a situation, with what it depends on.

    `adjuvant` is given to rules of scope `adjuvant`, `partner` to those of scope `pair`, and
    `repeats` and `last_day` tell a program's number of applications of this dose and the day
    of the last one, for those of scope `repeat`; `planned` is the total that the program brings of
    the active [g/ha], where it is not `repeats` times this dose.
    """

    base: KnowledgeBase
    understood: Understood
    dose: Dose
    adjuvant: str = "none"
    partner: Dose | None = None
    repeats: int = 1
    planned: float | None = None
    last_day: int = 0

    @property
    def last_date(self) -> str:
        """Date of the last application, ISO."""
        return (self.understood.situation.date + timedelta(days=self.last_day)).isoformat()

    @property
    def named(self) -> dict[str, str]:
        """Names every sentence may use."""
        return {"active": self.dose.active.name, "form": self.dose.form.name, "rate": str(self.dose.rate)}


RuleFunction = Callable[[Question], Iterator[Finding]]


@dataclass(frozen=True)
class RegisteredRule:
    """A rule with its code and scope."""

    code: str
    scope: Scope
    function: RuleFunction


_RULES: list[RegisteredRule] = []


def rule(code: str, scope: Scope) -> Callable[[RuleFunction], RuleFunction]:
    """Register a rule under the code of its text in the facts."""

    def register(function: RuleFunction) -> RuleFunction:
        _RULES.append(RegisteredRule(code, scope, function))
        return function

    return register


def registered(scope: Scope | None = None) -> tuple[RegisteredRule, ...]:
    """Every rule, or those of one scope, in the order in which they were written."""
    return tuple(item for item in _RULES if scope is None or item.scope == scope)


def ask(question: Question, scope: Scope) -> tuple[Finding, ...]:
    """What the rules of one scope find."""
    return tuple(finding for item in registered(scope) for finding in item.function(question))
