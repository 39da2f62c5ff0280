"""Ratings after applications as evidence: each stands as a lawn in a trial of lawns treated alike."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from app.engine.errors import InputError
from app.engine.product import Product
from app.engine.understood import season_on
from app.season.applied import brought
from app.season.record import ApplicationRecord, AppliedActive, FollowUp
from app.services.knowledge_service import knowledge_base
from app.services.lawn_rating import LawnRatingInput, with_rating
from app.services.trial_checks import analysed
from app.services.trial_import import document_of, evidence_rows, kept_trial
from app.services.validation import validated
from app.store import products, records, trials
from app.store.names import name_key
from app.trials.evidence import silent
from app.trials.trial import Trial
from knowledge.base import KnowledgeBase

Fed = dict[str, Any]
_LONGEST_NAME, _LONGEST_LAWN = 120, 40
_NOTHING: Fed = {"plots": [], "said": []}


def fed(session: Session, key: str, record: ApplicationRecord, seen: FollowUp, now: datetime) -> Fed:
    """Put what was seen into the trials of its treatment.

    Returns
    -------
    dict
        `plots`: trial, weed, days after, treatment and lawn of each rating; `said`: sentences, first of all
        why a rating moves nothing.
    """
    if not seen.ratings or not record.live:
        return dict(_NOTHING)
    base = knowledge_base()
    said, parts = _sprayed(session, base, record)
    again = _sprayed_again(session, key, record, seen)
    if again or not parts:
        return {"plots": [], "said": [again or said]}
    plots, told = [], [said] if said else []
    for weed, control in sorted(seen.ratings.items()):
        rating = _rating(base, key, record, seen, weed, control, parts)
        try:
            stored, trial = _added(session, base, rating, key, now)
        except InputError as error:
            told.append(f"The rating of {base.weed_names[weed].name} stands in no trial: {error.faults[0].message}.")
            continue
        plot = trial.plots[-1]
        plots.append(
            {"trial": stored.slug, "weed": weed, "days_after": plot.days_after} | _named(plot.treatment, plot.rep)
        )
        told += _why_silent(base, trial, weed)
    return {"plots": plots, "said": told}


def unfed(session: Session, was: Fed, now: datetime) -> None:
    """Take what was put into trials out of them; a trial without a rating goes, one that is gone already is let be."""
    base = knowledge_base()
    for plot in was.get("plots", ()):
        stored = trials.held(session, slug=plot["trial"])
        if stored is None:
            continue
        trial = kept_trial(stored)
        left = tuple(item for item in trial.plots if not _is(item.model_dump(), plot))
        if len(left) == len(trial.plots):
            continue
        if not left:
            trials.delete(session, stored.slug, stored.version)
            continue
        rated = {item.treatment for item in left}
        made = tuple(item for item in trial.treatments if item.name in rated)
        whole = {name: getattr(trial, name) for name in Trial.model_fields}
        weeds = {item.weed for item in left}
        made = tuple(
            item.model_copy(update={"stages": {weed: stage for weed, stage in item.stages.items() if weed in weeds}})
            for item in made
        )
        changed = validated(Trial, {**whole, "plots": left, "treatments": made})
        document, rows = document_of(changed), evidence_rows(base, changed)
        trials.update(session, stored.slug, stored.name, document, rows, stored.version, now)


def fed_again(session: Session, key: str, record: ApplicationRecord, now: datetime) -> None:
    """Bring every rating after an application to what its record says now; those of a void one move nothing."""
    kept = records.follow_ups(session, [key])
    for item in kept:
        unfed(session, item.fed, now)
    for item in kept:
        records.put_fed(session, item.key, fed(session, key, record, FollowUp.model_validate(item.document), now))


def _sprayed(session: Session, base: KnowledgeBase, record: ApplicationRecord) -> tuple[str, tuple[AppliedActive, ...]]:
    """The actives of the tank with their rates; why it moves nothing where they are not all known."""
    named = {item.name for item in record.products}
    shelf: dict[str, Product] = {
        key: held.product for key, held in products.named(session, [name_key(name) for name in named]).items()
    }
    found = brought(base, record, shelf)
    untold = [item.untold for item in found if item.untold]
    if untold:
        return (
            f"It is kept with the record and moves no advice, since what was sprayed is not known whole: {untold[0]}.",
            (),
        )
    parts = tuple(part for item in found for part in item.actives)
    names = [part.active for part in parts]
    if len(set(names)) != len(names):
        return "It is kept with the record and moves no advice, since two products held the same active.", ()
    if not parts:
        return "It is kept with the record and moves no advice, since no active was sprayed.", ()
    return "", parts


def _sprayed_again(session: Session, key: str, record: ApplicationRecord, seen: FollowUp) -> str:
    """Why a rating speaks of more than its own application; empty where it does not."""
    if record.property is None:
        return ""
    for other in records.of_properties(session, [record.property], record.date):
        told = ApplicationRecord.model_validate(other.document)
        same = record.area is None or told.area is None or told.area == record.area
        if other.key != key and same and record.date < told.date <= seen.date:
            return f"It is kept with the record and moves no advice, since the place was sprayed again on {told.date}."
    return ""


def _rating(
    base: KnowledgeBase,
    key: str,
    record: ApplicationRecord,
    seen: FollowUp,
    weed: str,
    control: float,
    parts: tuple[AppliedActive, ...],
) -> LawnRatingInput:
    stage = next((target.stage for target in record.targets if target.weed == weed), None)
    adjuvant = record.adjuvant.id if record.adjuvant is not None else "none"
    season = season_on(record.date, record.zone, base) if record.zone is not None else None
    turf = record.turf[0] if len(record.turf) == 1 else None
    treatment = _treatment(base, parts, adjuvant, record.application)
    where = ", ".join(
        [
            f"{record.date}",
            *([base.turf[turf].name] if turf is not None else []),
            base.weed_names[weed].name,
            *([stage] if stage is not None else []),
            *([season] if season is not None else []),
        ]
    )
    return validated(
        LawnRatingInput,
        {
            "trial": f"{f'Lawns, {treatment}'[: _LONGEST_NAME - len(where) - 2]}, {where}",
            "lawn": _lawn(record, key),
            "weed": weed,
            "stage": stage,
            "days_after": (seen.date - record.date).days,
            "treatment": treatment,
            "actives": [{"active": part.active, "form": part.form, "rate": part.rate} for part in parts],
            "adjuvant": adjuvant,
            "applications": record.application,
            "control_pct": control,
            "injury_pct": seen.injury_pct,
            "applied": record.date,
            "season": season,
            "turf": turf,
        },
    )


def _treatment(base: KnowledgeBase, parts: tuple[AppliedActive, ...], adjuvant: str, applications: int) -> str:
    """A name that tells one treatment from another: actives, rates, adjuvant and how often it was sprayed."""
    told = [f"{base.actives[part.active].name} {part.rate.value:.4g} {part.rate.unit}" for part in parts]
    told += [base.adjuvants[adjuvant].name] if adjuvant != "none" else []
    told += [f"{applications} sprays"] if applications > 1 else []
    return " + ".join(told)[:_LONGEST_NAME]


def _lawn(record: ApplicationRecord, key: str) -> str:
    """The lawn: property and area; a long one ends in a mark of its own."""
    whole = " ".join(record.where.split())
    if len(whole) <= _LONGEST_LAWN:
        return whole
    return f"{whole[: _LONGEST_LAWN - 7]} {hashlib.sha256(key.encode()).hexdigest()[:6]}"


def _added(
    session: Session, base: KnowledgeBase, rating: LawnRatingInput, key: str, now: datetime
) -> tuple[trials.Stored, Trial]:
    held = trials.held(session, name=rating.gathered_as)
    before = kept_trial(held) if held is not None else None
    if before is not None and any(name_key(plot.rep) == name_key(rating.lawn) for plot in _on_that_day(before, rating)):
        # Two records of one day and place, or two places of one name: each is a lawn of its own.
        mark = hashlib.sha256(key.encode()).hexdigest()[:6]
        rating = rating.model_copy(update={"lawn": f"{rating.lawn[: _LONGEST_LAWN - 7]} {mark}"})
    trial = with_rating(rating, before)
    analysed(base, trial)
    document, rows = document_of(trial), evidence_rows(base, trial)
    if held is not None:
        return trials.update(session, held.slug, trial.name, document, rows, held.version, now), trial
    (stored,) = trials.insert(session, [(trial.name, document, rows)], now)
    return stored, trial


def _on_that_day(trial: Trial, rating: LawnRatingInput) -> Iterator[Any]:
    return (plot for plot in trial.plots if (plot.weed, plot.days_after) == (rating.weed, rating.days_after))


def _why_silent(base: KnowledgeBase, trial: Trial, weed: str) -> list[str]:
    name = base.weed_names[weed].name
    return [
        f"The rating of {name} is kept and moves no record: {item.why}."
        for item in silent(base, trial)
        if item.weed == weed and item.treatment == trial.plots[-1].treatment
    ]


def _named(treatment: str, rep: str) -> dict[str, Any]:
    return {"treatment": treatment, "rep": rep}


def _is(plot: Mapping[str, Any], told: Mapping[str, Any]) -> bool:
    return all(plot[name] == told[name] for name in ("weed", "days_after", "treatment", "rep"))
