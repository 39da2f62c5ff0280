"""The arithmetic of the calibration, on results made for it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from app.services.calibration import Calibration, as_document, calibrate, compare, group_of, request_of
from app.services.knowledge_service import knowledge_base
from knowledge.base import KnowledgeBase
from knowledge.models import PublishedResult

ROW: dict[str, Any] = {
    "id": "made",
    "weed": "dandelion",
    "stage": "vegetative",
    "turf": "kentucky-bluegrass",
    "zone": "cool-humid",
    "site_use": "residential-lawn",
    "sprayed": "05-15",
    "max_air_f": 70,
    "sprays": [{"day": 0, "parts": [{"active": "2-4-d", "rate": "1.0 lb ae/acre"}]}],
    "days": 28,
    "printed": [0, 100],
    "basis": "published",
    "sources": ["common-practice"],
}


def made(**changes: Any) -> PublishedResult:
    return PublishedResult.model_validate({**ROW, **changes})


def with_results(*rows: PublishedResult) -> KnowledgeBase:
    return replace(knowledge_base(), results={row.id: row for row in rows})


def test_a_wide_print_is_no_error() -> None:
    miss = compare(knowledge_base(), made())
    assert miss is not None
    assert (miss.error, miss.inside) == (0, True)
    assert miss.low < miss.likely < miss.high


def test_the_error_is_the_distance_to_the_nearest_printed_end() -> None:
    likely = compare(knowledge_base(), made()).likely  # type: ignore[union-attr]
    below = compare(knowledge_base(), made(printed=[0, 5]))
    above = compare(knowledge_base(), made(printed=[99, 100]))
    assert below is not None
    assert above is not None
    assert below.error == pytest.approx(likely - 5, abs=0.1)
    assert above.error == pytest.approx(99 - likely, abs=0.1)
    assert not below.inside


@pytest.mark.parametrize("beyond", [0.0, 0.5])
def test_inside_reaches_to_the_end_of_the_band_and_no_further(beyond: float) -> None:
    miss = compare(knowledge_base(), made())
    assert miss is not None
    low = miss.low - beyond
    edge = compare(knowledge_base(), made(printed=[0, low]))
    assert edge is not None
    assert edge.inside == (beyond == 0)


def test_an_empty_set_is_not_a_fault() -> None:
    found = calibrate(base=with_results())
    assert (found.results, found.mean_absolute_error, found.groups, found.worst) == (0, 0.0, (), ())


def test_tallies_and_worst_are_of_the_rows_given() -> None:
    rows = (made(id="a", printed=[0, 1]), made(id="b"), made(id="c", printed=[0, 1]))
    found = calibrate(1, with_results(*rows))
    assert found.results == 3
    assert found.inside_share == pytest.approx(1 / 3, abs=1e-3)
    assert [miss.id for miss in found.worst] == ["a"]
    assert [(t.group, t.results) for t in found.groups] == [("perennial broadleaf weeds", 3)]
    assert [(t.group, t.results) for t in found.timings] == [("postemergence", 3)]
    assert found.mean_absolute_error == pytest.approx(2 * found.worst[0].error / 3, abs=1e-3)


def test_a_pair_without_a_record_is_named_and_not_counted() -> None:
    weed = knowledge_base().weeds["dandelion"]
    bare = weed.model_copy(update={"responses": tuple(r for r in weed.responses if r.active != "2-4-d")})
    base = replace(with_results(made()), weeds={**knowledge_base().weeds, "dandelion": bare})
    found = calibrate(base=base)
    assert (found.results, found.unanswered) == (0, ("made",))


def test_a_rate_that_is_not_printed_is_the_usual_one_of_the_turf() -> None:
    row = made(sprays=[{"day": 0, "parts": [{"active": "2-4-d"}]}], assumed=["rate"])
    base = knowledge_base()
    told = request_of(base, row)["program"]["applications"][0]["actives"][0]["rate"]
    usual = next(r.usual for r in base.actives["2-4-d"].rates if "cool-lawn" in r.turf)
    assert (told["value"], told["unit"]) == (usual.value, usual.unit)


@pytest.mark.parametrize(
    ("weed", "group"),
    [
        ("smooth-crabgrass", "annual grasses"),
        ("dallisgrass", "perennial grasses"),
        ("yellow-nutsedge", "sedges"),
        ("dandelion", "perennial broadleaf weeds"),
        ("henbit", "annual broadleaf weeds"),
        ("wild-garlic", "bulbs and dayflowers"),
    ],
)
def test_groups(weed: str, group: str) -> None:
    assert group_of(knowledge_base().weeds[weed]) == group


def test_the_document_is_plain_data() -> None:
    found: Calibration = calibrate(1, with_results(made()))
    document = as_document(found)
    assert document["worst"][0]["id"] == "made"
    assert set(document) == {
        *("results", "mean_absolute_error", "inside_share", "groups", "timings", "worst", "unanswered")
    }
