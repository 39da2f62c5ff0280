"""The papers of a year in Chromium: two pages for the customer whatever the year, and the branch's sheet."""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Iterator
from datetime import date
from typing import Any, get_args

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, ViewportSize
from pypdf import PdfReader

from app.services.year_papers import ChosenPlan, Place, YearPapers, papers_of, proposal_of
from app.store.opening import Store, open_in_memory
from app.web import year_papers as web
from app.web.year_show import has_room, priced_in
from knowledge.models.common import SurroundingId
from tests.browser.served import serving
from tests.season.planned import shelf
from tests.season.planned_year import AMINE, AREAS, CREEPER, EARLY, WEEDS, planned_year, visit
from tests.services.year_place import BRANCH, PLACE, asked_year, year_papers

pytestmark = pytest.mark.browser
AT = "year/12-mill-lane/2027"
SIZES: dict[str, ViewportSize] = {"phone": {"width": 390, "height": 844}, "desk": {"width": 1280, "height": 900}}
# A point of type is 1/72 inch; nothing on the proposal is set smaller.
LEAST_POINTS = 10


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[str, Any]]:
    """The address of an app, and what makes it answer with given papers."""
    store = open_in_memory()
    shown: list[YearPapers] = []

    def answered(_store: Store, _property: str, _season: int) -> YearPapers:
        return shown[-1]

    monkeypatch.setattr(web, "papers", answered)
    with serving(store) as address:
        yield f"{address}/{AT}", shown.append
    store.close()


@pytest.fixture
def desk(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport=SIZES["desk"])
    yield context.new_page()
    context.close()


def plain(text: str) -> str:
    """Letters without ligatures, case and spaces, as a reader of the page sees them."""
    return "".join(unicodedata.normalize("NFKC", text).casefold().split())


def crowded(visits: int) -> YearPapers:
    """A year in which every visit meets every weed in soil and leaf, on a place with everything around it."""
    tank = visit(1).applications[0].model_copy(update={"products": (EARLY, AMINE, CREEPER)})
    every = tuple(weed for weed, *_ in WEEDS)
    made = [
        visit(number, area.id, applications=(tank,), against=every) for number in range(1, visits + 1) for area in AREAS
    ]
    around = list(get_args(SurroundingId))
    areas = [
        {**area.model_dump(mode="json"), "surroundings": around, "name": f"{area.name} along the old mill road"}
        for area in AREAS
    ]
    place = Place(
        slug="12-mill-lane",
        name="12 Mill Lane",
        address="1234 Old Tarnbeck Mill Lane Road, Apartment 12, Tarnbeck, Larkmere County",
        customer="Adalbertine Fennimore-Marshwood and family",
    )
    return papers_of(place, BRANCH, ChosenPlan(asked_year(areas=areas), planned_year(made), 2), shelf())


def printed(page: Page, address: str, size: str) -> list[Any]:
    page.goto(address)
    return list(PdfReader(io.BytesIO(page.pdf(format=size))).pages)


def points(page: Any) -> set[float]:
    """Sizes of type that letters of a page are set in [points]."""
    found = set()

    def visit_text(text: str, _at: list[float], matrix: list[float], _font: Any, size: float) -> None:
        if text.strip():
            found.add(round(abs(size * matrix[3] * _at[3]), 1))

    page.extract_text(visitor_text=visit_text)
    return found


