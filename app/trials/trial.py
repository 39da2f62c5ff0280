"""A trial as it is read and kept: its treatments, and one rating a plot, weed and date."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from app.engine.measures import Day, FieldError, Input, Rate
from knowledge.models.common import AdjuvantId, Season, Slug

CHECK = "nontreated"
Design = Literal["rcbd", "crd"]
# Plots of a trial with its check, or lawns that were treated and rated without one.
Kind = Literal["plots", "lawns"]


class Plot(Input):
    """One plot at one rating date.

    Attributes
    ----------
    weed : str
        Id of the weed in the knowledge base, or its name where the knowledge base does not hold it.
    rep : str
        Block or replicate of the plot, as written.
    control_pct : float, optional
        Control against the check [%]; None where the plot is missing or was rated by cover alone.
    injury_pct : float, optional
        Injury of the turf [%].
    cover_pct, cover_before_pct : float, optional
        Cover of the weed at this date, and before the application [%].
    """

    weed: str = Field(min_length=1, max_length=80)
    days_after: int = Field(ge=0, le=730)
    treatment: str = Field(min_length=1, max_length=120)
    rep: str = Field(min_length=1, max_length=40)
    control_pct: float | None = Field(default=None, ge=0, le=100)
    injury_pct: float | None = Field(default=None, ge=0, le=100)
    cover_pct: float | None = Field(default=None, ge=0, le=100)
    cover_before_pct: float | None = Field(default=None, ge=0, le=100)


class TreatedWith(Input):
    """An active of a treatment, with its rate and form where they are told."""

    active: Slug
    rate: Rate | None = None
    form: Slug | None = None


class Treatment(Input):
    """What a treatment of the trial is made of; without actives nothing is known of it but its name.

    Attributes
    ----------
    applications : int
        How often it was sprayed; days after application count from the last.
    stages : dict of str to str
        Stage of each weed when it was treated, by the weed as the plots name it.
    """

    name: str = Field(min_length=1, max_length=120)
    actives: tuple[TreatedWith, ...] = Field(default=(), max_length=5)
    adjuvant: AdjuvantId | None = None
    applications: int = Field(default=1, ge=1, le=12)
    stages: dict[str, str] = Field(default={}, max_length=50)

    @property
    def is_check(self) -> bool:
        """Whether this is the nontreated check."""
        return self.name.casefold() == CHECK


class Trial(Input):
    """A trial with its plots.

    Attributes
    ----------
    design : str, optional
        `rcbd` (randomised complete blocks) or `crd` (completely randomised), where it is told;
        otherwise it is read off the plots.
    applied : date, optional
        Day of the application.
    season : str, optional
        Season of the application, where it is told.
    """

    name: str = Field(min_length=1, max_length=120)
    kind: Kind = "plots"
    design: Design | None = None
    place: str = Field(default="", max_length=120)
    applied: Day | None = None
    season: Season | None = None
    turf: Slug | None = None
    notes: str = Field(default="", max_length=2000)
    treatments: tuple[Treatment, ...] = Field(min_length=1, max_length=200)
    plots: tuple[Plot, ...] = Field(min_length=1, max_length=60_000)

    @model_validator(mode="after")
    def _each_plot_once(self) -> Trial:
        named = {treatment.name for treatment in self.treatments}
        if len(named) != len(self.treatments):
            raise FieldError("treatments", "a treatment stands twice; give each once")
        if sum(treatment.is_check for treatment in self.treatments) > 1:
            raise FieldError("treatments", f"the check stands under two spellings; name it {CHECK} everywhere")
        seen: set[tuple[str, int, str, str]] = set()
        for index, plot in enumerate(self.plots):
            key = (plot.weed, plot.days_after, plot.treatment, plot.rep)
            where = f"{plot.treatment}, replicate {plot.rep}, {plot.weed}, {plot.days_after} days after"
            if key in seen:
                raise FieldError(f"plots.{index}", f"the plot {where} stands twice; give each plot once a date")
            if plot.treatment not in named:
                raise FieldError(f"plots.{index}.treatment", f"'{plot.treatment}' is none of the trial's treatments")
            seen.add(key)
        return self

    @property
    def weeds(self) -> tuple[str, ...]:
        """The weeds rated, in the order of the plots."""
        return tuple(dict.fromkeys(plot.weed for plot in self.plots))

    def dates(self, weed: str) -> tuple[int, ...]:
        """Days after application at which a weed was rated, rising."""
        return tuple(sorted({plot.days_after for plot in self.plots if plot.weed == weed}))

    def treatment(self, name: str) -> Treatment:
        """The treatment of a name."""
        return next(treatment for treatment in self.treatments if treatment.name == name)

    def labelled(self) -> dict[str, Treatment]:
        """Treatments by name."""
        return {treatment.name: treatment for treatment in self.treatments}
