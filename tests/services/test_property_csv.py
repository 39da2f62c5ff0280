"""A file of properties: headings found, cells read and written, faults by line and column. Invented places."""

from __future__ import annotations

from datetime import date
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.engine.errors import InputError
from app.season.property import Customer, Irrigation, PlanKind, Property, Slope
from app.services import property_cells as cells
from app.services.label_text import Unreadable
from app.services.properties import every, export_csv
from app.services.property_csv import read_properties, write_properties
from app.services.property_import import confirm
from app.store.opening import open_in_memory
from knowledge.models.common import SITE_USES, SURROUNDINGS, ZONES, GreenUp, Stand, Stress
from tests.services.places import area, place

# The feet in a meter, by definition: 0.3048 m each.
_M2_PER_FT2 = 0.3048**2


def told(line: str, head: str = "property,grass,size") -> Any:
    """What one row of a file tells of its property."""
    found = read_properties(f"{head}\n{line}")
    assert found.faults == ()
    return found.properties[0]


def faults(text: str) -> list[tuple[int, str, str]]:
    return [(fault.line, fault.column, fault.message) for fault in read_properties(text).faults]


def test_headings_of_billing_programs_are_found() -> None:
    head = "Client Name;Account;Service Address;Tech;Lawn Area;Grass Type;Lawn Sq. Ft.;Property Type;Height of Cut (in)"
    found = read_properties(f"{head}\nAda Fenn;Mill 12;12 Mill Lane;Jo;Front;KBG;6,500;residential;3.5")
    (only,) = found.properties
    assert (found.faults, found.ignored, only.customer) == ((), (), "Ada Fenn")
    assert only.told == {"address": "12 Mill Lane", "technician": "Jo"}
    assert only.areas == [
        {
            "name": "Front",
            "turf": ("kentucky-bluegrass",),
            "area": {"value": 6500.0, "unit": "ft2"},
            "site_use": "residential-lawn",
            "mowing_height_in": 3.5,
        }
    ]


def test_other_headings_are_told_and_the_rest_is_named() -> None:
    text = "Where,Truck,Colour\n12 Mill Lane,Jo,green"
    with pytest.raises(InputError, match="no column is found for property"):
        read_properties(text)
    found = read_properties(text, {"property": "Where", "technician": "Truck"})
    assert found.properties[0].told == {"technician": "Jo"}
    assert found.ignored == ("Colour",)
    with pytest.raises(InputError) as caught:
        read_properties(text, {"property": "Were"})
    assert caught.value.faults[0].path == "columns.property"


def test_an_address_is_a_name_where_there_is_none() -> None:
    (only,) = read_properties("address,grass\n12 Mill Lane,KBG").properties
    assert (only.name, only.areas[0]["name"]) == ("12 Mill Lane", "Lawn")


@pytest.mark.parametrize(
    ("cell", "value", "unit"),
    [
        ("6500 ft2", 6500, "ft2"),
        ("12,500 sq ft", 12500, "ft2"),
        ("1,234,567 square feet", 1234567, "ft2"),
        ("0.25 acre", 0.25, "acre"),
        ("0,25 ha", 0.25, "ha"),
        ("1,500 m2", 1500, "m2"),
    ],
)
def test_a_size_is_read_with_its_unit(cell: str, value: float, unit: str) -> None:
    assert cells.size(cell) == {"value": value, "unit": unit}


@pytest.mark.parametrize("cell", ["6500", "about 6500 ft2", "1,250 acre", "12,50,0 ft2"])
def test_a_size_that_may_mean_two_things_is_refused(cell: str) -> None:
    assert [(line, column) for line, column, _ in faults(f'property,size\nA,"{cell}"')] == [(2, "size")]


@pytest.mark.parametrize(
    ("cell", "inches"), [("3.5 in", 3.5), ('3.5"', 3.5), ("3 inches", 3), ("8.89 cm", 3.5), ("88.9 mm", 3.5)]
)
def test_a_mowing_height_is_read_in_inches(cell: str, inches: float) -> None:
    assert cells.height(cell) == inches


