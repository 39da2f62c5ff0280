"""Use cases of trials: kept ones listed, analysed, changed and removed; files analysed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from importlib import resources
from typing import Any

from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.house import Observed
from app.engine.understood import nearest
from app.services.csv_text import decoded
from app.services.knowledge_service import knowledge_base
from app.services.lawn_rating import LawnRatingInput, with_rating
from app.services.trial_checks import analysed
from app.services.trial_csv import no_faults, read_trials
from app.services.trial_import import confirm, document_of, evidence_rows, kept_trial, missing_plots
from app.services.trial_names import names_in
from app.services.trial_pictures import picture_of
from app.services.trial_treatments import Guessed
from app.services.validation import validated
from app.store import trials as kept
from app.store.names import name_key
from app.store.opening import Store
from app.trials.analysis import report, weed_name
from app.trials.answer import answer
from app.trials.evidence import Silent, silent
from app.trials.output import Synthesis, TrialAnswer, TrialReport
from app.trials.pictures import Picture, forest
from app.trials.synthesis import synthesis as pool
from app.trials.trial import CHECK, Design, Kind, Trial

_DEMO = ("demo_data", "trials")


@dataclass(frozen=True)
class Listed:
    """A trial in the list; `moves` is how many records of the knowledge base it adds to."""

    slug: str
    name: str
    kind: Kind
    place: str
    applied: date | None
    weeds: tuple[str, ...]
    dates: tuple[int, ...]
    treatments: int
    plots: int
    missing: int
    moves: int
    version: int
    changed_at: datetime


@dataclass(frozen=True)
class KeptTrial:
    """A trial with what it adds to the records of the knowledge base, and which treatments add nothing."""

    trial: Trial
    slug: str
    version: int
    changed_at: datetime
    evidence: tuple[Observed, ...]
    silent: tuple[Silent, ...]


def listing(store: Store) -> tuple[Listed, ...]:
    """Every kept trial, by name."""
    with store.reading() as session:
        stored = kept.every(session)
    return tuple(_listed(item) for item in stored)


def _listed(stored: kept.Stored) -> Listed:
    base, trial = knowledge_base(), kept_trial(stored)
    return Listed(
        stored.slug,
        trial.name,
        trial.kind,
        trial.place,
        trial.applied,
        tuple(weed_name(base, weed) for weed in trial.weeds),
        tuple(sorted({plot.days_after for plot in trial.plots})),
        len(trial.treatments),
        len(trial.plots),
        missing_plots(trial),
        len(stored.evidence),
        stored.version,
        stored.changed_at,
    )


def one(store: Store, slug: str) -> KeptTrial:
    """A kept trial.

    Raises
    ------
    UnknownId
        With the three nearest, when there is none of that id.
    """
    return _kept(_stored(store, slug))


def _stored(store: Store, slug: str) -> kept.Stored:
    with store.reading() as session:
        try:
            return kept.by_slug(session, slug)
        except UnknownId:
            known = [key for key, _, _ in kept.evidence(session)]
            raise UnknownId("trial", slug, nearest(slug, known), "that is kept") from None


def _kept(stored: kept.Stored) -> KeptTrial:
    trial = kept_trial(stored)
    untold = silent(knowledge_base(), trial)
    evidence = tuple(Observed.model_validate({**row, "trial": stored.slug}) for row in stored.evidence)
    return KeptTrial(trial, stored.slug, stored.version, stored.changed_at, evidence, untold)


def every_trial(store: Store) -> tuple[Trial, ...]:
    """Every kept trial whole, by name."""
    with store.reading() as session:
        return tuple(kept_trial(item) for item in kept.every(session))


def report_of(store: Store, slug: str, alpha: float = 0.05) -> TrialReport:
    """The analysis of a kept trial.

    Raises
    ------
    UnknownId
        When there is none of that id.
    InputError
        For an alpha out of range.
    """
    return reported(one(store, slug), alpha)


def reported(held: KeptTrial, alpha: float = 0.05) -> TrialReport:
    """The analysis of a trial that was read already.

    Raises
    ------
    InputError
        For an alpha out of range.
    """
    return report(knowledge_base(), held.trial, alpha)


def picture(
    store: Store,
    slug: str,
    what: str,
    weed: str,
    days_after: int | None = None,
    *,
    curve: int = 1,
    alpha: float = 0.05,
) -> Picture:
    """A picture of a kept trial; see `trial_pictures.picture_of`.

    Raises
    ------
    UnknownId
        When there is no such trial, or it holds no such weed, date or curve.
    InputError
        For an alpha out of range, or what is no picture.
    """
    return picture_of(kept_trial(_stored(store, slug)), what, weed, days_after, curve, alpha)


def synthesis(
    store: Store,
    weed: str,
    treatment: str,
    against: str | None = None,
    days_after: int | None = None,
    alpha: float = 0.05,
) -> Synthesis:
    """Pool what the kept trials say of a treatment, or of two against each other.

    Parameters
    ----------
    weed : str
        Its id or any exact name; a weed that the knowledge base does not hold as the trials name it.

    Raises
    ------
    InputError
        For a weed or treatment that no kept trial has, with the nearest, or fewer than two trials of the question.
    """
    base, told = knowledge_base(), every_trial(store)
    known = names_in(base).weed(weed)
    key = known[0] if len(known) == 1 else weed.strip()
    with_it = [trial for trial in told if key in trial.weeds]
    faults = []
    if told and not with_it:
        faults.append(_in_no_trial("weed", "weed", weed, {item for trial in told for item in trial.weeds}))
    names = {item.name for trial in with_it for item in trial.treatments}
    folded = {name_key(name) for name in names}
    for field, name in (("treatment", treatment), ("against", against)):
        if with_it and name is not None and name_key(name) not in folded and name_key(name) != CHECK:
            faults.append(_in_no_trial(field, "treatment", name, names))
    if faults:
        raise InputError(faults)
    return pool(base, told, key, treatment.strip(), against.strip() if against else None, days_after, alpha)


def _in_no_trial(field: str, what: str, name: str, known: set[str]) -> FieldFault:
    near = ", ".join(nearest(name, known))
    return FieldFault(field, f"'{name[:80]}' is no {what} of a trial that is kept; nearest: {near}")


def synthesis_picture(
    store: Store,
    weed: str,
    treatment: str,
    against: str | None = None,
    days_after: int | None = None,
    alpha: float = 0.05,
) -> Picture:
    """The picture of several trials; raises what `synthesis` raises."""
    return forest(synthesis(store, weed, treatment, against, days_after, alpha))


def change(store: Store, slug: str, payload: Any, version: int) -> KeptTrial:
    """Change a trial that stands at a version.

    Parameters
    ----------
    payload : dict
        The trial as plain data; without `plots` those that are kept stay.

    Raises
    ------
    InputError
        With every field at fault, or why its plots cannot be analysed.
    Changed
        When somebody else changed or removed it meanwhile; nothing is stored.
    UnknownId
        When there is none of that id.
    """
    stored = _stored(store, slug)
    if isinstance(payload, dict) and "plots" not in payload:
        payload = {**payload, "plots": stored.document["plots"]}
    trial = checked(payload)
    rows = evidence_rows(knowledge_base(), trial)
    with store.session() as session:
        now = datetime.now(UTC)
        return _kept(kept.update(session, slug, trial.name, document_of(trial), rows, version, now))


def checked(payload: Any) -> Trial:
    """A trial given as plain data, as one that can be analysed.

    Raises
    ------
    InputError
        With every field at fault, or why its plots cannot be analysed.
    """
    trial = validated(Trial, payload)
    analysed(knowledge_base(), trial)
    return trial


def remove(store: Store, slug: str, version: int) -> None:
    """Forget a trial that stands at a version.

    Raises
    ------
    Changed
        When somebody else changed or removed it meanwhile.
    """
    with store.session() as session:
        kept.delete(session, slug, version)


def add_rating(store: Store, payload: Any) -> KeptTrial:
    """Keep a follow-up rating of a treated lawn, in the trial of its name or in a new one.

    Raises
    ------
    InputError
        With every field at fault; nothing is stored.
    Changed
        When somebody else changed that trial in the same moment.
    """
    return add_ratings(store, [payload])


def add_ratings(store: Store, payloads: Sequence[Any]) -> KeptTrial:
    """Keep ratings of several lawns that were treated alike: all of them, or none.

    Raises
    ------
    InputError
        With every field at fault, of the first rating that cannot be used; nothing is stored.
    Changed
        When somebody else changed that trial in the same moment.
    """
    ratings = [validated(LawnRatingInput, payload) for payload in payloads]
    base, name = knowledge_base(), ratings[0].gathered_as
    with store.session() as session:
        same = [item for item in kept.every(session) if name_key(item.name) == name_key(name)]
        trial = kept_trial(same[0]) if same else None
        for rating in ratings:
            trial = with_rating(rating, trial)
        assert trial is not None, "there is a rating"
        analysed(base, trial)
        document, rows, now = document_of(trial), evidence_rows(base, trial), datetime.now(UTC)
        if same:
            return _kept(kept.update(session, same[0].slug, trial.name, document, rows, same[0].version, now))
        (stored,) = kept.insert(session, [(trial.name, document, rows)], now)
        return _kept(stored)


def analyse_csv(
    text: str, alpha: float = 0.05, columns: dict[str, str] | None = None, design: Design | None = None
) -> TrialAnswer:
    """Analyse every trial of a file of plots; nothing is stored.

    Raises
    ------
    InputError
        Where a row cannot be used, a trial cannot be analysed, or alpha is out of range.
    """
    read = read_trials(text, columns, design)
    no_faults(read)
    notices = [*read.notices, *(guess_said(item) for item in read.guessed)]
    if read.ignored:
        notices.append(f"columns that are not read: {', '.join(read.ignored)}")
    return answer(knowledge_base(), read.trials, alpha, notices)


def guess_said(guessed: Guessed) -> str:
    """In words, what was understood from a treatment's name alone."""
    base = knowledge_base()
    made = " + ".join(base.actives[key].name for key in guessed.actives)
    adjuvant = base.adjuvants[guessed.adjuvant].name if guessed.adjuvant is not None else ""
    what = f"{made} with {adjuvant}" if made and adjuvant else made or f"sprayed with {adjuvant}"
    return f"{guessed.trial}: by its name alone, '{guessed.treatment}' is taken for {what}"


def fill_demo(store: Store) -> int:
    """Keep the invented trials of the demo where no trial is kept; how many."""
    with store.reading() as session:
        if kept.evidence(session):
            return 0
    folder = resources.files(_DEMO[0]).joinpath(_DEMO[1])
    files = sorted((item for item in folder.iterdir() if item.name.endswith(".csv")), key=lambda item: item.name)
    return sum(len(confirm(store, decoded(item.read_bytes())).new) for item in files)
