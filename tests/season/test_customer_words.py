"""What the customer is told: complete, plain, and nothing that is not known."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from app.season.customer_words import Applied, customer_words
from knowledge.base import KnowledgeBase
from tests.season.planned import shelf

DAY = date(2027, 6, 22)
PLAIN = Applied(date=DAY, actives=("triclopyr", "quinclorac"), turf=("tall-fescue",), rainfast_hours=24)
LABELS = {product.id: product for product in shelf()}


def said(base: KnowledgeBase, applied: Applied) -> dict[str, str]:
    return {line.code: line.text for line in customer_words(base, applied)}


def test_every_slip_says_to_keep_off_and_that_the_label_and_local_law_decide(base: KnowledgeBase) -> None:
    # Common practice, no source: on every notice of the trade.
    for actives in (("prodiamine",), ("glyphosate",), ()):
        found = said(base, replace(PLAIN, actives=actives))
        assert "until it is dry" in found["keep-off"]
        assert "label is the law" in found["label"]
        assert "state and local law decide" in found["posting"]
        assert "keep" in found


def test_a_label_that_asks_for_longer_than_dry_is_said(base: KnowledgeBase) -> None:
    label = LABELS["wrenhollow-creeper"]
    assert label.reentry_hours == 48
    assert "2 days" in said(base, replace(PLAIN, labels=(label,)))["keep-off-longer"]
    assert label.name in said(base, replace(PLAIN, labels=(label,)))["keep-off-longer"]
    assert "keep-off-longer" not in said(base, PLAIN)


def test_mowing_waits_two_days_on_both_sides(base: KnowledgeBase) -> None:
    # Published: two days before and after a spray on crabgrass, Ohio State University Extension, Lorain County
    # (2024), Crabgrass and early weeds.
    found = said(base, PLAIN)
    assert "2 days after" in found["no-mowing"]
    assert "2 days before" in found["mow-before"]


def test_what_works_in_the_soil_is_watered_in_and_not_kept_dry(base: KnowledgeBase) -> None:
    # Published: at least half an inch, Wells W (2006), Apply herbicides now for winter annual weed control.
    found = said(base, replace(PLAIN, actives=("prodiamine",), rainfast_hours=None))
    assert "0.5 inch of water" in found["water-in"]
    assert not {"no-water", "no-water-untold", "no-mowing"} & set(found)


def test_a_granule_is_watered_in_and_leaves_the_mowing_alone(base: KnowledgeBase) -> None:
    granule = LABELS["larkmere-early-feed"]
    found = said(base, replace(PLAIN, actives=("dithiopyr",), labels=(granule,), rainfast_hours=None))
    assert "water-in" in found
    assert "no-mowing" not in found


def test_the_hours_without_water_are_the_tanks_and_untold_ones_are_asked_for(base: KnowledgeBase) -> None:
    assert "24 hours" in said(base, PLAIN)["no-water"]
    found = said(base, replace(PLAIN, rainfast_hours=None))
    assert "no-water" not in found
    assert "ask us" in found["no-water-untold"]


def test_symptoms_begin_with_the_quickest_active_and_end_with_the_slowest(base: KnowledgeBase) -> None:
    first = [s.first_days for key in PLAIN.actives if (s := base.actives[key].symptoms) is not None]
    full = [s.full_days[1] for key in PLAIN.actives if (s := base.actives[key].symptoms) is not None]
    text = said(base, PLAIN)["symptoms"]
    assert f"{min(first)[0]:g} to {min(first)[1]:g} days" in text
    assert f"{max(full) / 7:g} weeks" in text
    silent = {key: value for key, value in base.actives.items() if value.symptoms is None}
    for key in silent:
        assert "symptoms" not in said(base, replace(PLAIN, actives=(key,)))


def test_whitening_is_said_of_the_actives_that_whiten(base: KnowledgeBase) -> None:
    # Common practice, no source: the bleachers turn weeds white, and customers call.
    assert "white" in said(base, replace(PLAIN, actives=("topramezone",)))["whitening"]
    assert "whitening" not in said(base, PLAIN)


def test_a_second_visit_has_its_day_and_moves_the_seeding(base: KnowledgeBase) -> None:
    once = said(base, PLAIN)
    twice = said(base, replace(PLAIN, again=date(2027, 7, 20)))
    assert "20 July 2027" in twice["again"]
    assert "again" not in once
    assert "once" not in twice
    # From memory: three weeks from triclopyr to the seed of a cool-season lawn; quinclorac asks for less.
    assert "13 July 2027" in once["seeding"]
    assert "10 August 2027" in twice["seeding"]
    # The label's four weeks are stricter.
    assert "20 July 2027" in said(base, replace(PLAIN, labels=(LABELS["wrenhollow-creeper"],)))["seeding"]


def test_an_unknown_wait_before_seeding_is_asked_for_and_never_assumed(base: KnowledgeBase) -> None:
    bare = base.actives["triclopyr"].model_copy(update={"seeding_interval": ()})
    without = replace(base, actives={**base.actives, "triclopyr": bare})
    found = said(without, PLAIN)
    assert "seeding" not in found
    assert "seeding-untold" in found
    assert "seeding-untold" in said(base, replace(PLAIN, turf=()))


def test_clippings_are_kept_from_compost_where_an_active_asks_for_it(base: KnowledgeBase) -> None:
    # Published: treated clippings must not become compost or mulch, Boor A, K-State Research and Extension.
    lines = {line.code: line for line in customer_words(base, replace(PLAIN, actives=("quinclorac",)))}
    assert "compost" in lines["clippings"].text
    assert "boor-nd" in lines["clippings"].sources
    assert "clippings" not in said(base, replace(PLAIN, actives=("prodiamine",)))


@pytest.mark.parametrize(
    ("told", "code"), [({"spot": True}, "spot"), ({"flowers": True}, "flowers"), ({"children_or_pets": True}, "toys")]
)
def test_what_is_so_here_is_said_here_alone(base: KnowledgeBase, told: dict[str, bool], code: str) -> None:
    assert code not in said(base, PLAIN)
    assert code in said(base, replace(PLAIN, **told))


def test_every_sentence_can_be_said_and_leaves_no_brace(base: KnowledgeBase) -> None:
    everything = replace(
        PLAIN, actives=tuple(base.actives), spot=True, flowers=True, children_or_pets=True, labels=shelf()[:3]
    )
    heard = dict[str, str]()
    for applied in (
        everything,
        replace(everything, again=DAY, rainfast_hours=None),
        PLAIN,
        replace(PLAIN, labels=(LABELS["wrenhollow-creeper"],)),
    ):
        heard |= said(base, applied)
    assert set(heard) == set(base.customer)
    assert not any(sign in text for text in heard.values() for sign in "{}")
