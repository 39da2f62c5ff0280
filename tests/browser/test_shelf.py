"""The shelf in Chromium: a product by hand, a file, a conflict; without script, at phone and desk width."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from app.services import shelf
from app.store.opening import Store, open_store
from tests.browser.served import serving
from tests.services.test_shelf_csv import CELLS, sheet

pytestmark = pytest.mark.browser
WIDTHS = {"phone": (390, 844), "desk": (1280, 900)}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path)
    yield opened
    opened.close()


@pytest.fixture
def address(store: Store) -> Iterator[str]:
    """Address of an app with a shelf of its own, its forms guarded as they are in use."""
    with serving(store) as where:
        yield where


def opened(browser: Browser, width: str, *, script: bool = True) -> Page:
    wide, high = WIDTHS[width]
    page = browser.new_context(viewport={"width": wide, "height": high}, java_script_enabled=script).new_page()
    page.set_default_timeout(15_000)
    return page


def type_label(page: Page, address: str) -> None:
    """A label, with a slip: an ounce that does not say which."""
    page.goto(f"{address}/shelf/new")
    page.get_by_label("Name", exact=True).fill("Trial Ester")
    page.get_by_label("Formulation").select_option("EC")
    page.get_by_label("Active 1", exact=True).select_option("2-4-d|2-4-d-bee")
    page.get_by_label("Content 1", exact=True).fill("4 lb ae/gal")
    page.get_by_text("Line 1, turf").click()
    page.locator('input[name="rates.0.turf"][value="tall-fescue"]').check()
    page.get_by_label("Low rate").first.fill("32 oz/acre")
    page.get_by_label("Not above").first.fill("95")


@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
@pytest.mark.parametrize("width", WIDTHS)
def test_a_product_is_added_by_hand(browser: Browser, address: str, store: Store, width: str, script: bool) -> None:
    page = opened(browser, width, script=script)
    page.goto(f"{address}/shelf")
    expect(page.get_by_text("The shelf is empty.")).to_be_visible()
    type_label(page, address)
    page.get_by_role("button", name="Add another line of rates").click()
    expect(page.get_by_text("Line 3, turf")).to_be_visible()
    page.locator("button.go").click()
    expect(page.get_by_role("alert")).to_contain_text("does not say which ounce")
    assert shelf.shelf_products(store) == ()
    page.get_by_label("Low rate").first.fill("32 fl oz/acre")
    page.get_by_role("button", name="Look over without storing").click()
    expect(page.get_by_text("you typed 95 °F")).to_be_visible()
    page.locator("button.go").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Trial Ester")
    expect(page.get_by_text("Check these against the label")).to_be_visible()
    (kept,) = shelf.shelf_products(store)
    assert str(kept.rates[0].high.quantity) == "32 fl oz/acre"


def test_the_enter_key_stores_and_adds_no_line(browser: Browser, address: str, store: Store) -> None:
    page = opened(browser, "desk")
    type_label(page, address)
    page.get_by_label("Low rate").first.fill("32 fl oz/acre")
    page.get_by_label("Name", exact=True).press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Trial Ester")


@pytest.mark.parametrize("width", WIDTHS)
def test_a_file_is_previewed_and_imported(
    browser: Browser, address: str, store: Store, tmp_path: Path, width: str
) -> None:
    file = tmp_path / "shelf.csv"
    file.write_text(sheet(CELLS, {**CELLS, "name": "Bad", "packs": "0 gal"}), encoding="utf-8-sig")
    page = opened(browser, width, script=False)
    page.goto(f"{address}/shelf/import")
    page.get_by_label("File").set_input_files(file)
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_text("more than zero")).to_be_visible()
    page.get_by_label("Leave out the 1 row").check()
    page.get_by_role("button", name="Import 1 product").click()
    expect(page.get_by_text("1 new, 0 changed, 0 unchanged, 1 left out")).to_be_visible()
    assert [item.name for item in shelf.shelf_products(store)] == ["Trial Broadleaf 4"]


def test_two_people_change_one_product(browser: Browser, address: str, store: Store) -> None:
    shelf.fill_demo(store)
    first, second = opened(browser, "phone"), opened(browser, "desk")
    for page, notes in ((first, "mine"), (second, "theirs")):
        page.goto(f"{address}/shelf/larkmere-amine/edit")
        page.get_by_label("Notes", exact=True).fill(notes)
    second.locator("button.go").click()
    expect(second.get_by_role("heading", level=1)).to_have_text("Larkmere Amine")
    first.locator("button.go").click()
    expect(first.get_by_role("alert")).to_contain_text("Somebody else was quicker")
    expect(first.get_by_role("cell", name="theirs")).to_be_visible()
    assert shelf.product_named(store, "larkmere-amine")[0].notes == "theirs"
    first.locator("button.go").click()
    expect(first.get_by_role("heading", level=1)).to_have_text("Larkmere Amine")
    assert shelf.product_named(store, "larkmere-amine")[0].notes == "mine"


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_of_the_shelf_breaks_an_accessibility_rule_or_its_width(
    browser: Browser, address: str, store: Store, width: str
) -> None:
    shelf.fill_demo(store)
    page = opened(browser, width)
    for path in ("", "/new", "/import", "/larkmere-three", "/linnetby-bright/edit", "/larkmere-three/remove"):
        page.goto(f"{address}/shelf{path}")
        found = Axe().run(page)
        assert found.violations_count == 0, f"{path}: {found.generate_report()}"
        assert page.evaluate("document.documentElement.scrollWidth") <= WIDTHS[width][0], path
