"""The way of a manager in autumn: plan the branch, watch it, see the order and the load, use a plan."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from app.services import properties, shelf
from app.store.opening import Store, open_store
from tests.browser.served import serving

pytestmark = pytest.mark.browser
# A process of its own has to start, load the knowledge and plan [ms].
_PLANNED_WITHIN = 180_000


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Three lawns, two of them alike."""
    opened = open_store(tmp_path)
    shelf.fill_demo(opened)
    for name, turf in (("1 Mill Lane", "tall-fescue"), ("3 Mill Lane", "tall-fescue"), ("5 Mill Lane", "fine-fescue")):
        size = {"value": 6000, "unit": "ft2"}
        lawn = {"name": "Lawn", "turf": [turf], "area": size, "site_use": "residential-lawn", "stand": "established"}
        slug = properties.add(opened, {"name": name, "zone": "cool-humid", "areas": [lawn]}).slug
        note = {"area": "lawn", "weed": "dandelion", "date": "2026-07-01", "cover_pct": 10}
        properties.add_note(opened, slug, note)
    yield opened
    opened.close()


@pytest.fixture
def address(store: Store) -> Iterator[str]:
    with serving(store) as where:
        yield where


def _begun(page: Page, address: str) -> None:
    page.goto(f"{address}/branch/year")
    page.get_by_label("Season").fill("2027")
    page.get_by_label("Visits").first.fill("2")
    page.get_by_role("button", name="Plan the branch").click()


def _looks(page: Page) -> None:
    """Readable by all, and nothing to the side."""
    found = Axe().run(page)
    assert found.violations_count == 0, f"{page.url}: {found.generate_report()}"
    assert page.evaluate("document.documentElement.scrollWidth") <= 390, page.url


def test_a_branch_is_planned_watched_and_used(browser: Browser, address: str) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(f"{address}/branch/year")
    _looks(page)
    _begun(page, address)
    _looks(page)
    # Nobody touches the page: it tells by itself when all is planned.
    expect(page.locator("#job-text")).to_have_text("Done: 3 properties in 2 situations.", timeout=_PLANNED_WITHIN)
    expect(page.get_by_text("3 properties are planned")).to_be_visible()
    _looks(page)
    page.get_by_role("link", name="Order of the season").click()
    expect(page.get_by_role("heading", name="Order of the season 2027")).to_be_visible()
    _looks(page)
    page.get_by_role("link", name="The branch in 2027").click()
    page.get_by_role("link", name="Load by week").click()
    expect(page.get_by_role("heading", name="Load of the season 2027")).to_be_visible()
    _looks(page)
    page.get_by_role("link", name="The branch in 2027").click()
    page.get_by_role("link", name="Plan for 1 Mill Lane").click()
    _looks(page)
    page.get_by_role("button", name="Use this plan").click()
    _looks(page)
    page.get_by_role("link", name="Open its year").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("1 Mill Lane")
    assert faults == []
    page.close()


def test_without_script_the_page_looks_again_by_itself(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    _begun(page, address)
    expect(page.locator("#job-text")).to_have_text("Done: 3 properties in 2 situations.", timeout=_PLANNED_WITHIN)
    page.get_by_text("Use these plans").click()
    page.get_by_role("button", name="Use all of them").click()
    expect(page.get_by_text("3 properties hold their plan in their year now.")).to_be_visible()
    context.close()
