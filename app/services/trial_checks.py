"""What a trial given as plain data may get wrong: ids of no fact, and plots that cannot be analysed."""

from __future__ import annotations

from app.engine.errors import FieldFault, InputError
from app.engine.understood import unknown_id
from app.trials.analysis import report
from app.trials.output import TrialReport
from app.trials.trial import Treatment, Trial
from knowledge.base import KnowledgeBase
from knowledge.models.common import ALL_STAGES, STAGES_BY_LIFE_FORM


def faults_of(base: KnowledgeBase, trial: Trial) -> list[FieldFault]:
    """Ids that the knowledge base does not hold; a weed that it does not hold is no fault."""
    found = []
    if trial.turf is not None and trial.turf not in base.turf:
        found.append(unknown_id("turf", "turf", trial.turf, base.turf))
    for index, treatment in enumerate(trial.treatments):
        found += _of_treatment(base, f"treatments.{index}", treatment, trial.weeds)
    return found


def _of_treatment(base: KnowledgeBase, path: str, treatment: Treatment, weeds: tuple[str, ...]) -> list[FieldFault]:
    found = []
    if treatment.is_check and (treatment.actives or treatment.adjuvant not in (None, "none")):
        found.append(FieldFault(f"{path}.actives", "the check is not treated; leave them out, or name it otherwise"))
    names = [part.active for part in treatment.actives]
    for at, part in enumerate(treatment.actives):
        here = f"{path}.actives.{at}"
        if part.active not in base.actives:
            found.append(unknown_id(f"{here}.active", "active", part.active, base.actives))
            continue
        if part.active in names[:at]:
            found.append(FieldFault(f"{here}.active", f"'{part.active}' stands twice; give each active once"))
        forms = [form.id for form in base.actives[part.active].forms]
        if part.form is not None and part.form not in forms:
            found.append(unknown_id(f"{here}.form", f"form of {part.active}", part.form, forms))
    for weed, stage in treatment.stages.items():
        here = f"{path}.stages.{weed}"
        known = STAGES_BY_LIFE_FORM[base.weeds[weed].life_form] if weed in base.weeds else ALL_STAGES
        if weed not in weeds:
            found.append(FieldFault(here, f"'{weed}' is rated in no plot; its weeds are {', '.join(weeds)}"))
        elif stage not in known:
            found.append(unknown_id(here, f"stage of {weed}", stage, known))
    return found


def analysed(base: KnowledgeBase, trial: Trial) -> TrialReport:
    """The report of a trial whose ids are known.

    Raises
    ------
    InputError
        With every unknown id, or why its plots cannot be analysed.
    """
    if faults := faults_of(base, trial):
        raise InputError(faults)
    return report(base, trial)
