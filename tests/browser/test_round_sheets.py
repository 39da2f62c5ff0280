"""Rounds in Chromium: the pages, the papers as they print, and the phone's file away from any network."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from pypdf import PdfReader

from app.season.load_output import LoadSheet
from app.services.round_papers import Head, papers, slip
from app.services.rounds import KeptRound
from app.store.opening import Store, open_store
from app.web.round_show import exact
from tests.browser.served import serving
from tests.season import planned
from tests.web.round_store import keep_places, keep_round

pytestmark = pytest.mark.browser
SIZES = {"phone": {"width": 390, "height": 844}, "desk": {"width": 1280, "height": 900}}


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, KeptRound, str]]:
    """A store with a planned round, and the address where it is served."""
    store = open_store(tmp_path_factory.mktemp("rounds"))
    keep_places(store)
    made = keep_round(store)
    with serving(store) as where:
        yield store, made, where
    store.close()


@pytest.fixture(params=sorted(SIZES))
def page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    context = browser.new_context(viewport=SIZES[request.param])
    yield context.new_page()
    context.close()


def sheet_of(store: Store, made: KeptRound) -> LoadSheet:
    assert made.plan is not None
    head = Head(made.slug, made.round.name, made.version, made.round.technician, made.round.sprayer or "")
    return papers(store, head, made.plan, "us").sheet


def plain(text: str) -> str:
    """Letters without ligatures, case and spaces, as a reader of the page sees them."""
    return "".join(unicodedata.normalize("NFKC", text).casefold().split())


def printed(browser: Browser, address: str, size: str) -> tuple[list[str], Any]:
    """The text of each page as it prints, and the document."""
    context = browser.new_context(viewport=SIZES["desk"])
    sheet = context.new_page()
    sheet.goto(address)
    found = PdfReader(io.BytesIO(sheet.pdf(format=size)))
    context.close()
    return [plain(part.extract_text()) for part in found.pages], found


def fits(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"))


@pytest.mark.parametrize("path", ["", "/new", "/{slug}", "/{slug}/change", "/{slug}/sheet", "/{slug}/slip/pond-house"])
def test_a_page_fits_and_can_be_used_by_everybody(kept: tuple[Store, KeptRound, str], page: Page, path: str) -> None:
    _, made, address = kept
    page.goto(f"{address}/round{path.format(slug=made.slug)}")
    for fold in page.locator("main details:not(.cite) > summary").all():
        fold.click()
    assert fits(page)
    assert Axe().run(page).response["violations"] == []


def test_a_round_is_made_and_found_again(kept: tuple[Store, KeptRound, str], page: Page) -> None:
    _, _, address = kept
    name = f"South side {page.viewport_size}"
    page.goto(f"{address}/round/new")
    page.get_by_label("Day", exact=True).fill("2027-06-23")
    page.get_by_label("Name", exact=True).fill(name)
    page.get_by_label("Search", exact=True).fill("rose")
    page.get_by_role("button", name="Show these properties").click()
    page.get_by_label(re.compile("Rose Cottage")).check()
    page.get_by_label("Search", exact=True).fill("pond")
    page.get_by_role("button", name="Show these properties").click()
    page.get_by_label(re.compile("Pond House")).check()
    page.get_by_role("button", name="Make the round").click()
    assert page.get_by_role("heading", level=1).inner_text() == name
    assert "2 stops, not planned yet" in page.get_by_role("main").inner_text()


@pytest.mark.parametrize("size", ["Letter", "A4"])
def test_the_sheet_prints_every_stop_and_amount(
    kept: tuple[Store, KeptRound, str], browser: Browser, size: str
) -> None:
    store, made, address = kept
    pages, document = printed(browser, f"{address}/round/{made.slug}/sheet", size)
    whole, sheet = "".join(pages), sheet_of(store, made)
    # In points: letter is 8.5 by 11 inches, A4 210 by 297 mm.
    width, height = (612, 792) if size == "Letter" else (595, 842)
    for number, text in enumerate(pages, start=1):
        box = document.pages[number - 1].mediabox
        assert (float(box.width), float(box.height)) == (pytest.approx(width, abs=1), pytest.approx(height, abs=1))
        assert plain(f"page {number} of {len(pages)}") in text
    for tank in sheet.tanks:
        for fill in tank.fills:
            assert plain(fill.title) in whole
            for pour in fill.pours:
                assert plain(pour.said) in whole
    for stop in sheet.stops:
        assert plain(stop.property_name) in whole
        assert plain(stop.address) in whole
        assert stop.spray is not None
        for amount in (stop.spray, *(item.amount for item in stop.amounts)):
            assert plain(exact(amount)) in whole
    for rest in sheet.waiting:
        assert plain(rest.property_name) in whole
        assert all(plain(why.text) in whole for why in rest.why)
    for words in ("Ada Marsh", "LK-A-118", "Tuesday, 22 June 2027", sheet.knowledge_version, "fill 1, then", "Signed"):
        assert plain(words) in whole, words
    # No navigation on paper.
    assert plain("Back to the round") not in whole


@pytest.mark.parametrize("size", ["Letter", "A4"])
@pytest.mark.parametrize("property", ["hill-house", "pond-house", "rose-cottage", "mill-works"])
def test_a_slip_is_one_page(kept: tuple[Store, KeptRound, str], browser: Browser, property: str, size: str) -> None:
    store, made, address = kept
    assert made.plan is not None
    head = Head(made.slug, made.round.name, made.version, made.round.technician, made.round.sprayer or "")
    told = slip(papers(store, head, made.plan, "us"), property)
    pages, _ = printed(browser, f"{address}/round/{made.slug}/slip/{property}", size)
    assert len(pages) == 1
    for line, _ in told.lines:
        assert plain(line.text) in pages[0], line.text
    for words in (told.property_name, "555-0134", "LK-A-118", "Ada Marsh", "Date", "Time, from"):
        assert plain(words) in pages[0], words


def test_a_slip_of_three_areas_is_one_page(browser: Browser, tmp_path: Path) -> None:
    store = open_store(tmp_path)
    keep_places(store)
    first, second, third, sedge, *rest = planned.stops()
    home = {"property": first.property, "property_name": first.property_name, "address": first.address}
    every = (
        first,
        second.model_copy(update={**home, "area": "back", "area_name": "back lawn by the pond"}),
        third.model_copy(update={**home, "area": "side", "area_name": "side lawn along the hedge"}),
        sedge.model_copy(update={**home, "area_name": "yard and roadside verge"}),
        *rest,
    )
    made = keep_round(store, planned.planned(stops=every))
    with serving(store) as address:
        for size in ("Letter", "A4"):
            pages, _ = printed(browser, f"{address}/round/{made.slug}/slip/{first.property}", size)
            assert len(pages) == 1
            assert all(plain(stop.area_name) in pages[0] for stop in every[:4])
    store.close()


def test_the_phone_file_needs_no_network_and_no_server(
    kept: tuple[Store, KeptRound, str], browser: Browser, tmp_path: Path
) -> None:
    store, made, address = kept
    context = browser.new_context(viewport=SIZES["phone"])
    page = context.new_page()
    page.goto(f"{address}/round/{made.slug}")
    with page.expect_download() as loading:
        page.get_by_role("link", name="Phone file").click()
    file = tmp_path / loading.value.suggested_filename
    loading.value.save_as(file)
    context.close()
    for script in (True, False):
        context = browser.new_context(viewport=SIZES["phone"], offline=True, java_script_enabled=script)
        page = context.new_page()
        asked: list[str] = []
        page.on("request", lambda request, asked=asked: asked.append(request.url))
        page.goto(file.as_uri())
        assert asked == [file.as_uri()]
        for stop in sheet_of(store, made).stops:
            fold = page.locator(f"#stop-{stop.number}")
            fold.locator("> summary").click()
            text = plain(fold.inner_text())
            for item in stop.amounts:
                assert plain(exact(item.amount)) in text
            for line in (*(c.text for c in stop.cautions), *(c.text for c in stop.customer_lines if c.part != "law")):
                assert plain(line.replace("85 F", "85 °F")) in text
            assert plain(stop.address) in text
        asked_for = page.evaluate("document.documentElement.scrollWidth") if script else SIZES["phone"]["width"]
        assert asked_for <= SIZES["phone"]["width"]
        context.close()


def test_what_is_typed_into_the_phone_file_stays_on_the_phone(
    kept: tuple[Store, KeptRound, str], browser: Browser, tmp_path: Path
) -> None:
    _, made, address = kept
    context = browser.new_context(viewport=SIZES["phone"])
    page = context.new_page()
    file = tmp_path / "sheet.html"
    file.write_bytes(context.request.get(f"{address}/round/{made.slug}/sheet.html").body())
    page.goto(file.as_uri())
    page.locator("#stop-1 > summary").click()
    assert Axe().run(page).response["violations"] == []
    page.get_by_label("Started").first.fill("07:45")
    page.get_by_label("Note").first.fill("gate was locked")
    assert "kept on this phone" in page.locator("#keeping").inner_text()
    page.reload()
    assert page.locator("#from-1").input_value() == "07:45"
    assert page.locator("#note-1").input_value() == "gate was locked"
    context.close()
