"""The table of weeds and actives says what the ranking and the single questions say."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.errors import InputError
from app.engine.expect import expect
from app.engine.matrix import Matrix, MatrixQuestion, matrix
from app.engine.recommend import recommend
from app.engine.situation import ExpectRequest, Situation
from app.services.knowledge_service import knowledge_base

QUESTION: dict[str, Any] = {
    "date": "2027-05-15",
    "zone": "transition",
    "site_use": "residential-lawn",
    "turf": "tall-fescue",
}


def table(**changes: Any) -> Matrix:
    return matrix(knowledge_base(), MatrixQuestion.model_validate({**QUESTION, **changes}))


@pytest.fixture(scope="module")
def found() -> Matrix:
    return table()


def test_every_weed_and_every_active_has_its_place(found: Matrix) -> None:
    base = knowledge_base()
    assert {row.weed for row in found.rows} | set(found.left_out) == set(base.weeds)
    assert {column.active for column in found.columns} == set(base.actives)


def test_an_active_is_allowed_or_says_what_stands_against_it(found: Matrix) -> None:
    for column in found.columns:
        assert column.allowed != bool(column.stops), column.active
    barred = {column.active for column in found.columns if not column.allowed}
    assert {"atrazine", "msma", "metsulfuron-methyl"} <= barred


@pytest.mark.parametrize("weed", ["dandelion", "wild-violet", "white-clover"])
def test_what_ranks_is_allowed_and_what_is_turned_down_is_not(found: Matrix, weed: str) -> None:
    situation = {**QUESTION, "turf": ["tall-fescue"], "turf_condition": {"stand": "established"}}
    situation["targets"] = [{"weed": weed}]
    ranking = recommend(knowledge_base(), Situation.model_validate({**situation, "options": {"top": 20}}))
    allowed = {column.active for column in found.columns if column.allowed}
    in_mixtures = {c.active for c in found.columns if {stop.code for stop in c.stops} == {"mixture-only"}}
    ranked = {active for program in ranking.ranked for active in program.actives}
    down = {item.actives[0] for item in ranking.turned_down if len(item.actives) == 1}
    assert ranked
    assert ranked <= allowed | in_mixtures
    assert not down & allowed


def test_a_figure_is_what_expect_says_of_the_same_spray(found: Matrix) -> None:
    row = next(row for row in found.rows if row.weed == "dandelion")
    cell = next(cell for cell in row.cells if cell.active == "2-4-d")
    base = knowledge_base()
    usual = next(r.usual for r in base.actives["2-4-d"].rates if "cool-lawn" in r.turf)
    request = {
        "situation": {
            **QUESTION,
            "turf": ["tall-fescue"],
            "turf_condition": {"stand": "established"},
            "targets": [{"weed": "dandelion"}],
        },
        "program": {
            "applications": [
                {
                    "day": 0,
                    "actives": [{"active": "2-4-d", "form": None, "rate": {"value": usual.value, "unit": usual.unit}}],
                }
            ]
        },
    }
    control = expect(base, ExpectRequest.model_validate(request)).control[0]
    # The matrix takes the better of the forms; the default form may be the weaker one.
    assert control.likely is not None
    assert cell.likely >= control.likely - 0.1
    assert cell.likely == pytest.approx(control.likely, abs=8)


def test_before_emergence_the_barrier_actives_speak() -> None:
    row = next(row for row in table(purpose="before-emergence").rows if row.weed == "smooth-crabgrass")
    assert row.stages == ("not-emerged",)
    likely = {cell.active: cell.likely for cell in row.cells}
    assert likely["prodiamine"] > 60
    assert likely.get("2-4-d", 0) < 10


def test_a_weed_that_is_the_turf_itself_is_left_out() -> None:
    found = table(turf="common-bermudagrass", zone="warm-humid")
    assert "bermudagrass-weed" in found.left_out
    assert "bermudagrass-weed" not in {row.weed for row in found.rows}


def test_every_band_rises_and_has_a_basis(found: Matrix) -> None:
    cells = [cell for row in found.rows for cell in row.cells]
    assert len(cells) > 1000
    for cell in cells:
        assert 0 <= cell.low < cell.likely < cell.high <= 100
        assert cell.basis in ("published", "memory", "common-practice")


def test_an_unknown_turf_is_named() -> None:
    with pytest.raises(InputError) as refused:
        table(turf="astroturf")
    assert "turf" in refused.value.faults[0].path
