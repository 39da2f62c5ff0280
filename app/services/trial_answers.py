"""What the API and the command line ask of trials, and what they are answered."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.services import trial_import, trials
from app.services.trial_import import Imported, Preview, Status, TrialPreview
from app.services.trial_shapes import (
    USUAL_ALPHA,
    Asked,
    SilentTold,
    TreatmentTold,
    TrialAnalyseRequest,
    TrialChange,
    TrialEntry,
    TrialImportAnswer,
    TrialImportRequest,
    TrialKept,
    TrialListing,
    TrialRemoved,
    TrialRowFault,
    TrialTold,
    WeedTold,
)
from app.services.validation import validated, version_told
from app.store.opening import Store
from app.trials.output import Synthesis, TrialAnswer, TrialReport

_FIGURE = re.compile(r"[0-9]{0,3}(\.[0-9]{1,12})?")


def analyse(payload: Any) -> TrialAnswer:
    """Analyse a file of plots; nothing is stored.

    Raises
    ------
    InputError
        Naming the field that cannot be used, or the first row of the file.
    """
    request = validated(TrialAnalyseRequest, payload)
    try:
        return trials.analyse_csv(request.text, request.alpha, request.columns, request.design)
    except InputError as error:
        # What the plots lack is named inside a trial, which is no field of what was sent: it stands in the file.
        known = [fault.path.split(".", 1)[0] in TrialAnalyseRequest.model_fields for fault in error.faults]
        told = zip(error.faults, known, strict=True)
        raise InputError([fault if sent else FieldFault("csv", fault.message) for fault, sent in told]) from error


def listing(store: Store) -> TrialListing:
    """Every kept trial."""
    return TrialListing(
        trials=tuple(
            TrialEntry(
                id=item.slug,
                version=item.version,
                changed_at=item.changed_at,
                name=item.name,
                kind=item.kind,
                place=item.place,
                applied=item.applied,
                weeds=item.weeds,
                dates=item.dates,
                treatments=item.treatments,
                plots=item.plots,
                missing=item.missing,
                moves=item.moves,
            )
            for item in trials.listing(store)
        )
    )


def one(store: Store, slug: str) -> TrialKept:
    """A kept trial with its version.

    Raises
    ------
    UnknownId
        When there is none of that id.
    """
    return _kept(trials.one(store, slug))


def report(store: Store, slug: str, alpha: str | None) -> TrialReport:
    """The analysis of a kept trial, with alpha as text.

    Raises
    ------
    InputError
        When alpha is no number or out of range.
    UnknownId
        When there is no trial of that id.
    """
    return trials.report_of(store, slug, alpha_of(alpha))


def alpha_of(text: str | None) -> float:
    """An error rate given as text; the usual one where it is not told.

    Raises
    ------
    InputError
        When it is no number or out of range.
    """
    if text is None:
        return USUAL_ALPHA
    if not text or not _FIGURE.fullmatch(text):
        raise InputError([FieldFault("alpha", "must be a number between 0.0001 and 0.5, for example 0.05")])
    return validated(Asked, {"alpha": float(text)}).alpha


def change(store: Store, slug: str, payload: Any) -> TrialKept:
    """Change a trial that stands at a version.

    Raises
    ------
    InputError
        With every field at fault.
    Changed
        When somebody else changed it meanwhile.
    UnknownId
        When there is none of that id.
    """
    request = validated(TrialChange, payload)
    try:
        return _kept(trials.change(store, slug, request.trial, request.version))
    except InputError as error:
        faults = [FieldFault(f"trial.{fault.path}".rstrip("."), fault.message) for fault in error.faults]
        raise InputError(faults) from error


def remove(store: Store, slug: str, version: str | None) -> TrialRemoved:
    """Remove a trial that stands at a version.

    Raises
    ------
    InputError
        When the version is missing or no number.
    Changed
        When somebody else changed it meanwhile.
    UnknownId
        When there is none of that id.
    """
    at = version_told(version, "trial")
    trials.one(store, slug)
    trials.remove(store, slug, at)
    return TrialRemoved(removed=slug)


def rate(store: Store, payload: Any) -> TrialKept:
    """Keep a follow-up rating of a treated lawn.

    Raises
    ------
    InputError
        With every field at fault.
    Changed
        When somebody else changed that trial in the same moment.
    """
    return _kept(trials.add_rating(store, payload))


def bring_in(store: Store, payload: Any) -> TrialImportAnswer:
    """Preview a file of plots, or import it where that is confirmed.

    Raises
    ------
    InputError
        When the file cannot be used or, confirmed, holds a row or trial that cannot.
    Changed
        When somebody else changed what the file speaks of after it was previewed.
    """
    request = validated(TrialImportRequest, payload)
    found = trial_import.preview(store, request.text, request.columns, request.design)
    if not request.confirm:
        return _told(found, None)
    done = trial_import.confirm(
        store, request.text, request.columns, request.seen, design=request.design, replace=request.replace
    )
    return _told(found, done)


def pooled(store: Store, told: Mapping[str, str]) -> Synthesis:
    """Pool what the kept trials say of one question, told as text: what is empty is not told.

    Parameters
    ----------
    told : dict of str to str
        `weed` and `treatment`; `against`, `days_after` and `alpha` where they are told.

    Raises
    ------
    InputError
        With every field at fault, or where fewer than two trials can tell.
    """
    named = {key: text for key, text in told.items() if text}
    faults = [FieldFault(key, "is required") for key in ("weed", "treatment") if key not in named]
    days = named.get("days_after")
    if days is not None and not (days.isascii() and days.isdecimal() and len(days) <= 3 and 1 <= int(days) <= 730):
        faults.append(FieldFault("days_after", "must be a whole number of days after application, 1 to 730"))
    if faults:
        raise InputError(faults)
    return trials.synthesis(
        store,
        named["weed"],
        named["treatment"],
        named.get("against"),
        int(days) if days is not None else None,
        alpha_of(named.get("alpha")),
    )


def _kept(found: trials.KeptTrial) -> TrialKept:
    return TrialKept(
        id=found.slug,
        version=found.version,
        changed_at=found.changed_at,
        trial=found.trial,
        evidence=found.evidence,
        silent=tuple(SilentTold(treatment=item.treatment, weed=item.weed, why=item.why) for item in found.silent),
    )


def _told(found: Preview, done: Imported | None) -> TrialImportAnswer:
    outcomes = done.outcomes if done is not None else tuple((item.status, item.slug) for item in found.trials)
    told = tuple(_trial_told(item, *outcome) for item, outcome in zip(found.trials, outcomes, strict=True))
    counts = {status: sum(item.status == status for item in told) for status in ("new", "changed", "unchanged", "bad")}
    counts["bad"] += len(found.faults)
    guesses = tuple(trials.guess_said(item) for item in found.guessed)
    return TrialImportAnswer(
        stored=done is not None,
        **counts,
        trials=told,
        faults=tuple(
            TrialRowFault(line=item.line, column=item.column, message=item.message, trial=item.trial)
            for item in found.faults
        ),
        ignored=found.ignored,
        columns=found.columns,
        notices=(*found.notices, *guesses),
        seen=found.seen,
    )


def _trial_told(item: TrialPreview, status: Status, slug: str) -> TrialTold:
    return TrialTold(
        name=item.trial.name,
        status="bad" if item.fault else status,
        id=slug,
        weeds=tuple(WeedTold(weed=weed, name=name, known=known) for weed, name, known in item.weeds),
        dates=item.dates,
        treatments=tuple(
            TreatmentTold(
                name=treatment.name,
                actives=treatment.actives,
                adjuvant=treatment.adjuvant,
                applications=treatment.applications,
                stages=treatment.stages,
                is_check=treatment.is_check,
                guessed=treatment.guessed,
            )
            for treatment in item.treatments
        ),
        design=item.design,
        plots=item.plots,
        missing=item.missing,
        moves=item.moves,
        silent=tuple(SilentTold(treatment=told.treatment, weed=told.weed, why=told.why) for told in item.silent),
        fault=item.fault,
    )
