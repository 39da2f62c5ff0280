"""The papers of a round: who sprays, what is told once, and the slip of a property with several areas."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from app.engine.errors import UnknownId
from app.season.record import ApplicationRecord
from app.services.branch import change_branch
from app.services.round_papers import Head, Papers, papers, slip
from app.services.shelf import fill_demo
from app.services.sprayers import add_sprayer
from app.store.opening import Store, open_in_memory
from tests.season import planned

BRANCH = {
    "name": "Larkmere Lawns",
    "phone": "555-0134",
    "technicians": [{"name": "Ada Marsh", "licence": "LK-A-118"}],
}
GUN = {
    "name": "Truck gun",
    "kind": "gun",
    "carrier": {"value": 1, "unit": "gal/1000 ft2"},
    "tank": {"value": 25, "unit": "gal"},
}
HEAD = Head("north", "North side", 3, "Ada Marsh", "truck-gun")


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    fill_demo(opened)
    add_sprayer(opened, GUN)
    change_branch(opened, BRANCH, 0)
    yield opened
    opened.close()


def made(store: Store, head: Head = HEAD) -> Papers:
    return papers(store, head, planned.planned(), "us")


def test_the_technician_has_the_licence_that_the_branch_tells(store: Store) -> None:
    found = made(store)
    assert found.technician is not None
    assert found.technician.licence == "LK-A-118"
    other = made(store, Head("north", "North side", 3, "Somebody Else", "truck-gun"))
    assert other.technician is not None
    assert other.technician.licence == ""
    assert made(store, Head("north", "North side", 3, "", "")).technician is None


def test_the_sprayer_tells_what_a_fill_holds_and_one_that_is_gone_leaves_it_open(store: Store) -> None:
    assert [fill.spray.value for fill in made(store).sheet.tanks[0].fills] == [pytest.approx(25), pytest.approx(12)]
    gone = made(store, Head("north", "North side", 3, "Ada Marsh", "sold-last-year")).sheet
    assert gone.sprayer == ""
    assert len(gone.tanks[0].fills) == 1


def test_what_all_customers_of_a_tank_are_told_is_told_once(store: Store) -> None:
    found = made(store)
    common = {line.code for line in found.told_to_all["A"]}
    assert {"keep-off", "no-water", "no-mowing"} <= common
    for stop in found.sheet.stops:
        here = {line.text for line in found.told_here(stop)}
        shared = {line.text for line in found.told_to_all[stop.tank]}
        assert not here & shared
        assert here | shared == {line.text for line in stop.customer_lines}


def test_a_slip_gathers_the_areas_of_a_property(store: Store) -> None:
    home = planned.stop("hill-house", "Hill House", "4 Hill Lane", again=planned.AGAIN)
    back = planned.stop("hill-house", "Hill House", "4 Hill Lane", area="back", area_name="back lawn")
    verge = planned.stops()[3].model_copy(update={"property": "hill-house", "area_name": "verge"})
    plan = planned.planned(
        tanks=(planned.tank("A", 28000, 2), planned.planned().tanks[1]), stops=(home, back, verge, planned.stops()[4])
    )
    found = papers(store, HEAD, plan, "us")
    told = slip(found, "hill-house")
    assert [(row.tank.label, [area.area_name for area in row.areas]) for row in told.rows] == [
        ("A", ["front lawn", "back lawn"]),
        ("B", ["verge"]),
    ]
    # By hand: 28,000 ft2 at 0.8 fl oz/1000 ft2.
    assert told.rows[0].amounts[0].amount.value == pytest.approx(22.4)
    assert told.rows[0].spray is not None
    assert told.rows[0].spray.value == pytest.approx(28)
    again = [area for line, area in told.lines if line.code == "again"]
    assert again == ["front lawn"]
    assert [area for line, area in told.lines if line.code == "keep-off"] == [""]
    assert [line.part for line, _ in told.lines] == sorted(
        (line.part for line, _ in told.lines), key=["now", "look", "next", "law"].index
    )


def test_a_slip_takes_day_and_hours_from_the_records_where_every_area_has_one(store: Store) -> None:
    found = made(store)
    plain = slip(found, "hill-house")
    assert (plain.day, plain.started, plain.finished) == ("", "", "")
    told = ApplicationRecord.model_validate(
        {"date": "2027-06-22", "started": "07:45", "finished": "08:10", "products": [{"name": "Wrenhollow Creeper"}]}
    )
    filled = slip(found, "hill-house", [told])
    assert (filled.day, filled.started, filled.finished) == ("22 June 2027", "07:45", "08:10")
    # What was not noted is left to be written by hand.
    bare = told.model_copy(update={"started": ""})
    assert slip(found, "hill-house", [bare]).started == ""


def test_a_property_that_is_not_sprayed_has_no_slip(store: Store) -> None:
    found = made(store)
    with pytest.raises(UnknownId, match="hill-house"):
        slip(found, "nowhere")
    # One that waits was not treated.
    with pytest.raises(UnknownId):
        slip(found, "quarry-view")
