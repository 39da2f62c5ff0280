"""A follow-up rating of a treated lawn: one more plot of a trial without a check, or the first of a new one."""

from __future__ import annotations

from pydantic import Field

from app.engine.errors import FieldFault, InputError
from app.engine.measures import Day, Input
from app.services.validation import validated
from app.store.names import name_key
from app.trials.trial import CHECK, Plot, TreatedWith, Treatment, Trial
from knowledge.models.common import AdjuvantId, Season, Slug


class LawnRatingInput(Input):
    """What was seen on a lawn that was treated.

    Attributes
    ----------
    trial : str
        Name under which ratings of this treatment are gathered; the treatment's name where it is empty.
    lawn : str
        Which lawn, by whatever tells it from the others.
    control_pct : float
        Control seen [%].
    """

    trial: str = Field(default="", max_length=120)
    lawn: str = Field(min_length=1, max_length=40)
    weed: str = Field(min_length=1, max_length=80)
    stage: str | None = None
    days_after: int = Field(ge=0, le=730)
    treatment: str = Field(min_length=1, max_length=120)
    actives: tuple[TreatedWith, ...] = Field(default=(), max_length=5)
    adjuvant: AdjuvantId | None = None
    applications: int = Field(default=1, ge=1, le=12)
    control_pct: float = Field(ge=0, le=100)
    injury_pct: float | None = Field(default=None, ge=0, le=100)
    place: str = Field(default="", max_length=120)
    applied: Day | None = None
    season: Season | None = None
    turf: Slug | None = None

    @property
    def gathered_as(self) -> str:
        """Name of the trial that it goes to."""
        return self.trial.strip() or f"Lawns treated with {self.treatment}"[:120]

    @property
    def plot(self) -> Plot:
        """The rating as a plot; the lawn is its replicate."""
        return Plot(
            weed=self.weed,
            days_after=self.days_after,
            treatment=self.treatment,
            rep=self.lawn,
            control_pct=self.control_pct,
            injury_pct=self.injury_pct,
        )

    @property
    def made_of(self) -> Treatment:
        """What the lawn was treated with."""
        stages = {self.weed: self.stage} if self.stage is not None else {}
        return Treatment(
            name=self.treatment,
            actives=self.actives,
            adjuvant=self.adjuvant,
            applications=self.applications,
            stages=stages,
        )


def with_rating(rating: LawnRatingInput, trial: Trial | None) -> Trial:
    """The trial with one more rating, or a new one.

    Raises
    ------
    InputError
        Where the trial has a check, was treated otherwise, or has this lawn at this date already.
    """
    made = rating.made_of
    if made.name.casefold() == CHECK:
        what = "a lawn that was not treated is no rating of a treatment; give a file of plots instead"
        raise InputError([FieldFault("treatment", what)])
    if trial is None:
        told = {"place": rating.place, "applied": rating.applied, "season": rating.season, "turf": rating.turf}
        whole = {"name": rating.gathered_as, "kind": "lawns", **told, "treatments": (made,), "plots": (rating.plot,)}
        return validated(Trial, whole)
    if trial.kind != "lawns":
        what = f"{trial.name} is a trial of plots; give the lawns another name"
        raise InputError([FieldFault("trial", what)])
    _same_application(rating, trial)
    if any(_key(plot) == _key(rating.plot) for plot in trial.plots):
        what = f"{rating.lawn} has a rating of {rating.weed} {rating.days_after} days after already; change that one"
        raise InputError([FieldFault("lawn", what)])
    return validated(
        Trial,
        {
            **{name: getattr(trial, name) for name in Trial.model_fields},
            "treatments": _treatments(rating, trial),
            "plots": (*trial.plots, rating.plot),
        },
    )


def _key(plot: Plot) -> tuple[str, int, str, str]:
    return plot.weed, plot.days_after, plot.treatment, name_key(plot.rep)


def _same_application(rating: LawnRatingInput, trial: Trial) -> None:
    found = []
    for field in ("place", "applied", "season", "turf"):
        told, before = getattr(rating, field), getattr(trial, field)
        if told and told != before:
            what = f"of {trial.name} it is {before or 'not told'}; write that, or gather this lawn under another name"
            found.append(FieldFault(field, what))
    if found:
        raise InputError(found)


def _treatments(rating: LawnRatingInput, trial: Trial) -> tuple[Treatment, ...]:
    made = rating.made_of
    before = next((item for item in trial.treatments if item.name == made.name), None)
    if before is None:
        return (*trial.treatments, made)
    contents = [(item.actives, item.adjuvant, item.applications) for item in (made, before)]
    if made.actives and contents[0] != contents[1]:
        what = f"in {trial.name} {before.name} is something else; name this treatment otherwise"
        raise InputError([FieldFault("actives", what)])
    stage = before.stages.get(rating.weed)
    if stage is not None and rating.stage not in (None, stage):
        what = f"{rating.weed} was {stage} in {trial.name}; gather this lawn under another name"
        raise InputError([FieldFault("stage", what)])
    stages = {**before.stages, **made.stages}
    return tuple(
        item if item.name != made.name else item.model_copy(update={"stages": stages}) for item in trial.treatments
    )
