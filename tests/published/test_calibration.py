"""Expected control against every percent-control figure of publications that the knowledge holds.

Source of each row: the publication that it cites, seen; rows are in knowledge/facts/results/.
One row is one trial and trials scatter, so the whole set and each large group are judged. The
aims are a mean error of at most 10 points and 80 % inside the band; small groups may miss by more.
"""

from __future__ import annotations

from collections import Counter

import pytest

from app.services.calibration import Calibration, calibrate
from app.services.knowledge_service import knowledge_base
from knowledge.models import PublishedResult

MEAN_ERROR, INSIDE_SHARE = 10.0, 0.80
LARGE_GROUP, GROUP_ERROR, GROUP_SHARE = 20, 12.0, 0.70


@pytest.fixture(scope="module")
def found() -> Calibration:
    return calibrate()


def test_the_whole_set_is_near_to_print(found: Calibration) -> None:
    report = "\n".join(str(miss) for miss in found.worst)
    assert found.mean_absolute_error <= MEAN_ERROR, report
    assert found.inside_share >= INSIDE_SHARE, report


def test_each_large_group_is_near_to_print(found: Calibration) -> None:
    large = [tally for tally in (*found.groups, *found.timings) if tally.results >= LARGE_GROUP]
    assert len(large) >= 3
    for tally in large:
        assert tally.mean_absolute_error <= GROUP_ERROR, tally
        assert tally.inside_share >= GROUP_SHARE, tally


def test_every_printed_pair_of_weed_and_active_has_a_figure(found: Calibration) -> None:
    assert found.unanswered == ()


def test_the_set_is_large_and_names_what_it_assumes() -> None:
    results: list[PublishedResult] = list(knowledge_base().results.values())
    assert len(results) >= 120
    assert len({result.weed for result in results}) >= 20
    for result in results:
        no_rate = any(part.rate is None for spray in result.sprays for part in spray.parts)
        assert "rate" in result.assumed or not no_rate, result.id
    assert Counter(result.basis for result in results) == {"published": len(results)}
