"""The paths of the three users in Chromium, at phone and desk width, with an accessibility audit."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader

from tests.browser.conftest import PICTURES

pytestmark = pytest.mark.browser
WIDTHS = {"phone": (390, 844), "desk": (1280, 900)}
QUESTION = (
    "/answer?weed=wild+violet&turf=tall-fescue&zone=cool-humid&date=2027-06-15&stage=flowering&stand=established"
    "&max_temp=82&max_temp_3=84&rain_free=24&wind=5"
)
PAGES = [
    "/",
    QUESTION,
    "/answer?weed=zzzz&max_temp=warm",
    QUESTION.replace("/answer", "/why-not") + "&active=dicamba",
    "/knowledge",
    "/knowledge/matrix?turf=tall-fescue&month=5",
    "/knowledge/calibration",
    "/identify",
    "/identify?plant=broad-leaved&flower-colour=purple",
    "/knowledge/weeds",
    "/knowledge/weeds/wild-violet",
    "/knowledge/weeds/smooth-crabgrass",
    "/knowledge/actives/triclopyr",
    "/knowledge/turf/tall-fescue",
    "/about",
    "/nowhere",
]


def _page(browser: Browser, width: str, *, script: bool = True, dark: bool = False) -> Page:
    wide, high = WIDTHS[width]
    context = browser.new_context(
        viewport={"width": wide, "height": high},
        java_script_enabled=script,
        color_scheme="dark" if dark else "light",
    )
    page = context.new_page()
    page.set_default_timeout(15_000)
    return page


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("path", PAGES)
def test_no_page_breaks_an_accessibility_rule_or_its_width(
    browser: Browser, address: str, width: str, path: str
) -> None:
    page = _page(browser, width)
    page.goto(address + path)
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDTHS[width][0]
    page.context.close()


@pytest.mark.parametrize("path", ["/", QUESTION])
def test_the_dark_theme_keeps_contrast(browser: Browser, address: str, path: str) -> None:
    page = _page(browser, "desk", dark=True)
    page.goto(address + path)
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    page.context.close()


def test_a_rep_asks_what_kills_wild_violet_by_keyboard_alone(browser: Browser, address: str) -> None:
    page = _page(browser, "phone")
    page.goto(address + "/")
    page.locator("#weed").focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("wild voil", delay=30)
    expect(page.locator("#weed-suggestions li").first).to_have_text("wild violet")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    expect(page.locator("#weed")).to_have_value("wild violet")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("wild violet")
    expect(page.locator(".headline")).to_contain_text("triclopyr")
    page.context.close()


def test_a_technician_fills_the_form_without_script(browser: Browser, address: str) -> None:
    page = _page(browser, "desk", script=False)
    page.goto(address + "/?weed=")
    page.fill("#weed", "nutgrass")
    page.select_option("#turf", "kentucky-bluegrass")
    page.locator(".more > summary").click()
    page.fill("#date", "2027-06-20")
    page.fill("#leaves", "6")
    page.fill("#max_temp", "warm")
    page.get_by_role("button", name="Rank programs").click()
    expect(page.locator("#faults")).to_contain_text("is not a number")
    expect(page.locator("#leaves")).to_have_value("6")
    page.fill("#max_temp", "82")
    page.get_by_role("button", name="Rank programs").click()
    expect(page.locator("h1")).to_contain_text("yellow nutsedge")
    expect(page.locator(".program").first).to_contain_text("sulfentrazone")
    page.context.close()


def test_an_account_manager_asks_why_not_and_reads_the_source(browser: Browser, address: str) -> None:
    page = _page(browser, "desk")
    page.goto(address + QUESTION)
    page.select_option("#active", "atrazine")
    page.get_by_role("button", name="Say why").click()
    expect(page.locator(".headline")).to_contain_text("hard stop")
    page.get_by_role("link", name="Back to the answer").click()
    page.locator(".program .cite summary").first.click()
    expect(page.locator(".program .cite[open]").first).to_be_visible()
    page.locator(".program .weedname").first.click()
    expect(page.locator("h1")).to_contain_text("wild violet")
    page.context.close()


def test_metric_is_remembered(browser: Browser, address: str) -> None:
    page = _page(browser, "desk")
    page.goto(address + "/knowledge/actives/triclopyr")
    page.get_by_role("button", name="Show metric units").click()
    expect(page.locator("table").first).to_contain_text("g ae/ha")
    page.goto(address + "/knowledge/actives/2-4-d")
    expect(page.locator("table").first).to_contain_text("g ae/ha")
    page.context.close()


def test_the_answer_prints_whole(browser: Browser, address: str, tmp_path: Path) -> None:
    page = _page(browser, "desk")
    page.goto(address + QUESTION)
    target = tmp_path / "answer.pdf"
    page.pdf(path=str(target), format="Letter", prefer_css_page_size=True)
    text = "\n".join(part.extract_text() for part in PdfReader(target).pages)
    for word in ("triclopyr", "Turned down", "label is the law", "Knowledge version", "page 1 of"):
        assert word in text
    assert "Rank programs" not in text
    page.context.close()


def test_nothing_is_asked_of_another_host(browser: Browser, address: str) -> None:
    page = _page(browser, "desk")
    asked: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: complaints.append(message.text))
    page.goto(address + QUESTION)
    assert all(url.startswith(address) for url in asked)
    assert complaints == []
    page.context.close()


def test_pictures_are_taken(browser: Browser, address: str, tmp_path: Path) -> None:
    # The pictures beside the README are renewed on request, so that a test run leaves the tree as it was.
    folder = PICTURES if os.environ.get("SWARDWRIGHT_PICTURES") else tmp_path
    folder.mkdir(exist_ok=True)
    for width in WIDTHS:
        page = _page(browser, width)
        page.goto(address + QUESTION)
        page.screenshot(path=str(folder / f"answer-{width}.png"))
        page.context.close()
    assert {path.name for path in folder.glob("answer-*.png")} == {"answer-phone.png", "answer-desk.png"}


def test_the_table_of_weeds_prints_on_one_landscape_page(browser: Browser, address: str, tmp_path: Path) -> None:
    page = _page(browser, "desk")
    page.goto(address + "/knowledge/matrix?turf=common-bermudagrass&zone=warm-humid&month=7")
    target = tmp_path / "matrix.pdf"
    page.pdf(path=str(target), prefer_css_page_size=True)
    pages = PdfReader(target).pages
    assert len(pages) == 1
    assert pages[0].mediabox.width > pages[0].mediabox.height
    text = pages[0].extract_text()
    assert "dandelion" in text
    assert "The product label is the law" in text
    page.context.close()
