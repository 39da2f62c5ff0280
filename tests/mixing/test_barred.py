"""What stands against a mix on its turf and site, with its adjuvant and partners. Invented products."""

from __future__ import annotations

import pytest

from tests.mixing.made import amount, dry, granule, mixed, product

FLOW = product("Marl Flow", "5 fl oz/acre", "sulfentrazone 4 lb ai/gal", formulation="SC")
LABELLED = [{"turf": ["tall-fescue"], "low": amount("0.5 qt/acre"), "high": amount("1 qt/acre")}]


def stops(*products: object, **told: object) -> list[str]:
    return [stop.code for stop in mixed(*products, **told).stops]  # type: ignore[arg-type]


def test_what_nothing_stands_against_has_no_stop() -> None:
    assert stops() == []
    assert stops(granule(), method="granular", carrier=None, tank=None) == []


def test_a_turf_that_is_hurt_stops_the_mix() -> None:
    # Quinclorac is not used on St. Augustinegrass: common practice, no source.
    found = mixed(dry(), turf=["st-augustinegrass"])
    assert "turf-sensitive" in [stop.code for stop in found.stops]
    assert found.tanks[0].products[0].pour.value > 0


def test_methylated_seed_oil_beside_sulfentrazone_stops_the_mix() -> None:
    # Common practice, no source: the mix can injure the turf that is to be kept.
    oil = {"id": "mso", "rate": amount("1 % v/v")}
    assert "adjuvant-injury" in stops(FLOW, adjuvant=oil)
    assert "adjuvant-injury" in stops(FLOW, adjuvant=oil, turf=None, site_use=None)
    assert "adjuvant-injury" not in stops(FLOW)


def test_the_label_binds_where_it_was_typed() -> None:
    assert "label-turf" in stops(product(turf=["kentucky-bluegrass"]))
    assert "label-turf" not in stops(product(turf=["tall-fescue"]))
    assert "label-site" in stops(product(site_uses=["golf-rough"]))
    assert "label-site" not in stops(product(site_uses=["residential-lawn"]))
    assert "label-site" not in stops(product(site_uses=["golf-rough"]), site_use=None)
    assert "label-rate" in stops(product(rates=LABELLED), turf=["perennial-ryegrass"])
    assert "label-rate" not in stops(product(rates=LABELLED))


@pytest.mark.parametrize(("use", "adjuvant", "stopped"), [
    ("forbidden", "nis", True),
    ("forbidden", "none", False),
    ("required", "none", True),
    ("required", "nis", False),
])  # fmt: skip
def test_an_adjuvant_that_the_label_forbids_or_requires(use: str, adjuvant: str, stopped: bool) -> None:
    told = product(adjuvants=[{"id": "nis", "use": use}])
    assert ("label-adjuvant" in stops(told, adjuvant={"id": adjuvant})) is stopped


def test_re_entry_of_the_label_is_told() -> None:
    said = [warning.text for warning in mixed(product(reentry_hours=12)).warnings]
    assert any("keep people and pets off for 12 hours" in text for text in said)


def test_what_is_not_told_is_said() -> None:
    found = mixed(turf=None, site_use=None)
    assert [(w.code, w.settled_by) for w in found.warnings] == [("turf-untold", "turf"), ("site-untold", "site_use")]
    assert found.stops == ()


def test_a_spot_spray_at_a_share_is_held_against_turf_and_label() -> None:
    spot = {"method": "spot", "spray": amount("2 gal"), "area": None, "tank": None, "carrier": None}
    assert "turf-sensitive" in stops(product("Marl Quin", "1 % v/v", "quinclorac 1.5 lb ai/gal"),
                                     turf=["st-augustinegrass"], **spot)  # fmt: skip
    assert stops(product(rate="1 % v/v"), **spot) == []


def test_what_only_the_field_can_tell_is_a_caution_that_names_no_field() -> None:
    found = mixed(FLOW, turf=["st-augustinegrass"])
    caution = next(w for w in found.warnings if w.code == "turf-condition")
    assert "drought" in caution.text
    assert caution.settled_by is None
