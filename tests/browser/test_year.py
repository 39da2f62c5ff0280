"""The year of a lawn at a desk and on a phone: planned, read, changed, tried out, kept; readable by all.

The plan is made by hand, so that no picture waits for the search.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from app.store.opening import Store, open_in_memory
from tests.browser.conftest import PICTURES
from tests.browser.served import serving
from tests.services.year_kept import SEASON, SLUG, place_with, plans_by_hand

pytestmark = pytest.mark.browser
WIDTHS = {"desk": 1280, "phone": 390}


@pytest.fixture
def store(monkeypatch: pytest.MonkeyPatch) -> Iterator[Store]:
    opened = open_in_memory()
    place_with(opened)
    plans_by_hand(monkeypatch)
    yield opened
    opened.close()


def looks(page: Page, folder: Path, name: str) -> None:
    """The page can be read by all, has nothing to the side, and leaves a picture."""
    found = Axe().run(page)
    assert found.violations_count == 0, f"{page.url}: {found.generate_report()}"
    wide = page.viewport_size["width"] if page.viewport_size else 0
    assert page.evaluate("document.documentElement.scrollWidth") <= wide, page.url
    page.screenshot(path=folder / f"year-{name}.png", full_page=True)


@pytest.mark.parametrize("kind", WIDTHS)
@pytest.mark.parametrize("scripts", [True, False], ids=["script", "no-script"])
def test_a_year_from_the_list_to_a_second_version(
    browser: Browser, store: Store, tmp_path: Path, kind: str, scripts: bool
) -> None:
    folder = PICTURES if os.environ.get("SWARDWRIGHT_PICTURES") and scripts else tmp_path
    with serving(store) as address:
        size = {"width": WIDTHS[kind], "height": 900}
        page = browser.new_context(viewport=size, java_script_enabled=scripts).new_page()  # type: ignore[arg-type]
        page.set_default_timeout(30_000)

        def look(name: str) -> None:
            if scripts:
                looks(page, folder, f"{name}-{kind}")

        page.goto(f"{address}/year?season={SEASON}")
        look("list")
        page.get_by_role("link", name="12 Mill Lane").first.click()
        page.locator("#count").fill("4")
        look("none")
        page.get_by_role("button", name="Plan the year").click()
        expect(page.locator(".headline").first).to_contain_text("4 visits.")
        expect(page.get_by_role("img", name="smooth crabgrass: comes up")).to_be_visible()
        look("plan")
        page.get_by_role("link", name=re.compile("Change this visit.*number 2")).click()
        page.locator("[id='v1.date']").fill("2027-05-13")
        page.locator("#ban0").fill("dicamba")
        look("form")
        page.get_by_role("button", name="Plan again").click()
        expect(page.locator(".headline").first).to_contain_text("10.0 points of 100 less expected control")
        look("tried")
        page.get_by_role("button", name="Keep this plan").click()
        expect(page.get_by_role("status")).to_contain_text("Kept")
        page.get_by_role("link", name="Versions (2)").click()
        look("versions")
        page.goto(f"{address}/year/{SLUG}/{SEASON}/again?from=2027-06-01")
        look("again")
        page.goto(f"{address}/year/{SLUG}/2028/edit?carry=2027")
        look("carried")


def test_the_plan_prints_as_a_document(browser: Browser, store: Store) -> None:
    with serving(store) as address:
        page = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
        page.goto(f"{address}/year/{SLUG}/{SEASON}")
        page.get_by_role("button", name="Plan the year").click()
        page.emulate_media(media="print")
        expect(page.locator("nav").first).to_be_hidden()
        expect(page.get_by_role("link", name="Change the plan")).to_be_hidden()
        # What is folded on the screen stands on paper.
        assert all(item.is_visible() for item in page.locator(".yearvisits .dose").all())
        assert page.locator(".yearvisits .dose").count() > 0
        expect(page.locator(".where .printed")).to_be_visible()
