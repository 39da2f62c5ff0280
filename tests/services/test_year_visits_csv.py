"""The visits of a year as a table."""

from __future__ import annotations

import csv
import io
from decimal import Decimal

from app.services.year_papers import YearPapers
from app.services.year_visits_csv import COLUMNS, visits_csv
from tests.season.planned_year import AREAS, resting, visit
from tests.services.year_place import BRANCH, PLACE, year_papers


def rows(found: YearPapers) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(visits_csv(found))))


def test_a_row_a_visit_and_its_money_adds_up_to_the_price() -> None:
    found = year_papers(8)
    assert found.price is not None
    shown = rows(found)
    assert [row["visit"] for row in shown] == [str(number) for number in range(1, 9)]
    assert sum(Decimal(row["price"]) for row in shown) == found.price.price
    first = shown[0]
    assert (first["date"], first["window_from"], first["window_to"]) == ("2027-04-08", "2027-04-02", "2027-04-16")
    assert (first["areas"], first["treated_ft2"]) == ("Front lawn; Back lawn", "10500")
    assert (first["products"], first["actives"]) == ("Pellmere Early 0.41 fl oz/1000 ft2", "prodiamine")
    assert (first["groups"], first["currency"]) == ("3", "USD")


def test_numbers_of_the_plan_stay_where_days_without_an_application_fall_out() -> None:
    shown = rows(year_papers([visit(1), resting(2), visit(5)]))
    assert [(row["visit"], row["number_in_plan"]) for row in shown] == [("1", "1"), ("2", "5")]


def test_without_prices_of_the_branch_the_money_is_empty() -> None:
    (row, *_) = rows(year_papers(branch=BRANCH.model_copy(update={"pricing": None})))
    assert (row["price"], row["cost"], row["currency"]) == ("", "", "")
    assert tuple(row) == COLUMNS


def test_what_is_unknown_is_empty_and_said() -> None:
    shown = rows(year_papers([visit(1), visit(2, cost_per_1000_ft2=None, applications=visit(1).applications)]))
    # The stand-in is not told here, but the shelf has a price of this product.
    assert shown[1]["price"] != ""
    bare = visit(2).applications[0]
    nameless = tuple(p.model_copy(update={"product": None, "id": None}) for p in bare.products)
    loose = visit(2, cost_per_1000_ft2=None, applications=(bare.model_copy(update={"products": nameless}),))
    row = rows(year_papers([loose]))[0]
    assert (row["price"], row["unknown"]) == ("", "2 4 d has no price. triclopyr has no price.")


def test_no_cell_is_a_formula() -> None:
    # Common practice, no source: spreadsheets reckon cells that begin with = + - @.
    window = visit(1).window.model_copy(update={"trigger": '=HYPERLINK("x")'})
    shown = rows(year_papers([visit(1, window=window)], place=PLACE))
    assert shown[0]["window_text"] == '\'=HYPERLINK("x")'
    assert AREAS[0].name == "Front lawn"
