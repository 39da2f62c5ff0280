"""The page of spray windows in a browser: it fits, can be read by all, prints its strips, and works without script."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from pypdf import PdfReader

pytestmark = pytest.mark.browser
TABLE = (Path(__file__).parents[2] / "demo_data" / "forecast.csv").read_text(encoding="utf-8")
# An hour is left out, so that every state is seen.
GAP = "\n".join(line for line in TABLE.splitlines() if "07-14 10:00" not in line)
AT = "latitude=40.1&longitude=-83.2&timezone=America/New_York&units=us&turf=tall-fescue"


def answered(address: str, page: Page) -> None:
    """The answer to the demo's forecast for an ester."""
    page.goto(f"{address}/weather?{AT}")
    page.fill("#table", GAP)
    page.select_option("#active_1", "triclopyr/triclopyr-bee")
    page.click("button.go")
    page.wait_for_selector(".strip-of-day")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_it_fits_and_can_be_read_by_all(address: str, browser: Browser, width: int, scheme: str) -> None:
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)  # type: ignore[arg-type]
    page = context.new_page()
    for step in ("form", "answer"):
        if step == "form":
            page.goto(f"{address}/weather")
        else:
            answered(address, page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        found = Axe().run(page)
        assert found.violations_count == 0, json.dumps(found.response["violations"], indent=1)[:3000]
    context.close()


def test_states_differ_in_height_and_pattern(address: str, browser: Browser) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 900})
    answered(address, page)
    shape = "all => all.map(one => [one.tagName, Math.round(one.getBoundingClientRect().height)].join(' '))"
    strips = page.locator(".strip-of-day .strip")
    seen = {state: set(strips.locator(f".{state}").evaluate_all(shape)) for state in ("open", "closed", "unknown")}
    page.close()
    assert all(len(shapes) == 1 for shapes in seen.values()), seen
    assert len(set.union(*seen.values())) == 3


def test_it_prints_and_works_without_script(address: str, browser: Browser) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844})
    page = context.new_page()
    answered(address, page)
    text = "".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(page.pdf(format="Letter"))).pages)
    context.close()
    told = " ".join(text.split())
    for part in ("Wednesday, July 14: open", "midnight to 6 am", "It is dark", "The product label is the law"):
        assert part in told
    assert "Show the windows" not in told
