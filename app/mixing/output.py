"""What a mix comes to: tanks, amounts to pour, the order of adding, and what the load brings."""

from __future__ import annotations

from app.engine.output import Amount, Caution, CitedSource, Output, PackToBuy, Statement


class Poured(Output):
    """One product in one tank.

    `amount` is exact; `pour` is what a person measures, never more than the maximum; `error_pct` is
    how far `pour` is from `amount` [percent]; `said` is `pour` in the measures at hand, such as
    ``1 qt 18 fl oz``.
    """

    name: str
    id: str | None
    formulation: str
    amount: Amount
    pour: Amount
    error_pct: float
    said: str


class PouredAdjuvant(Output):
    """The adjuvant in one tank; amounts are null where its rate is not known."""

    id: str
    name: str
    amount: Amount | None
    pour: Amount | None
    error_pct: float | None
    said: str


class TankMix(Output):
    """One filling: what goes in and the area it covers.

    `area` is null where a spot spray covers no area that is told; `spray` is the whole volume and
    `water` what of it is water, both null where granules are spread dry.
    """

    number: int
    full: bool
    area: Amount | None
    spray: Amount | None
    water: Amount | None
    products: tuple[Poured, ...]
    adjuvant: PouredAdjuvant | None


class NamedAmount(Output):
    """A product or adjuvant and so much of it."""

    name: str
    amount: Amount


class Total(NamedAmount):
    """What the whole load takes of a product, and the packs that hold it where they are told."""

    packs: tuple[PackToBuy, ...] = ()


class ActiveLoad(Output):
    """One active of the load.

    `rate` is per acre in its own counting (ae or ai), null where a spot spray covers no told area;
    `amount` is in the whole load; `used` earlier this year, `maximum` for a year and `remaining`
    after this load are per acre, null where unknown, with the reason in `text`.
    """

    active: str
    name: str
    form: str
    form_name: str
    group: str
    rate: Amount | None
    amount: Amount
    used: Amount | None
    maximum: Amount | None
    remaining: Amount | None
    text: str
    sources: tuple[str, ...]


class Catch(Output):
    """What a spreader drops on an area when it is set right."""

    area: Amount
    amount: Amount


class SpreaderOutput(Output):
    """How to set a spreader for one product: what to catch over a test area, and bags for the load."""

    name: str
    catches: tuple[Catch, ...]
    bags: str


class Mix(Output):
    """The mix of a plan.

    `stops` stand against it and come first; `warnings` inform. `order` is the order of adding in
    words, `steps` the same with sources; `jar_test` and `rinse` are advice; `per_1000_ft2` and
    `per_acre` are empty for a spot spray at a share of the spray.
    """

    headline: str
    method: str
    stops: tuple[Statement, ...]
    warnings: tuple[Caution, ...]
    tanks: tuple[TankMix, ...]
    totals: tuple[Total, ...]
    per_1000_ft2: tuple[NamedAmount, ...]
    per_acre: tuple[NamedAmount, ...]
    order: tuple[str, ...]
    steps: tuple[Statement, ...]
    active_load: tuple[ActiveLoad, ...]
    spreader: tuple[SpreaderOutput, ...]
    jar_test: tuple[Statement, ...]
    rinse: tuple[Statement, ...]
    notices: tuple[str, ...]
    sources: dict[str, CitedSource]
    knowledge_version: str
