"""An active ingredient: what it is, how it moves, at what rates and within which limits."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowledge.models.common import (
    AdjuvantId,
    Amount,
    AmountFact,
    Fact,
    Figure,
    GreenUp,
    LifeForm,
    Number,
    Sentence,
    SiteUse,
    Slug,
    Sourced,
    SurroundingId,
)

Level = Literal["none", "low", "moderate", "high"]
Timing = Literal["preemergence", "postemergence"]
Movement = Literal["phloem", "xylem", "contact", "barrier"]


class Mechanism(Sourced):
    """Mechanism of action; `group` is the harmonised HRAC/WSSA number as text."""

    group: str = Field(pattern=r"^[0-9]{1,2}$")
    name: str
    family: str


class Form(Sourced):
    """A salt, ester or the active itself.

    `ae_factor` is the fraction of the form's weight that counts as acid equivalent;
    `max_air_f` is the air temperature [degF] above which this form is not sprayed because of
    its vapour, null where volatility sets no limit.
    """

    id: Slug
    name: str
    kind: Literal["amine-salt", "salt", "ester", "acid", "as-is"]
    formula: str | None = None
    molecular_weight: float | None = Field(default=None, gt=0)
    ae_factor: float | None = Field(default=None, gt=0, le=1)
    volatility: Level
    max_air_f: float | None = None


class TurfRate(Sourced):
    """Usual rates of the active on these turfs.

    `turf` lists turf ids, rate classes, `cool-season`, `warm-season` or `all`; the most specific
    entry wins. `partner` is the usual rate beside another active of the same mechanism.
    """

    turf: tuple[str, ...] = Field(min_length=1)
    timing: Timing
    low: Amount
    usual: Amount
    high: Amount
    partner: Amount | None = None


class Limit(Sourced):
    """Ceilings for one year on one piece of turf; an absent ceiling is unknown."""

    turf: tuple[str, ...] = ("all",)
    site_uses: tuple[SiteUse, ...] = ()
    single_max: Amount | None = None
    annual_max: Amount | None = None
    max_applications: int | None = Field(default=None, ge=1)
    min_interval_days: int | None = Field(default=None, ge=1)


class TemperatureShift(Sourced):
    """A shift on the log-odds of control outside a range of air temperature [degF]."""

    below_f: float | None = None
    above_f: float | None = None
    shift: float
    sd: float = Field(ge=0)


class AirTemperatureRule(Sourced):
    """Air temperature [degF] outside which the active is stopped or cautioned on these turfs."""

    turf: tuple[str, ...] = ("all",)
    min_f: float | None = None
    max_f: float | None = None
    outcome: Literal["stop", "caution"]
    text: str


class AdjuvantRule(Sourced):
    """What an adjuvant does to this active; the shift is on the log-odds against no adjuvant."""

    id: AdjuvantId
    use: Literal["required", "recommended", "allowed", "forbidden"]
    shift: float = 0.0
    sd: float = Field(default=0.0, ge=0)
    stages: tuple[str, ...] = ()
    life_forms: tuple[LifeForm, ...] = ()
    text: str = ""


class SiteRule(Sourced):
    """Places where the active may not be used, with the reason."""

    site_uses: tuple[SiteUse, ...] = Field(min_length=1)
    text: str


class SurroundingRule(Sourced):
    """What this surrounding means for the active."""

    id: SurroundingId
    outcome: Literal["stop", "caution"]
    text: str


class SeedlingRule(Sourced):
    """When a young stand may be treated.

    `allowed` false means never on seedlings. Where both `min_mowings` and `min_weeks` stand,
    meeting either suffices.
    """

    turf: tuple[str, ...] = ("all",)
    allowed: bool = True
    min_mowings: int | None = Field(default=None, ge=0)
    min_weeks: int | None = Field(default=None, ge=0)
    text: str


class SeedingInterval(Sourced):
    """Days to wait after this active before sowing these turfs; null where it is unknown."""

    turf: tuple[str, ...] = ("all",)
    days: int | None = Field(ge=0)
    text: str = ""


class GreenUpRule(Sourced):
    """What the state of green-up of warm-season turf means for this active."""

    turf: tuple[str, ...] = ("warm-season",)
    state: GreenUp
    outcome: Literal["stop", "caution"]
    text: str


class Symptoms(Sourced):
    """Days to first symptoms and to full effect, as ranges."""

    first_days: tuple[float, float]
    full_days: tuple[float, float]


class SoilRisk(Sourced):
    """Movement in soil and the risk to roots of trees and shrubs."""

    mobility: Level
    tree_root_risk: Level


class Active(Fact):
    """One active ingredient of the knowledge base.

    `mixture_only` says that turf has it in standard mixtures alone; it is then not proposed by itself.
    """

    id: Slug
    name: str
    synonyms: tuple[str, ...] = ()
    mechanism: Mechanism
    timing: tuple[Timing, ...] = Field(min_length=1)
    movement: Movement
    role: Sentence
    rate_basis: Literal["ae", "ai"]
    selective: bool = True
    mixture_only: Sentence | None = None
    symptoms: Symptoms | None = None
    residual_half_life_days: Figure | None = None
    slope: Figure | None = None
    soil: SoilRisk | None = None
    forms: tuple[Form, ...] = Field(min_length=1)
    rates: tuple[TurfRate, ...]
    limits: tuple[Limit, ...] = ()
    temperature_shifts: tuple[TemperatureShift, ...] = ()
    air_temperature: tuple[AirTemperatureRule, ...] = ()
    rainfast_hours: Number | None = None
    carrier_floor: AmountFact | None = None
    adjuvants: tuple[AdjuvantRule, ...] = ()
    sites_barred: tuple[SiteRule, ...] = ()
    surroundings: tuple[SurroundingRule, ...] = ()
    seedling: tuple[SeedlingRule, ...] = ()
    seeding_interval: tuple[SeedingInterval, ...] = ()
    green_up: tuple[GreenUpRule, ...] = ()
    notes: tuple[Sentence, ...] = ()
