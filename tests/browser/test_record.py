"""The record in Chromium: written on a phone, two tabs, the accessibility audit, and the printed log."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader

from app.season.record import FollowUp
from app.services import follow_ups, record_filling, records
from app.store.opening import Store, open_store
from tests.browser.served import serving
from tests.services.kept import NOW, applied, branch_with

pytestmark = pytest.mark.browser
WIDTHS = {"phone": (390, 844), "desk": (1280, 900)}
FIRST, OPEN, VOID = "key-of-form-00", "key-of-form-01", "key-of-form-02"
PAGES = [
    "/record",
    "/record?technician=Ada+Holm&unfinished=1",
    "/record?all=1",
    "/record?from=nonsense",
    "/record/new",
    "/record/new?property=brindle-yard&area=back",
    f"/record/{FIRST}",
    f"/record/{OPEN}",
    f"/record/{VOID}",
    f"/record/{FIRST}/edit",
    f"/record/{FIRST}/void",
    f"/record/{FIRST}/follow-up",
]


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    opened = open_store(tmp_path_factory.mktemp("record"))
    branch_with(opened)
    for number in range(30):
        told = {"date": f"{date(2027, 6, 2) + timedelta(days=number)}", "area": ["front", "back"][number % 2]}
        whole = {"started": "07:15", "applicator": "Ada Holm", "sprayer": "Blue boom", "notes": f"Note {number}."}
        record = applied(**told, **(whole if number % 3 != 1 else {}))
        records.keep(opened, f"key-of-form-{number:02d}", record_filling.filled_in(opened, record), NOW)
    records.void(opened, VOID, 1, "Ada Holm", "Rained off before a drop was sprayed", NOW)
    one = records.one(opened, FIRST).record
    records.change(opened, FIRST, one.model_copy(update={"started": "07:40"}), 1, "Ben Rusk", "Wrong hour", NOW)
    seen = {"date": "2027-06-25", "ratings": {"smooth-crabgrass": 80}, "text": "Edges left."}
    follow_ups.add_follow_up(opened, "key-of-form-03", FollowUp.model_validate(seen), NOW)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def record_address(store: Store) -> Iterator[str]:
    with serving(store) as where:
        yield where


def _page(browser: Browser, width: str, *, script: bool = True) -> Page:
    wide, high = WIDTHS[width]
    context = browser.new_context(viewport={"width": wide, "height": high}, java_script_enabled=script)
    page = context.new_page()
    page.set_default_timeout(15_000)
    return page


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("path", PAGES)
def test_no_page_breaks_an_accessibility_rule_or_its_width(
    browser: Browser, record_address: str, width: str, path: str
) -> None:
    page = _page(browser, width)
    page.goto(record_address + path)
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDTHS[width][0]
    page.context.close()


def test_a_record_is_written_on_a_phone_and_filled_in_later(browser: Browser, record_address: str) -> None:
    page = _page(browser, "phone", script=False)
    page.goto(f"{record_address}/record/new?property=brindle-yard&area=front")
    expect(page.get_by_label("Property and area")).to_have_value("brindle-yard|front")
    page.get_by_label("Product 1", exact=True).fill("Larkmere Amine")
    page.get_by_label("Product 1 in all", exact=True).fill("a little")
    page.get_by_role("button", name="Keep the record").click()
    expect(page.get_by_role("heading", name="Not kept yet")).to_be_visible()
    expect(page.get_by_label("Product 1 in all", exact=True)).to_have_value("a little")
    page.get_by_label("Product 1 in all", exact=True).fill("3.5")
    page.get_by_role("button", name="Keep the record").click()
    expect(page.get_by_text("The record is kept.")).to_be_visible()
    gaps = page.locator(".hold.open li")
    expect(gaps.filter(has_text="applicator").first).to_be_visible()
    gaps.get_by_role("link", name="time", exact=True).click()
    page.get_by_label("Started").fill("09:20")
    page.get_by_label("Changed by").fill("Ada Holm")
    page.get_by_role("button", name="Keep the change").click()
    expect(page.get_by_text("The change is kept")).to_be_visible()
    expect(page.locator(".hold.open")).not_to_contain_text("time")
    expect(page.locator(".history")).to_contain_text("09:20")
    page.context.close()


def test_the_second_of_two_tabs_is_told_and_loses_nothing(browser: Browser, record_address: str) -> None:
    first = _page(browser, "desk")
    second = first.context.new_page()
    for tab in (first, second):
        tab.goto(f"{record_address}/record/{OPEN}/edit")
    first.get_by_label("Started").fill("10:10")
    first.get_by_role("button", name="Keep the change").click()
    expect(first.get_by_text("The change is kept")).to_be_visible()
    second.get_by_label("Started").fill("10:45")
    second.get_by_label("Notes").fill("Typed in the second tab")
    second.get_by_role("button", name="Keep the change").click()
    expect(second.get_by_role("heading", name="Somebody else was quicker")).to_be_visible()
    expect(second.locator("table.both")).to_contain_text("10:10")
    expect(second.get_by_label("Notes")).to_have_value("Typed in the second tab")
    second.get_by_role("button", name="Keep mine").click()
    expect(second.locator("dl.facts")).to_contain_text("10:45")
    expect(second.locator(".history")).to_contain_text("10:10")
    first.context.close()


def test_a_form_sent_again_with_other_words_keeps_one_record(
    browser: Browser, record_address: str, store: Store
) -> None:
    first = _page(browser, "desk")
    second = first.context.new_page()
    for tab in (first, second):
        tab.goto(f"{record_address}/record/new")
        tab.get_by_label("Product 1", exact=True).fill("Something in a can")
    key = first.locator('input[name="key"]').input_value()
    # The same drawn form in another tab, as a browser that restores its tabs shows it.
    second.locator('input[name="key"]').evaluate("(field, key) => { field.value = key; }", key)
    second.get_by_label("Notes").fill("and more")
    first.get_by_role("button", name="Keep the record").click()
    expect(first.get_by_text("The record is kept.")).to_be_visible()
    second.get_by_role("button", name="Keep the record").click()
    expect(second.get_by_role("heading", name="Somebody else was quicker")).to_be_visible()
    assert records.one(store, key).version == 1
    second.get_by_role("button", name="Keep mine").click()
    expect(second.locator("dl.facts")).to_contain_text("and more")
    first.context.close()


@pytest.mark.parametrize("paper", ["Letter", "A4"])
def test_the_log_prints_whole_with_its_head_on_every_sheet(
    browser: Browser, record_address: str, tmp_path: Path, paper: str
) -> None:
    page = _page(browser, "desk")
    page.goto(f"{record_address}/record?all=1&from=2027-06-01&to=2027-07-31")
    wanted = page.locator(".applied tbody tr").count()
    target = tmp_path / f"log-{paper}.pdf"
    page.pdf(path=str(target), format=paper, prefer_css_page_size=paper == "Letter", landscape=True)
    sheets = PdfReader(target).pages
    assert len(sheets) > 1
    # Letters that a font joins are taken apart again.
    told = [" ".join(unicodedata.normalize("NFKC", sheet.extract_text()).split()) for sheet in sheets]
    for number, text in enumerate(told, start=1):
        assert f"page {number} of {len(sheets)}" in text
        assert "Pellmere branch: record of applications, 1 June 2027 to 31 July 2027" in text
        assert "What was applied" in text
    whole = " ".join(told)
    assert whole.count("Mistlewick Crabgrass LKM-107") == wanted == 30
    assert "Rained off before a drop was sprayed" in whole
    assert "Export" not in whole
    for sheet in sheets:
        assert float(sheet.mediabox.width) > float(sheet.mediabox.height)
    page.context.close()