@pytest.mark.parametrize("cell", ["3.5", "high", "3.5 ft"])
def test_a_mowing_height_without_its_unit_is_refused(cell: str) -> None:
    with pytest.raises(Unreadable, match="is no height"):
        cells.height(cell)


@pytest.mark.parametrize(
    ("column", "cell", "value"),
    [
        ("turf", "tall fescue + Kentucky bluegrass", ("tall-fescue", "kentucky-bluegrass")),
        ("turf", "St. Augustine", ("st-augustinegrass",)),
        ("site_use", "Residential", "residential-lawn"),
        ("site_use", "golf green", "golf-green"),
        ("zone", "Cool humid", "cool-humid"),
        ("surroundings", "tree-roots; a well head", ("tree-roots", "well-head")),
        ("irrigation", "Yes", "system"),
        ("irrigation", "by hand", "by-hand"),
        ("slope", "Steep", "steep"),
    ],
)
def test_words_of_the_trade_are_understood(column: str, cell: str, value: object) -> None:
    assert cells.READERS[column](cell) == value


@pytest.mark.parametrize("column", ["turf", "site_use", "zone", "surroundings", "slope", "green_up"])
def test_a_word_that_is_not_known_names_the_nearest(column: str) -> None:
    with pytest.raises(Unreadable, match="nearest: "):
        cells.READERS[column]("xyzzy")


def test_rows_of_one_property_gather_and_must_agree() -> None:
    text = (
        "property,customer,zone,area,grass\nA,Ada,cool-humid,Front,KBG\n a ,,,Back,fescue\nA,Otto,transition,FRONT,\n"
    )
    found = read_properties(text)
    assert [item["name"] for item in found.properties[0].areas] == ["Front", "Back"]
    assert [(fault.line, fault.column) for fault in found.faults] == [(4, "zone"), (4, "customer"), (4, "area")]
    assert "contradicts 'cool-humid' in line 2" in found.faults[0].message


def test_what_is_told_twice_of_a_customer_must_agree() -> None:
    text = "property,customer,phone\nA,Ada,555\nB,ada ,\nC,ADA,556\n"
    assert [(line, column) for line, column, _ in faults(text)] == [(4, "phone")]
    assert [item.of_customer for item in read_properties(text).properties[:2]] == [{"phone": "555"}] * 2


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("property,grass\n,KBG", (2, "property", "is empty; name the property, or give its address")),
        ("property,grass\nA,KBG,more", (2, "", "has 3 cells where the headings name 2")),
        ("property,grass\nA,KBG\nA,fescue", (3, "area", "an area of A without a name stands in an earlier line")),
        ("property,grass\n\nA,fescew", (3, "grass", "'fescew' is no known turf")),
        ("property,plans\nA,soon", (2, "plans", "'soon' is no plan")),
        ('property,local rules\nA,"ban-active dicamba (county)"', (2, "local rules", "is no local rule")),
    ],
)
def test_a_bad_cell_is_named_by_line_and_column(text: str, found: tuple[int, str, str]) -> None:
    (only,) = faults(text)
    assert only[:2] == found[:2]
    assert only[2].startswith(found[2]) or found[2] in only[2]


@pytest.mark.parametrize("text", ["", "property,grass\n", 'property,grass\nA,"open', "\n\n"])
def test_a_file_that_cannot_be_used_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_properties(text)


_WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), max_size=12).map(str.strip)
_DAYS = st.dates(date(2000, 1, 1), date(2100, 12, 31)).map(date.isoformat)
_FIGURES = st.floats(0.001, 1e6, allow_nan=False)


def _some(values: Any) -> Any:
    return st.one_of(st.none(), st.sampled_from(values))


