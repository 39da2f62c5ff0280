"""Trials in Chromium: a file imported by clicking, a trial read, changed by two, and printed as a report."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader

from app.services import trials
from app.store.opening import Store, open_store
from tests.browser.served import serving

pytestmark = pytest.mark.browser
WIDTHS = {"phone": (390, 844), "desk": (1280, 900)}
DEMO = Path(__file__).parents[2] / "demo_data" / "trials"
CLOVER = "/trials/larkmere-dandelion-clover-2026"
PAGES = (
    *("/trials", "/trials/import", "/trials/rate", "/trials/synthesis"),
    "/trials/synthesis?weed=wild-violet&treatment=triclopyr",
    *(CLOVER, f"{CLOVER}/edit", f"{CLOVER}/remove", "/trials/larkmere-violet-rates-2026"),
)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path / "kept")
    yield opened
    opened.close()


@pytest.fixture
def address(store: Store) -> Iterator[str]:
    """Address of an app with trials of its own, its forms guarded as they are in use."""
    with serving(store) as where:
        yield where


def opened(browser: Browser, width: str, *, script: bool = True, dark: bool = False) -> Page:
    wide, high = WIDTHS[width]
    context = browser.new_context(
        viewport={"width": wide, "height": high},
        java_script_enabled=script,
        color_scheme="dark" if dark else "light",
    )
    page = context.new_page()
    page.set_default_timeout(20_000)
    return page


def sound(page: Page, width: str) -> None:
    """No rule of accessibility is broken, and nothing is scrolled to the side."""
    found = Axe().run(page)
    assert found.violations_count == 0, f"{page.url}: {found.generate_report()}"
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDTHS[width][0], page.url


def unfold(page: Page) -> None:
    page.evaluate("for (const fold of document.querySelectorAll('main details')) fold.open = true")


@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
@pytest.mark.parametrize("width", WIDTHS)
def test_the_demo_file_is_imported_by_clicking(
    browser: Browser, address: str, store: Store, width: str, script: bool
) -> None:
    page = opened(browser, width, script=script)
    page.goto(f"{address}/trials")
    page.get_by_role("link", name="Import plots").click()
    page.get_by_label("File").set_input_files(DEMO / "dandelion-clover.csv")
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("What was understood")
    expect(page.get_by_text("Nothing is kept yet")).to_be_visible()
    assert trials.listing(store) == ()
    if script:
        sound(page, width)
    page.get_by_role("button", name="Keep 1 trial").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Larkmere dandelion clover 2026")
    expect(page.locator(".headline").first).to_contain_text("94")
    assert len(trials.listing(store)) == 1


@pytest.mark.parametrize("width", WIDTHS)
def test_columns_of_other_names_are_told(
    browser: Browser, address: str, store: Store, tmp_path: Path, width: str
) -> None:
    file = tmp_path / "plots.csv"
    text = (DEMO / "dandelion-clover.csv").read_text(encoding="utf-8-sig")
    file.write_text(text.replace(",treatment,", ",What went on,", 1), encoding="utf-8")
    page = opened(browser, width)
    page.goto(f"{address}/trials/import")
    page.get_by_label("File").set_input_files(file)
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_role("alert")).to_contain_text("No column is found for treatment")
    sound(page, width)
    page.get_by_label("Treatment", exact=True).select_option("What went on")
    page.get_by_role("button", name="Preview").click()
    page.get_by_role("button", name="Keep 1 trial").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Larkmere dandelion clover 2026")


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_of_trials_breaks_an_accessibility_rule_or_its_width(
    browser: Browser, address: str, store: Store, width: str
) -> None:
    trials.fill_demo(store)
    page = opened(browser, width)
    for path in PAGES:
        page.goto(address + path)
        sound(page, width)
        unfold(page)
        sound(page, width)


def test_the_dark_theme_keeps_contrast(browser: Browser, address: str, store: Store) -> None:
    trials.fill_demo(store)
    page = opened(browser, "desk", dark=True)
    for path in PAGES:
        page.goto(address + path)
        sound(page, "desk")


@pytest.mark.parametrize("width", WIDTHS)
def test_every_picture_of_a_trial_is_drawn(browser: Browser, address: str, store: Store, width: str) -> None:
    trials.fill_demo(store)
    page = opened(browser, width)
    page.goto(address + CLOVER, wait_until="networkidle")
    unfold(page)
    pictures = page.locator(".chart img")
    assert pictures.count() >= 6
    for picture in pictures.all():
        assert picture.evaluate("image => image.decode().then(() => image.naturalWidth)") > 0


def test_a_rating_of_lawns_is_added_without_script(browser: Browser, address: str, store: Store) -> None:
    page = opened(browser, "phone", script=False)
    page.goto(f"{address}/trials/rate")
    expect(page.get_by_text("Weaker evidence")).to_be_visible()
    page.get_by_label("Weed", exact=True).fill("wild violet")
    page.get_by_label("Stage when it was sprayed").select_option("flowering")
    page.get_by_label("Active 1", exact=True).select_option("triclopyr|triclopyr-bee")
    page.get_by_label("Rate 1", exact=True).fill("1")
    page.get_by_label("Lawn 1", exact=True).fill("12 Mill Lane")
    page.get_by_label("Control seen on lawn 1").fill("80")
    page.locator("button.go").click()
    expect(page.get_by_role("alert")).to_contain_text("count the days")
    page.get_by_label("Rated after").fill("28")
    page.locator("button.go").click()
    expect(page.locator(".headline").first).to_contain_text("80")
    assert [item.kind for item in trials.listing(store)] == ["lawns"]


def test_two_people_change_one_trial(browser: Browser, address: str, store: Store) -> None:
    trials.fill_demo(store)
    first, second = opened(browser, "phone"), opened(browser, "desk")
    for page, notes in ((first, "mine"), (second, "theirs")):
        page.goto(f"{address}{CLOVER}/edit")
        page.get_by_label("Notes", exact=True).fill(notes)
    second.locator("button.go").click()
    expect(second.get_by_role("status")).to_have_text("The change is kept.")
    first.locator("button.go").click()
    expect(first.get_by_role("alert")).to_contain_text("Somebody else was quicker")
    expect(first.get_by_role("cell", name="theirs")).to_be_visible()
    sound(first, "phone")
    first.get_by_role("button", name="Keep mine").click()
    expect(first.get_by_role("status")).to_have_text("The change is kept.")
    assert trials.one(store, CLOVER.rpartition("/")[2]).trial.notes == "mine"


def tight(text: str) -> str:
    """A text without its white space: a line may end after any hyphen of a name."""
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("paper", ["Letter", "A4"])
def test_it_prints_as_a_report_with_nothing_cut(
    browser: Browser, address: str, store: Store, tmp_path: Path, paper: str
) -> None:
    trials.fill_demo(store)
    page = opened(browser, "desk")
    page.goto(address + CLOVER, wait_until="networkidle")
    report = trials.report_of(store, CLOVER.rpartition("/")[2])
    target = tmp_path / f"{paper}.pdf"
    page.pdf(path=str(target), format=paper)
    sheets = PdfReader(target).pages
    # Fonts join some letters into one sign.
    text = unicodedata.normalize("NFKC", " ".join(sheet.extract_text() for sheet in sheets))
    text = re.sub(r"\s+", " ", text)
    assert f"page {len(sheets)} of {len(sheets)}" in text
    # What stands under every sheet comes between the halves of a sentence.
    text = re.sub(r"page \d+ of \d+ ?The product label is the law\. ?", "", text)
    for words in ("Larkmere dandelion clover 2026", "Pellmere", "8 September 2026", "Knowledge version"):
        assert words in text
    # A report to hand out: two weeds at two dates.
    assert len(sheets) <= 6
    latest = {
        weed: max(a.days_after for a in report.analyses if a.weed == weed) for weed in ("dandelion", "white-clover")
    }
    for analysis in report.analyses:
        # Earlier dates are folded on the screen and printed with figures and letters.
        assert tight(analysis.headline) in tight(text)
        for row in analysis.shown.means:
            if row.in_analysis:
                assert (
                    f"{row.treatment} {row.n} {row.mean:.1f} {row.low:.0f} to {row.high:.0f} {row.letter_lsd}" in text
                )
        leader = max((row for row in analysis.shown.means if row.in_analysis), key=lambda row: row.mean).treatment
        for said in analysis.shown.comparisons:
            whole = analysis.days_after == latest[analysis.weed] and leader in (said.a, said.b)
            assert (tight(said.text) in tight(text)) == whole
    assert text.count("Grand mean") == len(latest)
    assert text.count("More on the page of the trial") == 1
    for navigation in ("Show metric units", "Remove it", "as PNG", "Identify", "moves nothing, and why"):
        assert navigation not in text


def test_a_printed_chart_is_legible_and_whole(browser: Browser, address: str, store: Store) -> None:
    trials.fill_demo(store)
    page = opened(browser, "desk")
    page.goto(address + CLOVER, wait_until="networkidle")
    page.emulate_media(media="print")
    # The text column of a sheet of Letter between its margins, at 96 pixels an inch.
    column = round((215.9 - 32) / 25.4 * 96)
    page.set_viewport_size({"width": column, "height": 900})
    unfold(page)
    for chart in page.locator(".chart").all():
        style = chart.evaluate("chart => getComputedStyle(chart).breakInside")
        assert style == "avoid"
        picture = chart.locator("img")
        wide = picture.evaluate("image => image.getBoundingClientRect().width")
        if wide:
            # The smallest letters of a picture are 20 of its 1600 pixels: no less than 5.5 pt on paper.
            assert wide * 20 / 1600 * 72 / 96 >= 5.5
            assert wide <= column
