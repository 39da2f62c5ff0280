"""Trials that are kept or imported, as text for people, at eighty columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from app.engine.house import Observed
from app.services.trial_shapes import SilentTold, TrialEntry, TrialImportAnswer, TrialKept, TrialListing, TrialTold
from app.text import wrapped
from app.trials.trial import TreatedWith, Treatment

_MOST_LISTED = 40


def listing_text(found: TrialListing) -> str:
    """Every trial with what it holds."""
    if not found.trials:
        return "No trial is kept. Import a file of plots: swardwright trials import FILE\n"
    return "\n".join(line for entry in found.trials for line in _entry(entry)) + "\n"


def _entry(entry: TrialEntry) -> Iterator[str]:
    yield wrapped(entry.id if entry.name == entry.id else f"{entry.id}: {entry.name}")
    applied = f"applied {entry.applied.isoformat()}" if entry.applied is not None else ""
    where = [part for part in ("treated lawns" if entry.kind == "lawns" else "", entry.place, applied) if part]
    held = [
        ", ".join(entry.weeds),
        f"{', '.join(map(str, entry.dates))} days after application",
        f"{counted(entry.treatments, 'treatment')}, {counted(entry.plots, 'rating')}",
    ]
    if entry.missing:
        held.append(f"{entry.missing} without a rating")
    yield wrapped("; ".join((*where, *held, _moved(entry.moves))), "  ", "    ")


def _moved(count: int) -> str:
    return f"adds {counted(count, 'figure')} to the records" if count else "moves no advice"


def counted(number: int, what: str) -> str:
    """A number of things, in words.

    >>> counted(1, "plot"), counted(2, "plot")
    ('1 plot', '2 plots')
    """
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def trial_text(kept: TrialKept) -> str:
    """What a trial holds, what it adds to the records of the knowledge base, and what adds nothing."""
    return "\n".join(_trial(kept)) + "\n"


def _trial(kept: TrialKept) -> Iterator[str]:
    trial = kept.trial
    yield wrapped(trial.name if trial.name == kept.id else f"{trial.name} ({kept.id})")
    told = (
        ("place", trial.place),
        ("applied", trial.applied.isoformat() if trial.applied is not None else ""),
        ("season", trial.season or ""),
        ("turf", trial.turf or ""),
        ("design", trial.design or ""),
        ("notes", " ".join(trial.notes.split())),
    )
    yield from (wrapped(f"{name}: {text}", "  ", "    ") for name, text in told if text)
    weeds = ", ".join(f"{weed} at {', '.join(map(str, trial.dates(weed)))} days" for weed in trial.weeds)
    yield wrapped(f"{counted(len(trial.plots), 'rating')}: {weeds} after application", "  ", "    ")
    yield "Treatments"
    yield from (wrapped(_made_of(treatment), "  - ", "    ") for treatment in trial.treatments)
    yield from _effect(kept.evidence, kept.silent)


def _made_of(treatment: Treatment) -> str:
    if treatment.is_check:
        return f"{treatment.name}: the check"
    adjuvant = f", {treatment.adjuvant}" if treatment.adjuvant not in (None, "none") else ""
    made = " + ".join(map(_dose, treatment.actives)) or "what it is made of is not told"
    often = f", {treatment.applications} times" if treatment.applications > 1 else ""
    return f"{treatment.name}: {made}{adjuvant}{often}"


def _dose(part: TreatedWith) -> str:
    rate = f" {part.rate.value:g} {part.rate.unit}" if part.rate is not None else ""
    return f"{part.form or part.active}{rate}"


def _effect(evidence: Iterable[Observed], silent: Iterable[SilentTold]) -> Iterator[str]:
    """What moves the advice, and what does not."""
    moved = [
        f"{item.active} {item.rate.value:g} {item.rate.unit} on {item.weed} ({item.stage}), "
        f"{item.days_after} days after: {item.control_pct:.0f} % control"
        for item in evidence
    ]
    if moved:
        yield "Adds to the records"
        yield from (wrapped(line, "  - ", "    ") for line in moved[:_MOST_LISTED])
    if len(moved) > _MOST_LISTED:
        yield f"  - and {len(moved) - _MOST_LISTED} more; --json tells all of them"
    untold = list(silent)
    if untold:
        yield "Adds nothing"
        lines = [f"{item.treatment} on {item.weed}: {item.why}" for item in untold]
        yield from (wrapped(line, "  - ", "    ") for line in lines[:_MOST_LISTED])


def import_text(found: TrialImportAnswer) -> str:
    """What a file of plots does: each trial, every row at fault, what was understood."""
    return "\n".join(_import(found)) + "\n"


def _import(found: TrialImportAnswer) -> Iterator[str]:
    for trial in found.trials:
        yield from _told(trial)
    faults = [f"line {item.line}{f', {item.column}' if item.column else ''}: {item.message}" for item in found.faults]
    yield from (wrapped(line, "", "  ") for line in faults[:_MOST_LISTED])
    if len(faults) > _MOST_LISTED:
        yield f"and {len(faults) - _MOST_LISTED:,} more rows that cannot be used"
    yield from (wrapped(notice, "  - ", "    ") for notice in found.notices)
    if found.ignored:
        yield wrapped(f"columns that are not read: {', '.join(found.ignored)}", "  - ", "    ")
    counts = f"{found.new} new, {found.changed} changed, {found.unchanged} unchanged"
    bad = f", {found.bad} that cannot be used and block the file" if found.bad else ""
    yield wrapped(f"{counts}{bad}: {_ending(found)}.")


def _ending(found: TrialImportAnswer) -> str:
    if found.stored:
        return "imported"
    if found.bad:
        return "nothing is stored; correct the file"
    replace = " and --replace" if found.changed else ""
    return f"nothing is stored yet; add --confirm{replace} to import"


def _told(trial: TrialTold) -> Iterator[str]:
    id_ = f" ({trial.id})" if trial.id and trial.id != trial.name else ""
    yield wrapped(f"{trial.name}{id_}: {trial.status}")
    if trial.fault:
        yield wrapped(f"cannot be analysed: {trial.fault}", "  ", "    ")
    weeds = ", ".join(weed.name for weed in trial.weeds)
    held = f"{weeds}; {', '.join(map(str, trial.dates))} days after application; {counted(trial.plots, 'rating')}"
    yield wrapped(f"{held}{f', {trial.missing} missing' if trial.missing else ''}. {trial.design}", "  ", "    ")
    yield wrapped(f"{_moved(len(trial.moves))}", "  ")
    for item in trial.silent:
        yield wrapped(f"{item.treatment} on {item.weed} adds nothing: {item.why}", "  ", "    ")
