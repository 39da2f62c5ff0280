"""Use cases of properties: what is kept, what is refused, what is missing. Invented places."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.errors import InputError, UnknownId
from app.services import customers, properties, scouting
from app.services.property_checks import plannable, what_is_missing
from app.store.changed import Changed
from app.store.opening import Store, open_in_memory
from tests.services.places import TODAY, area, place, put_record


@pytest.fixture
def store() -> Store:
    return open_in_memory()


def faults(store: Store, payload: Any, **told: Any) -> dict[str, str]:
    with pytest.raises(InputError) as caught:
        properties.add(store, payload, **told)
    assert properties.every(store) == ()
    return {fault.path: fault.message for fault in caught.value.faults}


def test_what_is_kept_is_read_back(store: Store) -> None:
    kept = properties.add(store, place(address="12 Mill Lane, Fennick", technician="Jo Alder"), customer="Ada Fenn")
    reading = properties.one(store, kept.slug)
    assert (kept.slug, kept.version, reading.customer) == ("12-mill-lane", 1, ("ada-fenn", "Ada Fenn"))
    assert reading.property == kept.property
    assert reading.property.areas[0].id == "front"
    assert (reading.missing, reading.notes, reading.records) == ((), (), 0)
    assert customers.customer(store, "ada-fenn").properties == (("12-mill-lane", "12 Mill Lane"),)


# Synonyms of the knowledge base, and a slip of the pen.
@pytest.mark.parametrize("told", ["tall fescue", "Turf-Type Tall Fescue", "fescue", "tall-fescue"])
def test_turf_is_known_by_its_names(store: Store, told: str) -> None:
    assert properties.add(store, place(areas=[area(turf=[told, "KBG"])])).property.areas[0].turf == (
        "tall-fescue",
        "kentucky-bluegrass",
    )


def test_a_turf_that_is_not_known_names_three(store: Store) -> None:
    found = faults(store, place(areas=[area(), area(name="Back", turf=["kbg", "tall fescew"])]))
    (message,) = found.values()
    assert list(found) == ["areas.1.turf.1"]
    assert message.startswith("'tall fescew' is no known turf; nearest: tall fescue, ")
    assert len(message.split("nearest: ")[1].split(", ")) == 3


def test_every_fault_is_told_at_once_in_the_order_of_the_form(store: Store) -> None:
    payload = place(
        name="",
        zone="nowhere",
        areas=[area(turf=["fescew"], area={"value": 0, "unit": "ft2"}), area(stand="old")],
        plans=[{"kind": "seeding", "date": "2027-02-30"}],
    )
    assert list(faults(store, payload)) == [
        "name",
        "zone",
        "areas.0.turf.0",
        "areas.0.area.value",
        "areas.1.stand",
        "plans.0.date",
    ]


@pytest.mark.parametrize(
    "told",
    [
        *({"areas": [None]}, {"areas": "front"}, {"areas": [{"name": None}]}, {"areas": [{"name": 7, "turf": [None]}]}),
        *({"areas": [area(turf=[None, 7, ["kbg"]])]}, {"areas": [area(id=7)]}, {"plans": [None]}, {"plans": "soon"}),
        *({"plans": [{"area": 7}]}, {"local_rules": [None]}, {"local_rules": {"kind": "ban-active"}}),
        *({"local_rules": [{"kind": "ban-active", "active": 7}]}, {"customer": 7}, {"name": None}),
    ],
)
def test_what_is_of_another_kind_is_refused_and_breaks_nothing(store: Store, told: dict[str, Any]) -> None:
    (head,) = told
    assert all(path.startswith(head) for path in faults(store, place(**told)))


def test_two_areas_do_not_share_a_name_and_ids_are_made_from_names(store: Store) -> None:
    assert faults(store, place(areas=[area(), area(name="FRONT ")])) == {
        "areas.1.name": "'FRONT' stands twice; give each area its own name"
    }
    kept = properties.add(store, place(areas=[area(), area(name="Front!"), area(name="Front?", id="lawn")]))
    assert [item.id for item in kept.property.areas] == ["front", "front-2", "lawn"]


def test_plans_and_rules_are_told_by_name(store: Store) -> None:
    told = place(
        plans=[{"kind": "seeding", "date": "2027-09-10", "area": "front"}, {"kind": "event", "date": "2027-07-04"}],
        local_rules=[{"kind": "ban-active", "active": "2,4-D", "note": "town rule"}],
    )
    kept = properties.add(store, told).property
    assert [plan.area for plan in kept.plans] == ["front", None]
    assert kept.local_rules[0].active == "2-4-d"
    assert kept.seeding_after("front", TODAY) == kept.plans[0].date


@pytest.mark.parametrize(
    ("rule", "path"),
    [
        ({"kind": "ban-active", "active": "dicambo"}, "local_rules.0.active"),
        ({"kind": "ban-group", "group": "99"}, "local_rules.0.group"),
        ({"kind": "ban-form", "form": "2-4-d-xyz"}, "local_rules.0.form"),
        ({"kind": "closed-season", "from": "2027-06-01", "to": "2027-05-01"}, "local_rules.0"),
    ],
)
def test_a_rule_of_something_unknown_is_refused(store: Store, rule: dict[str, str], path: str) -> None:
    assert list(faults(store, place(local_rules=[rule]))) == [path]


def test_a_property_without_turf_is_kept_and_says_why_it_is_not_plannable(store: Store) -> None:
    kept = properties.add(store, place(zone=None, areas=[area(), area(name="Back", turf=[], area=None, site_use=None)]))
    missing = properties.one(store, kept.slug).missing
    assert [(item.path, item.area) for item in missing] == [
        ("zone", ""),
        ("areas.1.turf", "back"),
        ("areas.1.area", "back"),
        ("areas.1.site_use", "back"),
    ]
    assert all(item.text.startswith("Back: ") for item in missing[1:])
    assert not plannable(kept.property, "front")
    with_zone = kept.property.model_copy(update={"zone": "cool-humid"})
    assert plannable(with_zone, "front")
    assert not plannable(with_zone, "back")


def test_an_empty_property_asks_for_an_area_and_an_ended_one_for_nothing(store: Store) -> None:
    kept = properties.add(store, {"name": "Elm 3", "zone": "transition"}).property
    assert [item.path for item in what_is_missing(kept)] == ["areas"]
    ended = kept.model_copy(update={"ended": TODAY})
    # On its last day it is still served.
    assert [item.path for item in what_is_missing(ended, TODAY)] == ["areas"]
    later = TODAY.replace(day=16)
    assert [item.path for item in what_is_missing(ended, later)] == ["ended"]


def test_a_change_needs_the_version_it_was_made_on(store: Store) -> None:
    kept = properties.add(store, place())
    changed = properties.change(store, kept.slug, place(technician="Jo Alder"), 1)
    assert (changed.version, properties.one(store, kept.slug).property.technician) == (2, "Jo Alder")
    with pytest.raises(Changed) as caught:
        properties.change(store, kept.slug, place(technician="Sam Birch"), 1)
    assert caught.value.stored is not None
    assert (caught.value.stored["technician"], caught.value.version) == ("Jo Alder", 2)
    with pytest.raises(Changed):
        properties.remove(store, kept.slug, 1)
    properties.remove(store, kept.slug, 2)
    assert properties.every(store) == ()


def test_a_property_with_records_is_not_removed_but_its_service_can_end(store: Store) -> None:
    kept = properties.add(store, place())
    put_record(store, kept.slug)
    with pytest.raises(InputError, match="1 application record names it, and records are kept"):
        properties.remove(store, kept.slug, 1)
    assert properties.one(store, kept.slug).records == 1
    properties.change(store, kept.slug, place(ended="2027-06-01"), 1)
    assert [item.path for item in properties.one(store, kept.slug, TODAY).missing] == ["ended"]


def test_a_property_goes_with_its_notes(store: Store) -> None:
    kept = properties.add(store, place())
    scouting.add_note(store, kept.slug, {"area": "front", "weed": "dandelion", "date": "2027-06-01"})
    properties.remove(store, kept.slug, 1)
    again = properties.add(store, place())
    assert (again.slug, scouting.notes_of(store, again.slug)) == (kept.slug, ())


def test_an_area_with_open_notes_does_not_vanish(store: Store) -> None:
    kept = properties.add(store, place(areas=[area(), area(name="Back")]))
    note, _ = scouting.add_note(store, kept.slug, {"area": "back", "weed": "dandelion", "date": "2027-06-01"})
    with pytest.raises(InputError, match="1 open note on the area 'back'"):
        properties.change(store, kept.slug, place(), 1)
    scouting.close_note(store, kept.slug, note.key, 1, TODAY)
    assert len(properties.change(store, kept.slug, place(), 1).property.areas) == 1


def test_a_customer_by_an_id_that_is_not_there_names_three(store: Store) -> None:
    for name in ("Ada Fenn", "Ida Fenn", "Otto Birch", "Fennick Club"):
        customers.add_customer(store, {"name": name})
    assert faults(store, place(customer="ada-fen"))["customer"].count(",") == 2
    assert properties.add(store, place(customer="ada-fenn")).property.customer == "ada-fenn"


def test_a_name_much_like_a_customers_is_asked_after(store: Store) -> None:
    customers.add_customer(store, {"name": "Ada Fenn"})
    found = faults(store, place(zone="nowhere"), customer="Ada Fen")
    assert list(found) == ["zone", "customer"]
    assert "much like Ada Fenn" in found["customer"]
    assert properties.add(store, place(), customer=" ADA fenn ").property.customer == "ada-fenn"
    new = properties.add(store, place(name="Elm 3"), customer="Ada Fen", new_customer=True)
    assert new.property.customer == "ada-fen"
    nobody = properties.change(store, new.slug, place(name="Elm 3", customer="ada-fenn"), 1, customer="")
    assert nobody.property.customer is None


def test_a_refused_property_adds_no_customer(store: Store) -> None:
    properties.add(store, place())
    with pytest.raises(InputError, match="is the name of another property already"):
        properties.add(store, place(name="12 MILL lane"), customer="Otto Birch")
    assert customers.customers(store).items == ()


def test_a_list_counts_open_notes_and_names_customers(store: Store) -> None:
    kept = properties.add(store, place(technician="Jo Alder"), customer="Ada Fenn")
    properties.add(store, place(name="Elm 3"))
    for weed in ("dandelion", "wild violet"):
        note, _ = scouting.add_note(store, kept.slug, {"area": "front", "weed": weed, "date": "2027-06-01"})
    scouting.close_note(store, kept.slug, note.key, 1, TODAY)
    found = properties.listing(store)
    assert ([item.slug for item in found.items], found.found, found.kept) == (["elm-3", "12-mill-lane"], 2, 2)
    assert (found.open_notes, found.customers, found.technicians) == (
        {"12-mill-lane": 1},
        {"ada-fenn": "Ada Fenn"},
        {"Jo Alder": 1},
    )
    assert (properties.listing(store, "ada mill").found, properties.listing(store, "nobody").kept) == (1, 2)
    assert properties.listing(store, technician="Jo Alder").found == 1
    assert properties.listing(store, customer="ada-fenn").found == 1


def test_what_is_not_there_names_the_nearest(store: Store) -> None:
    properties.add(store, place())
    with pytest.raises(UnknownId, match="nearest: 12-mill-lane"):
        properties.one(store, "12-mil-lane")
