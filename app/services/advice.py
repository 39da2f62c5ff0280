"""Use cases around advice: each face calls these and shows what they answer."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from datetime import date as Date
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.engine.expect import expect as engine_expect
from app.engine.house import Observed, with_evidence
from app.engine.house_shown import evidence_of
from app.engine.identify import Identification, Seen
from app.engine.identify import identify as engine_identify
from app.engine.matrix import Matrix, MatrixQuestion
from app.engine.matrix import matrix as engine_matrix
from app.engine.output import Expectation, QuickAnswer, Recommendation, WeedNamed, WhyNot
from app.engine.product import Product
from app.engine.recommend import recommend as engine_recommend
from app.engine.situation import ExpectRequest, Situation, WhyNotRequest
from app.engine.understood import unknown_id
from app.engine.why_not import why_not as engine_why_not
from app.services.knowledge_service import knowledge_base
from app.services.validation import validated
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM, ZONES, Weed

# What a quick question takes where it says nothing: the commonest case of each zone.
DEFAULT_ZONE = "cool-humid"
DEFAULT_SITE_USE = "residential-lawn"
DEFAULT_TURF = {
    "cool-humid": "kentucky-bluegrass",
    "cool-arid": "kentucky-bluegrass",
    "transition": "tall-fescue",
    "warm-humid": "common-bermudagrass",
    "warm-arid": "common-bermudagrass",
}
_MID_MONTH = 15


Shelf = Callable[[], Sequence[Product]]
# What the house's trials saw of some weeds.
House = Callable[[Collection[str]], Sequence[Observed]]


def recommend(payload: Any, shelf: Shelf | None = None, house: House | None = None) -> Recommendation:
    """Rank programs for a situation given as plain data.

    Parameters
    ----------
    shelf : callable, optional
        Gives the products, where the situation asks for those of the shelf.
    house : callable, optional
        Gives what the house's trials saw. Where they speak of the weeds asked after, the answer says what
        they changed, or, where `options.house_evidence` leaves them out, that they were left out.
    """
    situation = validated(Situation, payload)
    base, products = knowledge_base(), _products(situation, shelf)
    observed = _observed(situation, house)
    plain = engine_recommend(base, situation, products)
    if not observed:
        return plain
    if not situation.options.house_evidence:
        return plain.model_copy(update={"house_evidence": evidence_of(base, observed, plain, None)})
    found = engine_recommend(with_evidence(base, observed), situation, products)
    return found.model_copy(update={"house_evidence": evidence_of(base, observed, found, plain)})


def why_not(payload: Any, shelf: Shelf | None = None, house: House | None = None) -> WhyNot:
    """Say what stands against an active or mixture, given as plain data."""
    request = validated(WhyNotRequest, payload)
    base = learned(request.situation, house)
    return engine_why_not(base, request, _products(request.situation, shelf))


def _observed(situation: Situation, house: House | None) -> tuple[Observed, ...]:
    """What the house's trials saw of the weeds asked after."""
    if house is None:
        return ()
    weeds = {target.weed for target in situation.targets}
    return tuple(item for item in house(weeds) if item.weed in weeds)


def learned(situation: Situation, house: House | None) -> KnowledgeBase:
    """The knowledge base, with the house's evidence where the situation lets it count."""
    counts = situation.options.house_evidence
    return with_evidence(knowledge_base(), _observed(situation, house) if counts else ())


def _products(situation: Situation, shelf: Shelf | None) -> Sequence[Product] | None:
    """The products of the shelf, read only where the situation asks for them."""
    return shelf() if situation.catalog == "shelf" and shelf is not None else None


def expect(payload: Any, house: House | None = None) -> Expectation:
    """Expected control and injury of a stated program, given as plain data."""
    request = validated(ExpectRequest, payload)
    return engine_expect(learned(request.situation, house), request)


def matrix(payload: Any) -> Matrix:
    """Every weed against every active on one turf, given as plain data."""
    return engine_matrix(knowledge_base(), validated(MatrixQuestion, payload))


def identify(payload: Any) -> Identification:
    """Weeds that fit what is seen of a plant, given as plain data."""
    return engine_identify(knowledge_base(), validated(Seen, payload))


def answer(
    weed: str,
    *,
    turf: str | None,
    month: int | None,
    zone: str | None,
    stage: str | None,
    site_use: str | None,
    today: Date,
    top: int = 5,
    house: House | None = None,
) -> QuickAnswer:
    """The quick answer for a weed as people call it.

    What is not told is taken as the commonest case: zone cool-humid, a residential lawn of
    the zone's usual turf, today.

    Raises
    ------
    InputError
        For a weed, turf, zone, stage or month that is not known.
    """
    from app.services.search import find_weed

    base = knowledge_base()
    if not weed.strip():
        raise InputError([FieldFault("weed", "must name a weed, for example 'wild violet'")])
    found, suggestion, others = find_weed(base, weed)
    faults = []
    if zone is not None and zone not in ZONES:
        faults.append(unknown_id("zone", "zone", zone, ZONES))
    if turf is not None and turf not in base.turf:
        faults.append(unknown_id("turf", "turf", turf, base.turf))
    day = today
    if month is not None:
        try:
            day = day_in(month, today)
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    where = zone or DEFAULT_ZONE
    grass = turf or default_turf(found, where)
    if stage is not None and stage not in STAGES_BY_LIFE_FORM[found.life_form]:
        stages = ", ".join(STAGES_BY_LIFE_FORM[found.life_form])
        raise InputError([FieldFault("stage", f"'{stage}' is no stage of {found.name}; use {stages}")])
    payload = {
        "date": day.isoformat(),
        "zone": where,
        "site_use": site_use or DEFAULT_SITE_USE,
        "turf": [grass],
        "targets": [{"weed": found.id, "stage": stage}],
        "options": {"top": top},
    }
    recommendation = recommend(payload, house=house)
    named = WeedNamed(
        id=found.id,
        name=found.name,
        scientific_name=found.scientific_name,
        asked=weed.strip(),
        matched=suggestion.matched,
        alternatives=others,
    )
    return QuickAnswer(weed=named, situation=recommendation.situation, recommendation=recommendation)


def day_in(month: int, today: Date) -> Date:
    """The middle of a month as it comes next; this month is this year's.

    Raises
    ------
    InputError
        For a number that is no month.
    """
    if not 1 <= month <= 12:
        raise InputError([FieldFault("month", f"{month} is no month; use 1 to 12")])
    return Date(today.year if month >= today.month else today.year + 1, month, _MID_MONTH)


def default_turf(weed: Weed, zone: str) -> str:
    """The zone's usual turf, or another where the weed is that turf itself."""
    usual = DEFAULT_TURF[zone]
    if usual not in weed.same_species_turf:
        return usual
    return next(turf for turf in ("tall-fescue", "zoysiagrass-japonica") if turf not in weed.same_species_turf)
