"""A technician's evening and day on a phone: a note, a round planned, its papers, a stop done, its record, a rating."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from app.services import branch_demo, shelf
from app.store.opening import Store, open_store
from tests.browser.conftest import PICTURES
from tests.browser.served import serving

pytestmark = pytest.mark.browser
WIDE = 390
# Planning looks at every tank of the shelf on every stop [ms].
PATIENT = 240_000


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path / "kept")
    shelf.fill_demo(opened)
    branch_demo.fill_demo(opened)
    yield opened
    opened.close()


class Phone:
    """A phone that looks at each page it comes to: readable by all, nothing to the side, and a picture of it."""

    def __init__(self, page: Page, folder: Path) -> None:
        self.page, self.folder, self.seen = page, folder, 0

    def looks(self, name: str) -> None:
        found = Axe().run(self.page)
        assert found.violations_count == 0, f"{self.page.url}: {found.generate_report()}"
        assert self.page.evaluate("document.documentElement.scrollWidth") <= WIDE, self.page.url
        self.seen += 1
        self.page.screenshot(path=self.folder / f"round-{self.seen}-{name}.png")


def test_the_evening_before_and_the_day(browser: Browser, store: Store, tmp_path: Path) -> None:
    folder = PICTURES if os.environ.get("SWARDWRIGHT_PICTURES") else tmp_path
    with serving(store) as address:
        page = browser.new_context(viewport={"width": WIDE, "height": 844}, accept_downloads=True).new_page()
        page.set_default_timeout(30_000)
        phone = Phone(page, folder)
        _scouts(phone, address)
        _makes_a_round(phone, address)
        _plans(phone)
        _takes_the_papers(phone, tmp_path)
        _writes_down_what_was_done(phone)
        _rates_it_later(phone)


def _scouts(phone: Phone, address: str) -> None:
    page = phone.page
    page.goto(f"{address}/properties")
    page.locator("#q").fill("3 alder")
    page.keyboard.press("Enter")
    page.get_by_role("link", name="3 Alder Lane").first.click()
    phone.looks("property")
    page.get_by_role("link", name="Note a weed", exact=True).click()
    page.locator("#weed").fill("yellow nutsedge")
    page.locator("#stage").select_option("5-8-leaf")
    page.locator("#cover_exact").fill("12")
    page.locator("#date").fill("2026-07-10")
    phone.looks("note")
    page.get_by_role("button", name="Keep the note").click()
    expect(page.get_by_role("status")).to_be_visible()


def _makes_a_round(phone: Phone, address: str) -> None:
    page = phone.page
    page.goto(f"{address}/round/new")
    page.locator("#date").fill("2027-07-13")
    page.locator("#name").fill("Tuesday, two lawns")
    page.locator("#technician").fill("Jo Sallowby")
    page.locator("#tanks").select_option("1")
    page.locator("#sprayer").select_option("skid-tank-50-gal")
    page.locator("#forecast").select_option("tarnbeck-12-to-18-july-2027")
    page.locator("#q").fill("alder lane")
    page.get_by_role("button", name="Show these properties").click()
    page.get_by_label(re.compile("8 Alder Lane.*Back")).check()
    page.get_by_label(re.compile("12 Alder Lane")).check()
    phone.looks("new")
    page.get_by_role("button", name="Make the round").click()
    expect(page.get_by_role("heading", name="Tuesday, two lawns")).to_be_visible()


def _plans(phone: Phone) -> None:
    page = phone.page
    page.set_default_timeout(PATIENT)
    page.get_by_role("button", name="Plan this round").click()
    expect(page.locator(".headline")).to_contain_text("2 areas: tank A serves 2", timeout=PATIENT)
    page.set_default_timeout(30_000)
    phone.looks("plan")


def _takes_the_papers(phone: Phone, tmp_path: Path) -> None:
    page, back = phone.page, phone.page.url
    with page.expect_download() as coming:
        page.get_by_role("link", name="Phone file").click()
    file = tmp_path / "round.html"
    coming.value.save_as(file)
    away = page.context.browser.new_context(viewport={"width": WIDE, "height": 844}, offline=True)  # type: ignore[union-attr]
    offline = away.new_page()
    offline.goto(file.as_uri())
    expect(offline.get_by_text("8 Alder Lane").first).to_be_visible()
    assert offline.evaluate("document.documentElement.scrollWidth") <= WIDE
    offline.screenshot(path=phone.folder / "round-offline.png")
    away.close()
    page.get_by_role("link", name="Load sheet").click()
    phone.looks("sheet")
    page.goto(back)


def _writes_down_what_was_done(phone: Phone) -> None:
    page = phone.page
    round_ = page.url.partition("?")[0]
    page.get_by_role("button", name=re.compile("Done.*8 Alder Lane, Back")).click()
    expect(page.get_by_role("status")).to_be_visible()
    page.get_by_role("status").get_by_role("link", name="Open the record").click()
    expect(page.locator("main")).to_contain_text("Hazelcote household")
    phone.looks("record")
    record = page.url
    page.goto(f"{record}/edit")
    page.locator("[name='started']").fill("08:10")
    page.locator("[name='finished']").fill("08:35")
    page.locator("[name='weather.temp_f']").fill("71")
    page.locator("[name='weather.wind_mph']").fill("5")
    page.get_by_role("button", name="Keep the change").click()
    expect(page.locator("main")).to_contain_text(re.compile("0?8:10.{0,30}0?8:35", re.DOTALL))
    # The tap again makes no second record, and the customer's slip is at hand.
    page.goto(round_)
    expect(page.get_by_role("link", name="Done: open the record")).to_have_count(1)
    page.get_by_role("link", name=re.compile("Slip.*8 Alder Lane")).first.click()
    phone.looks("slip")
    page.goto(record)


def _rates_it_later(phone: Phone) -> None:
    page = phone.page
    record = page.url
    page.goto(f"{record}/follow-up")
    page.locator("#date").fill("2027-08-10")
    page.locator("#w0").fill("85")
    phone.looks("rating")
    page.get_by_role("button", name="Keep the rating").click()
    expect(page.locator("main")).to_contain_text("85")
    phone.looks("rated")
