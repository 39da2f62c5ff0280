"""Importing a file of plots: first a preview of every trial, then all of it or nothing."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

from app.engine.errors import InputError
from app.engine.house import Observed
from app.services.csv_text import refused
from app.services.knowledge_service import knowledge_base
from app.services.trial_checks import analysed
from app.services.trial_csv import ReadTrials, RowFault, no_faults, read_trials
from app.services.trial_treatments import Guessed
from app.store import pending
from app.store import trials as kept
from app.store.changed import Changed
from app.store.names import name_key
from app.store.opening import Store
from app.trials.analysis import weed_name
from app.trials.design import design_of
from app.trials.evidence import Silent, observations, silent
from app.trials.trial import Design, TreatedWith, Trial
from knowledge.base import KnowledgeBase

Status = Literal["new", "changed", "unchanged"]
_NAMED = 3
_NONE: tuple[Observed, ...] = ()


@dataclass(frozen=True)
class Understood:
    """What a treatment is understood to be made of; `guessed` where that is from its name alone."""

    name: str
    actives: tuple[TreatedWith, ...]
    adjuvant: str | None
    applications: int
    stages: dict[str, str]
    is_check: bool
    guessed: bool


@dataclass(frozen=True)
class TrialPreview:
    """A trial of the file and what importing it would do.

    Attributes
    ----------
    status : str
        Whether a trial of that name is kept already, and with the same plots.
    slug, version : str, int
        Id and version of the trial of that name; empty and 0 where there is none.
    weeds : tuple of (str, str, bool)
        Each weed as the plots name it, its name, and whether the knowledge base holds it.
    design : str
        The design found, in words.
    missing : int
        Plots without any rating.
    moves : tuple of Observed
        What it would add to the records of the knowledge base.
    silent : tuple of Silent
        Treatments that add nothing, and why.
    fault : str
        Why it cannot be analysed; empty where it can.
    """

    trial: Trial
    status: Status
    slug: str
    version: int
    weeds: tuple[tuple[str, str, bool], ...]
    dates: tuple[int, ...]
    treatments: tuple[Understood, ...]
    design: str
    plots: int
    missing: int
    moves: tuple[Observed, ...]
    silent: tuple[Silent, ...]
    fault: str


@dataclass(frozen=True)
class Preview:
    """What importing a file of plots would do."""

    trials: tuple[TrialPreview, ...]
    faults: tuple[RowFault, ...]
    ignored: tuple[str, ...]
    columns: dict[str, str]
    guessed: tuple[Guessed, ...]
    notices: tuple[str, ...]

    @property
    def seen(self) -> dict[str, int]:
        """The versions that were looked at, by id; they are given back on confirmation."""
        return {found.slug: found.version for found in self.trials if found.slug}

    @property
    def usable(self) -> bool:
        """Whether the whole file can be imported."""
        return not self.faults and not any(found.fault for found in self.trials)


@dataclass(frozen=True)
class Imported:
    """Ids of the trials that are new, that were replaced, and that were found unchanged.

    `outcomes` says the same of each trial of the file, in its order: somebody else may have kept one
    since its preview.
    """

    new: tuple[str, ...]
    replaced: tuple[str, ...]
    unchanged: tuple[str, ...]
    outcomes: tuple[tuple[Status, str], ...]


@dataclass(frozen=True)
class PendingTrials:
    """A file that waits for its confirmation, with what was told about it and the versions that were seen."""

    text: str
    columns: dict[str, str]
    design: Design | None
    seen: dict[str, int]


def preview(store: Store, text: str, columns: Mapping[str, str] | None = None, design: Design | None = None) -> Preview:
    """What importing a file of plots would do; nothing is stored.

    Raises
    ------
    InputError
        When the file as a whole cannot be used.
    """
    read = read_trials(text, columns, design)
    with store.reading() as session:
        return _preview(read, kept.every(session))


def confirm(
    store: Store,
    text: str,
    columns: Mapping[str, str] | None = None,
    seen: dict[str, int] | None = None,
    *,
    design: Design | None = None,
    replace: bool = False,
) -> Imported:
    """Import a file of plots: all of its trials or none.

    Parameters
    ----------
    seen : dict of str to int, optional
        `Preview.seen` of the preview that was looked at; what differs now was changed by somebody else.
    replace : bool
        Whether a trial of a name that is kept already is replaced; otherwise it blocks the whole file.

    Raises
    ------
    InputError
        When a row cannot be used, a trial cannot be analysed, or one is kept already and not to be replaced.
    Changed
        When somebody else changed or removed meanwhile what the file speaks of.
    """
    read = read_trials(text, columns, design)
    no_faults(read)
    # What takes long is done before the database is locked.
    moves = {trial.name: _moves(trial) for trial in read.trials}
    now = datetime.now(UTC)
    with store.session() as session:
        stored = {name_key(item.name): item for item in kept.every(session)}
        if seen is not None:
            _same_as_seen(read, stored, seen)
        fresh, replaced, unchanged = [], [], []
        for trial in read.trials:
            match = stored.get(name_key(trial.name))
            if match is None:
                fresh.append((trial.name, document_of(trial), moves[trial.name]))
            elif _same(match, trial):
                unchanged.append(match.slug)
            elif replace:
                # Notes have no column, so replacing the plots leaves them.
                document = {**document_of(trial), "notes": match.document.get("notes", "")}
                kept.update(session, match.slug, trial.name, document, moves[trial.name], match.version, now)
                replaced.append(match.slug)
            else:
                how = "tell to replace it, or give the trial another name"
                raise refused(f"a trial named {match.name} is kept already, with other plots; {how}")
        new = kept.insert(session, fresh, now) if fresh else ()
    made = iter(new)
    outcomes: list[tuple[Status, str]] = []
    for trial in read.trials:
        match = stored.get(name_key(trial.name))
        if match is None:
            outcomes.append(("new", next(made).slug))
        else:
            outcomes.append(("unchanged" if match.slug in unchanged else "changed", match.slug))
    return Imported(tuple(item.slug for item in new), tuple(replaced), tuple(unchanged), tuple(outcomes))


def document_of(trial: Trial) -> dict[str, Any]:
    """A trial as it is kept; its name stands beside it."""
    return trial.model_dump(mode="json", exclude={"name"}, exclude_none=True)


def kept_trial(stored: kept.Stored) -> Trial:
    """The trial of a kept document."""
    return Trial.model_validate({**stored.document, "name": stored.name})


def evidence_rows(base: KnowledgeBase, trial: Trial) -> list[dict[str, Any]]:
    """What a trial adds to the records of the knowledge base, as it is kept; without its id, which it may not have."""
    return [item.model_dump(mode="json") for item in observations(base, trial)]


def keep_pending(
    store: Store, text: str, found: Preview, columns: Mapping[str, str] | None = None, design: Design | None = None
) -> str:
    """Keep an uploaded file until it is confirmed; the key under which it is found."""
    told = {"text": text, "columns": dict(columns or {}), "design": design}
    with store.session() as session:
        return pending.keep(session, json.dumps(told, ensure_ascii=False), found.seen, datetime.now(UTC), kind="trials")


def pending_file(store: Store, key: str) -> PendingTrials:
    """An uploaded file that waits for its confirmation.

    Raises
    ------
    InputError
        When it waited too long or was confirmed already.
    """
    with store.reading() as session:
        found = pending.found(session, key, datetime.now(UTC), kind="trials")
    if found is None:
        raise refused("the file waited longer than two hours, or was imported already; choose it again")
    told = json.loads(found.text)
    return PendingTrials(told["text"], told["columns"], told["design"], found.seen)


def forget_pending(store: Store, key: str) -> None:
    """Forget an uploaded file."""
    with store.session() as session:
        pending.forget(session, key, kind="trials")


def _moves(trial: Trial) -> list[dict[str, Any]]:
    base = knowledge_base()
    try:
        analysed(base, trial)
    except InputError as error:
        raise refused(_unfit(trial, error)) from error
    return evidence_rows(base, trial)


def _unfit(trial: Trial, error: InputError) -> str:
    said = error.faults[0].message
    return said if said.startswith(trial.name) else f"{trial.name}: {said}"


def _same(stored: kept.Stored, trial: Trial) -> bool:
    # What the file cannot tell is not at odds with it.
    return kept_trial(stored).model_copy(update={"notes": "", "name": trial.name}) == trial


def _preview(read: ReadTrials, stored: Iterable[kept.Stored]) -> Preview:
    by_name = {name_key(item.name): item for item in stored}
    guessed = {(item.trial, item.treatment) for item in read.guessed}
    trials = tuple(_of_trial(trial, by_name.get(name_key(trial.name)), guessed) for trial in read.trials)
    return Preview(trials, read.faults, read.ignored, read.columns, read.guessed, read.notices)


def _of_trial(trial: Trial, match: kept.Stored | None, guessed: set[tuple[str, str]]) -> TrialPreview:
    base = knowledge_base()
    fault, moves, untold = "", _NONE, silent(base, trial)
    try:
        analysed(base, trial)
        moves = observations(base, trial)
    except InputError as error:
        fault = _unfit(trial, error)
    status: Status = "new" if match is None else "unchanged" if _same(match, trial) else "changed"
    treatments = tuple(
        Understood(
            treatment.name,
            treatment.actives,
            treatment.adjuvant,
            treatment.applications,
            treatment.stages,
            treatment.is_check,
            (trial.name, treatment.name) in guessed,
        )
        for treatment in trial.treatments
    )
    return TrialPreview(
        trial=trial,
        status=status,
        slug=match.slug if match is not None else "",
        version=match.version if match is not None else 0,
        weeds=tuple((weed, weed_name(base, weed), weed in base.weed_names) for weed in trial.weeds),
        dates=tuple(sorted({plot.days_after for plot in trial.plots})),
        treatments=treatments,
        design=design_of([(plot.treatment, plot.rep) for plot in trial.plots], trial.design)[1],
        plots=len(trial.plots),
        missing=missing_plots(trial),
        moves=moves,
        silent=untold,
        fault=fault,
    )


def missing_plots(trial: Trial) -> int:
    """How many plots have neither control nor cover at their date."""
    return sum(plot.control_pct is None and plot.cover_pct is None for plot in trial.plots)


def _same_as_seen(read: ReadTrials, stored: dict[str, kept.Stored], seen: dict[str, int]) -> None:
    """Refuse where a trial that the file speaks of is not what its preview saw."""
    now = {item.slug: item for trial in read.trials if (item := stored.get(name_key(trial.name))) is not None}
    other = [item for item in now.values() if seen.get(item.slug) != item.version]
    gone = [slug for slug in seen if slug not in now]
    if not other and not gone:
        return
    names = [item.name for item in other] + gone
    shown = ", ".join(names[:_NAMED]) + (f" and {len(names) - _NAMED} more" if len(names) > _NAMED else "")
    document = {**other[0].document, "name": other[0].name} if other else None
    raise Changed("trial", other[0].slug if other else gone[0], shown, document, other[0].version if other else None)
