"""What a treatment of a file of plots is made of: as the file tells it, or as its name is understood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from app.engine.understood import nearest
from app.services.trial_names import Names
from app.trials.trial import CHECK
from knowledge.base import KnowledgeBase

# What rows told, by column, with the line that told it first.
Told = dict[str, tuple[Any, int]]
Fault = tuple[int, str, str]


@dataclass(frozen=True)
class Guessed:
    """What was understood from a treatment's name alone; without actives it is the adjuvant only."""

    trial: str
    treatment: str
    actives: tuple[str, ...]
    adjuvant: str | None


def treatment_of(
    base: KnowledgeBase, names: Names, name: str, told: Told
) -> tuple[dict[str, Any], tuple[tuple[str, ...], str | None] | None, list[Fault], list[str]]:
    """A treatment as plain data, what of it is guessed, its faults, and what is to be said of it."""
    actives = told["actives"][0] if "actives" in told else ()
    stages = {key.split(" ", 1)[1]: value for key, (value, _) in told.items() if key.startswith("stage ")}
    payload: dict[str, Any] = {"name": name, "stages": stages}
    if "applications" in told and name != CHECK:
        payload["applications"] = told["applications"][0]
    if name == CHECK:
        return payload, None, _nothing_on_the_check(told), []
    adjuvant = told["adjuvant"][0] if "adjuvant" in told else None
    guessed, notices = None, []
    if not actives and (guess := names.guess(name)) is not None:
        actives = guess.actives
        guessed = (actives, guess.adjuvant if adjuvant is None else None)
    elif adjuvant is None and (found := names.adjuvant_in(name)) is not None:
        guessed = ((), found)
    named = guessed[1] if guessed is not None else None
    said = names.adjuvant_in(name)
    if adjuvant is not None and said is not None and said != adjuvant:
        notices.append(f"the adjuvant of '{name}' is {adjuvant} by its column, though its name says {said}")
    rates, forms = (told[column][0] if column in told else () for column in ("rate", "form"))
    if not actives:
        notices.append(f"nothing is known of what '{name}' is made of, so it moves no advice{_unkept(told)}")
        return {**payload, "adjuvant": adjuvant or named}, guessed, [], notices
    faults = _unequal(told, len(actives)) or _unknown_forms(base, told, actives)
    made = [
        {"active": active, "rate": _at(rates, index), "form": _at(forms, index)} for index, active in enumerate(actives)
    ]
    return {**payload, "actives": made, "adjuvant": adjuvant or named}, guessed, faults, notices


def _at(values: tuple[Any, ...], index: int) -> Any:
    return values[index] if index < len(values) else None


def _unkept(told: Told) -> str:
    found = [column for column in ("rate", "form") if column in told]
    return f"; its {' and '.join(found)} cannot be kept without actives" if found else ""


def _nothing_on_the_check(told: Told) -> list[Fault]:
    what = f"the check {CHECK} is not treated; leave the cell empty, or name the treatment otherwise"
    return [
        (line, column, what)
        for column, (value, line) in told.items()
        if column in ("actives", "rate", "form", "adjuvant") and value not in ("none", ())
    ]


def _unequal(told: Told, actives: int) -> list[Fault]:
    found = []
    for column, thing in (("rate", "rate"), ("form", "form")):
        values, line = told.get(column, (None, 0))
        if values == ():
            found.append((line, column, "a rate of 0 is that of the check; write more than 0 with its unit"))
        elif values is not None and len(values) != actives:
            counts = f"{_many(len(values), thing)} for {_many(actives, 'active')}"
            found.append((line, column, f"{counts}; write one for each active, a semicolon between two, or NA"))
    return found


def _many(count: int, thing: str) -> str:
    return f"{count} {thing}{'' if count == 1 else 's'}"


def _unknown_forms(base: KnowledgeBase, told: Told, actives: tuple[str, ...]) -> list[Fault]:
    forms, line = told.get("form", ((), 0))
    found = []
    for active, form in zip(actives, forms, strict=False):
        known = [item.id for item in base.actives[active].forms]
        if form is not None and form not in known:
            found.append(
                (line, "form", f"'{form[:40]}' is no form of {active}; nearest: {', '.join(nearest(form, known))}")
            )
    return found