_AREAS = st.fixed_dictionaries(
    {
        "turf": st.lists(st.sampled_from(["tall-fescue", "kentucky-bluegrass", "bahiagrass"]), unique=True, max_size=3),
        "area": st.one_of(
            st.none(), st.fixed_dictionaries({"value": _FIGURES, "unit": st.sampled_from(["ft2", "acre", "m2", "ha"])})
        ),
        "site_use": _some(SITE_USES),
        "slope": _some(get_args(Slope)),
        "surroundings": st.lists(st.sampled_from(SURROUNDINGS), unique=True, max_size=3),
        "mowing_height_in": st.one_of(st.none(), st.floats(0.01, 24)),
        "irrigation": _some(get_args(Irrigation)),
        "stand": _some(get_args(Stand)),
        "emerged": st.one_of(st.none(), _DAYS),
        "green_up": _some(get_args(GreenUp)),
        "stress": _some(get_args(Stress)),
        "notes": _WORDS,
    }
)
_RULES = st.one_of(
    st.fixed_dictionaries({"kind": st.just("ban-active"), "active": st.just("2-4-d"), "note": _WORDS}),
    st.fixed_dictionaries({"kind": st.just("ban-group"), "group": st.just("4"), "note": _WORDS}),
    st.fixed_dictionaries(
        {"kind": st.just("closed-season"), "from": st.just("2027-05-01"), "to": st.just("2027-06-01"), "note": _WORDS}
    ),
)
_PLANS = st.fixed_dictionaries(
    {"kind": st.sampled_from(get_args(PlanKind)), "date": _DAYS, "area": st.sampled_from([None, "a0"]), "text": _WORDS}
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.data())
def test_what_is_written_is_read_back_to_equal_properties(data: st.DataObject) -> None:
    areas = [
        {**data.draw(_AREAS), "id": f"a{number}", "name": f"{data.draw(_WORDS)} {number}"}
        for number in range(data.draw(st.integers(1, 3)))
    ]
    name = data.draw(_WORDS.filter(bool))
    before = Property.model_validate(
        {
            **{"name": name, "customer": "ada", "areas": areas, "address": data.draw(_WORDS)},
            **{"zone": data.draw(_some(ZONES)), "technician": data.draw(_WORDS), "notes": data.draw(_WORDS)},
            "latitude": data.draw(st.one_of(st.none(), st.floats(-90, 90))),
            "longitude": data.draw(st.one_of(st.none(), st.floats(-180, 180))),
            "ended": data.draw(st.one_of(st.none(), _DAYS)),
            "plans": data.draw(st.lists(_PLANS, max_size=2)),
            "local_rules": data.draw(st.lists(_RULES, max_size=2)),
        }
    )
    owner = Customer(name="Ada", phone=data.draw(_WORDS), notes=data.draw(_WORDS))
    store = open_in_memory()
    confirm(store, write_properties([(before, owner)]))
    (after,) = every(store)
    assert after.property == before
    assert export_csv(store) == write_properties([(before, owner)])
    store.close()


def test_a_property_without_areas_and_one_with_an_empty_area_are_written_and_read() -> None:
    store = open_in_memory()
    told_of = [
        Property.model_validate({"name": "A"}),
        Property.model_validate({"name": "B", "areas": [{"id": "x", "name": "X"}]}),
    ]
    confirm(store, write_properties((item, None) for item in told_of))
    assert [item.property for item in every(store)] == told_of
    # Formulas are no formulas in a spreadsheet.
    spiky = Property.model_validate(place(name="=1+1", notes="@home", areas=[{**area(), "id": "front"}]))
    text = write_properties([(spiky, None)])
    assert "'=1+1" in text
    confirm(store, text)
    assert spiky in [item.property for item in every(store)]
    store.close()


def test_square_feet_and_square_meters_are_kept_as_told() -> None:
    assert told("A,,6500 ft2").areas[0]["area"]["value"] * _M2_PER_FT2 == pytest.approx(603.87, abs=0.01)
