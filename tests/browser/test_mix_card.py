"""The mix card in Chromium: typed, read on a phone, printed on one page."""

from __future__ import annotations

import io
import json
import unicodedata
from pathlib import Path
from urllib.parse import urlencode

import pytest
from playwright.sync_api import Browser
from pypdf import PdfReader

pytestmark = pytest.mark.browser
ROOT = Path(__file__).resolve().parents[2]
BASIC = {
    "method": "broadcast",
    "area": "92000",
    "area.unit": "ft2",
    "carrier": "1",
    "carrier.unit": "gal/1000 ft2",
    "tank": "50",
    "tank.unit": "gal",
    "turf": "tall-fescue",
    "site_use": "residential-lawn",
}


def own(row: int, name: str, formulation: str, rate: str, unit: str, *actives: tuple[str, str, str]) -> dict[str, str]:
    """A product typed by hand into a row of the form."""
    told = {f"p{row}": "own", f"p{row}.name": name, f"p{row}.formulation": formulation}
    told |= {f"p{row}.rate": rate, f"p{row}.rate.unit": unit}
    for number, (active, content, of) in enumerate(actives, start=1):
        told |= {f"p{row}.active_{number}": active, f"p{row}.content_{number}": content}
        told[f"p{row}.content_{number}.unit"] = of
    return told


TRIAD = own(
    1,
    "Larkmere Triad",
    "SL",
    "1.2",
    "fl oz/1000 ft2",
    ("2-4-d-dma", "2.4", "lb ae/gal"),
    ("mecoprop-p-dma", "0.6", "lb ae/gal"),
    ("dicamba-dma", "0.22", "lb ae/gal"),
)
QUIN = own(2, "Marl Quin", "WG", "0.39", "oz/1000 ft2", ("quinclorac-acid", "70", "% w/w"))
FLOW = own(3, "Marl Flow", "SC", "5", "fl oz/acre", ("sulfentrazone", "4", "lb ai/gal"))
GRAIN = own(1, "Larkmere Grain", "G", "3.4", "lb/1000 ft2", ("prodiamine", "0.37", "% w/w"))
CARDS = {
    "one product": {**BASIC, **TRIAD},
    "two products and an oil": {**BASIC, **TRIAD, **QUIN, "adjuvant": "mso", "adjuvant_rate": "0.5"},
    "three products and a surfactant": {**BASIC, **TRIAD, **QUIN, **FLOW, "adjuvant": "nis"},
    "too little water": {**BASIC, **TRIAD, **QUIN, **FLOW, "adjuvant": "nis", "carrier": "0.1"},
    "a hand-can": {
        **TRIAD,
        "method": "spot",
        "spray": "2",
        "spray.unit": "gal",
        "carrier": "40",
        "carrier.unit": "gal/acre",
        "turf": "tall-fescue",
    },
    "a spreader": {**GRAIN, "method": "granular", "area": "20000", "area.unit": "ft2", "turf": "kentucky-bluegrass"},
}


def _plain(text: str) -> str:
    """Letters without ligatures, case and spaces, as a reader of the page sees them."""
    return "".join(unicodedata.normalize("NFKC", text).casefold().split())


@pytest.mark.parametrize("size", ["Letter", "A4"])
@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize("name", CARDS)
def test_a_card_stands_on_one_page(address: str, browser: Browser, name: str, system: str, size: str) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.add_cookies([{"name": "units", "value": system, "url": address}])
    page = context.new_page()
    answered = page.goto(f"{address}/mix?{urlencode({**CARDS[name], 'units': system})}")
    assert answered is not None
    assert answered.status == 200
    poured = page.locator(".big").first.text_content()
    reader = PdfReader(io.BytesIO(page.pdf(format=size)))
    context.close()
    assert len(reader.pages) == 1
    text = reader.pages[0].extract_text()
    assert poured is not None
    for part in (poured, "Applicator", "The product label is the law", "page 1 of 1", "keep people and pets off"):
        assert _plain(part) in _plain(text)


def test_poured_figures_are_large_in_print(address: str, browser: Browser) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto(f"{address}/mix?{urlencode(CARDS['three products and a surfactant'])}")
    page.emulate_media(media="print")
    sizes = page.locator(".big").evaluate_all("all => all.map(one => parseFloat(getComputedStyle(one).fontSize))")
    page.close()
    # Twenty-four points are thirty-two pixels of CSS.
    assert min(sizes) >= 32


PAGES = (
    "/mix",
    f"/mix?{urlencode(CARDS['two products and an oil'])}",
    "/sprayers",
    "/sprayers/new",
    "/sprayers/calibrate/boom?gpa=40&mph=4&width_in=20",
)


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("path", PAGES)
def test_every_page_fits_and_can_be_read_by_all(address: str, browser: Browser, path: str, width: int) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = browser.new_page(viewport={"width": width, "height": 900})
    page.goto(f"{address}{path}")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    page.close()
    assert found.violations_count == 0, json.dumps(found.response["violations"], indent=1)[:3000]


def test_a_card_is_typed_without_script(address: str, browser: Browser) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(f"{address}/mix")
    page.fill("#area", "10000")
    page.fill("#carrier", "1")
    page.click("text=Type a product that is not on the shelf >> nth=0")
    page.fill("[id='p1.name']", "Fennick Amine")
    page.select_option("[id='p1.active_1']", "triclopyr-tea")
    page.fill("[id='p1.content_1']", "3")
    page.fill("[id='p1.rate']", "0.75")
    page.click("button.go")
    assert page.locator(".big").first.text_content() == "7.5 fl oz"
    context.close()