@pytest.mark.parametrize("size", ["Letter", "A4"])
@pytest.mark.parametrize("visits", [4, 5, 6, 7, 8])
def test_the_proposal_is_two_pages_with_all_that_it_promises(
    served: tuple[str, Any], desk: Page, visits: int, size: str
) -> None:
    address, show = served
    found = year_papers(visits)
    show(found)
    pages = printed(desk, f"{address}/proposal", size)
    assert len(pages) == 2
    width, height = (612, 792) if size == "Letter" else (595, 842)
    box = pages[0].mediabox
    assert (float(box.width), float(box.height)) == (pytest.approx(width, abs=1), pytest.approx(height, abs=1))
    first, second = (plain(page.extract_text()) for page in pages)
    made = proposal_of(found, date(2027, 2, 1))
    for one in made.visits:
        assert one.price is not None
        for words in (one.when, priced_in(one.price, "USD"), *(part.what for part in one.purposes)):
            assert plain(words) in first, words
        assert all(plain(part.why) in first for part in one.purposes)
    assert made.price is not None
    for words in (made.promise, priced_in(made.price, "USD"), made.payment, "Ada Fenn", "555-0134", "This offer holds"):
        assert plain(words) in first, words
    for weed in made.expected:
        assert plain(weed.name) in second
        assert plain(f"{weed.likely:.0f} ({weed.low:.0f} to {weed.high:.0f})") in second
    for line in made.lines:
        assert plain(line.text) in (first if line.part == "pay" else second), line.code
    assert plain("signature, date") in second
    assert plain("Back to the year") not in first


@pytest.mark.parametrize("size", ["Letter", "A4"])
@pytest.mark.parametrize("visits", [4, 6, 8])
def test_a_crowded_year_holds_two_pages_too(served: tuple[str, Any], desk: Page, visits: int, size: str) -> None:
    address, show = served
    found = crowded(visits)
    show(found)
    pages = printed(desk, f"{address}/proposal", size)
    assert len(pages) == 2
    whole = plain("".join(page.extract_text() for page in pages))
    assert not has_room(proposal_of(found, date(2027, 2, 1)))
    for line in proposal_of(found, date(2027, 2, 1)).lines:
        assert plain(line.text) in whole, line.code
    assert plain("Fennimore-Marshwood and family: signature, date") in whole


@pytest.mark.parametrize("visits", [4, 8])
def test_no_letter_of_the_proposal_is_too_small_to_read(served: tuple[str, Any], desk: Page, visits: int) -> None:
    address, show = served
    for found in (year_papers(visits), crowded(visits)):
        show(found)
        for page in printed(desk, f"{address}/proposal", "Letter"):
            assert min(points(page)) >= LEAST_POINTS - 0.05


def test_a_price_that_is_not_known_is_left_to_be_written(served: tuple[str, Any], desk: Page) -> None:
    address, show = served
    show(year_papers(branch=BRANCH.model_copy(update={"pricing": None})))
    desk.goto(f"{address}/proposal")
    text = desk.get_by_role("main").inner_text()
    assert "Price for the year:" in text
    assert "$" not in text


@pytest.mark.parametrize("view", sorted(SIZES))
@pytest.mark.parametrize("paper", ["proposal", "sheet"])
def test_a_paper_can_be_read_by_everybody(served: tuple[str, Any], browser: Browser, paper: str, view: str) -> None:
    address, show = served
    show(year_papers(6))
    context = browser.new_context(viewport=SIZES[view])
    page = context.new_page()
    page.goto(f"{address}/{paper}")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert Axe().run(page).response["violations"] == []
    context.close()


@pytest.mark.parametrize("size", ["Letter", "A4"])
def test_the_sheet_prints_every_tank_amount_and_figure(served: tuple[str, Any], desk: Page, size: str) -> None:
    address, show = served
    found = year_papers(8)
    show(found)
    pages = printed(desk, f"{address}/sheet", size)
    whole = plain("".join(page.extract_text() for page in pages))
    for call in found.calls:
        for part in call.parts:
            for tank in part.applications:
                for product in tank.products:
                    assert plain(str(product.product)) in whole
    assert found.price is not None
    for price in (*(one.price for one in found.price.visits), found.price.price):
        assert plain(f"{price:,.2f}") in whole
    for words in (PLACE.address, found.plan.knowledge_version, "2.46 fl oz", "3.72 fl oz", "For the branch alone"):
        assert plain(words) in whole, words
    assert plain(f"page {len(pages)} of {len(pages)}") in whole
