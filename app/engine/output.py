"""What the engine answers: the shapes that every face shows and the API documents."""

from __future__ import annotations

from datetime import date as Date
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from app.engine.house_output import HouseEvidence
from app.engine.situation import Situation

Severity = Literal["info", "caution", "warning"]


class Output(BaseModel):
    """Base of all output: frozen."""

    model_config = ConfigDict(frozen=True)


class Amount(Output):
    """A value with its unit."""

    value: float
    unit: str


class CitedSource(Output):
    """A source as cited in an answer."""

    citation: str
    kind: str
    basis: Literal["published", "memory", "common-practice", "house"]


class Statement(Output):
    """A sentence with a code and its sources (ids of the answer's `sources`)."""

    code: str
    text: str
    sources: tuple[str, ...] = ()


class Caution(Statement):
    """A sentence that informs; `settled_by` names the field that would settle an unknown."""

    severity: Severity
    settled_by: str | None = None


class ActiveInProduct(Output):
    """An active as it goes into the tank."""

    active: str
    name: str
    form: str
    form_name: str
    group: str
    rate: Amount


class ProductInTank(Output):
    """A product of the tank; `product`, `id` (on the shelf) and `rate` are null for generic actives."""

    product: str | None
    id: str | None = None
    actives: tuple[ActiveInProduct, ...]
    rate: Amount | None


class AdjuvantInTank(Output):
    """The adjuvant of the tank; `product` names the one of the catalog, null where it holds none."""

    id: str
    name: str
    rate: Amount | None
    product: str | None = None


class Application(Output):
    """One application of a program."""

    day: int
    date: Date
    products: tuple[ProductInTank, ...]
    adjuvant: AdjuvantInTank | None
    carrier: Amount | None


class ControlPart(Output):
    """What one active does to the weed by itself, percent control after its first application."""

    active: str
    name: str
    likely: float | None
    basis: str | None
    sources: tuple[str, ...]
    text: str


class Control(Output):
    """Expected control of one weed; null where nothing is known, with the reason in `text`."""

    weed: str
    name: str
    stage: str
    low: float | None
    likely: float | None
    high: float | None
    days_after: int
    basis: str | None
    parts: tuple[ControlPart, ...]
    sources: tuple[str, ...]
    text: str


class TurfInjury(Output):
    """Expected injury of one turf."""

    model_config = ConfigDict(frozen=True, populate_by_name=True)

    turf: str
    name: str
    tolerance: str = Field(alias="class", serialization_alias="class")
    likely_pct: float | None
    text: str
    sources: tuple[str, ...]


class Cost(Output):
    """Cost of the materials of a whole program; null where no prices are known, with the reason in `text`."""

    per_1000_ft2: float | None
    per_acre: float | None = None
    currency: str
    text: str = ""


class PackToBuy(Output):
    """Packs of one size to buy, and what they cost together."""

    count: int
    size: Amount
    price: float


class Supply(Output):
    """What a program uses of a product on the area told: in stock, short, and to be bought."""

    product: str
    needed: Amount
    in_stock: Amount | None
    short: Amount | None
    buy: tuple[PackToBuy, ...]
    text: str


class FoldedProgram(Output):
    """A near-duplicate that stands folded under a better program."""

    id: str
    name: str
    score: float
    text: str


class RankedProgram(Output):
    """One program with its place, its figures and why."""

    rank: int
    id: str
    name: str
    actives: tuple[str, ...]
    groups: tuple[int, ...]
    applications: tuple[Application, ...]
    control: tuple[Control, ...]
    turf_injury: tuple[TurfInjury, ...]
    cost: Cost
    supply: tuple[Supply, ...] = ()
    score: float
    score_parts: dict[str, float]
    reasons: tuple[Statement, ...]
    cautions: tuple[Caution, ...]
    dominated_by: str | None = None
    folded: tuple[FoldedProgram, ...] = ()


class TurnedDown(Output):
    """An active, or a product of the catalog, with activity on a target that a hard stop keeps out, and which stops."""

    actives: tuple[str, ...]
    name: str
    product: str | None = None
    stops: tuple[Statement, ...]


class NoTreatment(Output):
    """Why the best advice is not to spray now, and when to come back."""

    text: str
    reasons: tuple[Statement, ...]
    come_back: str


class TargetUnderstood(Output):
    """A target with the stage that was told or derived."""

    weed: str
    name: str
    stage: str
    stages: tuple[str, ...]
    stage_assumed: bool


class Derived(Output):
    """What follows from the situation."""

    season: str
    targets: tuple[TargetUnderstood, ...]
    green_up: dict[str, str | None]
    unknowns: tuple[str, ...]


class SituationUnderstood(Situation):
    """The situation as asked, with what was derived from it."""

    derived: Derived


class Recommendation(Output):
    """The ranked programs for one situation, and what was turned down.

    `house_evidence` is null where no trial of the house speaks of these weeds.
    """

    situation: SituationUnderstood
    headline: str
    ranked: tuple[RankedProgram, ...]
    turned_down: tuple[TurnedDown, ...]
    no_treatment: NoTreatment | None
    cautions: tuple[Caution, ...]
    considered: int
    notices: tuple[str, ...]
    sources: dict[str, CitedSource]
    knowledge_version: str
    house_evidence: HouseEvidence | None = None


class WhyNot(Output):
    """What stands against an active or mixture, or where it ranks and why lower."""

    situation: SituationUnderstood
    actives: tuple[str, ...]
    allowed: bool
    stops: tuple[Statement, ...]
    cautions: tuple[Caution, ...]
    best: RankedProgram | None
    rank: int | None
    behind: tuple[str, ...]
    notices: tuple[str, ...]
    sources: dict[str, CitedSource]
    knowledge_version: str


class Expectation(Output):
    """Expected control and injury of one stated program."""

    situation: SituationUnderstood
    control: tuple[Control, ...]
    turf_injury: tuple[TurfInjury, ...]
    stops: tuple[Statement, ...]
    cautions: tuple[Caution, ...]
    notices: tuple[str, ...]
    sources: dict[str, CitedSource]
    knowledge_version: str


class WeedNamed(Output):
    """The weed that a question was understood to mean, and how."""

    id: str
    name: str
    scientific_name: str
    asked: str
    matched: str
    alternatives: tuple[str, ...]


class QuickAnswer(Output):
    """The quick answer for one weed."""

    weed: WeedNamed
    situation: SituationUnderstood
    recommendation: Recommendation


def as_json(answer: Output) -> dict[str, Any]:
    """The answer as plain JSON data, keys as in the API."""
    return answer.model_dump(mode="json", by_alias=True)
