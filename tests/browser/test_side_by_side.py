"""Side by side in Chromium: the form without script, the accessibility audit, and the printed page."""

from __future__ import annotations

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader

pytestmark = pytest.mark.browser
WIDTHS = {"phone": (390, 844), "desk": (1280, 900)}
PLACE = (
    "turf=tall-fescue&zone=cool-humid&date=2027-05-20&stand=established&max_temp=74&max_temp_3=78&rain_free=24"
    "&wind=5&stress=none&carrier=1.5"
)
WEEDS = (
    "weed=ground+ivy&weed_2=prostrate+knotweed&weed_3=dandelion&weed_4=white+clover&weed_5=wild+violet"
    "&weed_6=buckhorn+plantain"
)
TWO = "side_1=mixture:2-4-d-mecoprop-p-dicamba&side_2=mixture:2-4-d-triclopyr"
FOUR = f"{TWO}&active_3_1=triclopyr&rate_3_1=0.75&adjuvant_3=nis&times_3=2&active_4_1=sulfentrazone&rate_4_1=0.25"
CASES = {
    "two-one": f"/side-by-side?weed=ground+ivy&{PLACE}&{TWO}",
    "two-six": f"/side-by-side?{WEEDS}&{PLACE}&{TWO}&surroundings=tree-roots",
    "four-one": f"/side-by-side?weed=wild+violet&{PLACE}&{FOUR}",
    "four-six": f"/side-by-side?{WEEDS}&{PLACE}&{FOUR}",
}
PAGES = ["/side-by-side", *CASES.values(), "/side-by-side?weed=zzzz&side_1=mixture:2-4-d-triclopyr&rate_2_1=x"]


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


def test_the_dark_theme_keeps_contrast(browser: Browser, address: str) -> None:
    page = _page(browser, "desk", dark=True)
    page.goto(address + CASES["two-six"])
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    page.context.close()


@pytest.mark.parametrize("paper", ["Letter", "A4"])
@pytest.mark.parametrize("case", CASES)
def test_it_prints_on_one_page_with_nothing_cut(
    browser: Browser, address: str, tmp_path: Path, case: str, paper: str
) -> None:
    page = _page(browser, "desk")
    page.goto(address + CASES[case])
    marks = page.locator(".cautions > .findings > li").count()
    target = tmp_path / f"{case}-{paper}.pdf"
    page.pdf(path=str(target), format=paper)
    pages = PdfReader(target).pages
    assert len(pages) == 1
    text = " ".join(pages[0].extract_text().split())
    for words in ("Side by side", "20 May 2027", "tall fescue", "Knowledge version", "label is the law", "likely"):
        assert words in text
    assert "Keep people and pets off until the spray has dried" in text
    said = sum(text.count(word) for word in ("Unknown ", "Caution ", "Note "))
    assert said >= marks
    for navigation in ("Compare sides", "Show metric units", "Identify"):
        assert navigation not in text
    page.context.close()


def test_a_rep_compares_two_mixtures_without_script(browser: Browser, address: str) -> None:
    page = _page(browser, "desk", script=False)
    page.goto(address + "/side-by-side?weed=ground+ivy")
    expect(page.locator("#faults")).to_contain_text("must be chosen")
    page.select_option("#side_1", "mixture:2-4-d-mecoprop-p-dicamba")
    page.select_option("#side_2", "mixture:2-4-d-triclopyr")
    page.get_by_role("button", name="Compare sides").click()
    expect(page.locator(".headline")).to_contain_text("ground ivy")
    expect(page.locator(".apart")).to_contain_text("carries")
    page.context.close()


def test_the_page_is_reached_from_the_navigation(browser: Browser, address: str) -> None:
    page = _page(browser, "phone")
    page.goto(address + "/")
    page.get_by_role("link", name="Side by side").click()
    expect(page.locator("h1")).to_have_text("Side by side")
    page.context.close()
