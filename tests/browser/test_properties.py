"""Properties in Chromium: one by clicking, a note on a phone, a file; without script, at phone and desk width."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from app.services import properties, scouting
from app.services.branch import change_branch
from app.services.property_import import confirm
from app.store.opening import Store, open_store
from tests.browser.served import serving
from tests.services.places import area, place
from tests.services.test_property_import import FILE

pytestmark = pytest.mark.browser
WIDTHS = {"phone": (390, 844), "desk": (1280, 900)}
# What a thumb meets for sure, by common practice, no source [px].
_THUMB = 44


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path)
    yield opened
    opened.close()


@pytest.fixture
def address(store: Store) -> Iterator[str]:
    """Address of an app with properties of its own, its forms guarded as they are in use."""
    with serving(store) as where:
        yield where


def opened(browser: Browser, width: str, *, script: bool = True) -> Page:
    wide, high = WIDTHS[width]
    page = browser.new_context(viewport={"width": wide, "height": high}, java_script_enabled=script).new_page()
    page.set_default_timeout(15_000)
    return page


@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
@pytest.mark.parametrize("width", WIDTHS)
def test_a_property_is_added_by_clicking(
    browser: Browser, address: str, store: Store, width: str, script: bool
) -> None:
    page = opened(browser, width, script=script)
    page.goto(f"{address}/properties")
    expect(page.get_by_text("No property is kept yet.")).to_be_visible()
    page.get_by_role("link", name="Add a property", exact=True).click()
    page.get_by_label("Customer", exact=True).fill("Ada Fenn")
    page.get_by_label("Area 1", exact=True).fill("Front")
    page.get_by_label("Turf", exact=True).select_option("tall-fescue")
    page.get_by_label("Size", exact=True).fill("6,500")
    page.get_by_role("button", name="Add another area").click()
    page.get_by_label("Area 2", exact=True).fill("Back")
    page.locator("button.go").click()
    expect(page.get_by_role("alert")).to_contain_text("Name: is required")
    assert properties.every(store) == ()
    page.get_by_label("Name", exact=True).fill("12 Mill Lane")
    page.get_by_label("Name", exact=True).press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("12 Mill Lane")
    expect(page.get_by_text("Not plannable yet")).to_be_visible()
    (kept,) = properties.every(store)
    assert [(item.name, item.turf) for item in kept.property.areas] == [("Front", ("tall-fescue",)), ("Back", ())]
    page.get_by_role("link", name="Tell it").first.click()
    page.get_by_label("Zone").select_option("cool-humid")
    page.locator("button.go").click()
    expect(page.get_by_text("The change is kept.")).to_be_visible()


@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
def test_a_weed_is_noted_on_a_phone(browser: Browser, address: str, store: Store, script: bool) -> None:
    properties.add(store, place(areas=[area(), area(name="Back")]))
    page = opened(browser, "phone", script=script)
    page.goto(f"{address}/properties/12-mill-lane")
    page.get_by_role("link", name="Note a weed", exact=True).click()
    for part in page.locator(".picked label, .noteform button:visible, .noteform input:visible[type=text]").all():
        box = part.bounding_box()
        assert box is not None
        assert box["height"] >= _THUMB, part.inner_text()
    page.get_by_text("Front", exact=True).click()
    page.get_by_label("Weed", exact=True).fill("creeping charlie")
    page.get_by_label("Weed", exact=True).press("Escape")
    page.get_by_label("Stage").select_option("flowering")
    page.get_by_text("15 %", exact=True).click()
    page.get_by_label("Seen by").fill("Jo")
    page.get_by_role("button", name="Keep, next weed").click()
    expect(page.get_by_text("Ground ivy is noted. The next weed?")).to_be_visible()
    # The area and the name stand there already, and the weed noted before is one tap.
    page.get_by_role("button", name="ground ivy").click()
    expect(page.get_by_label("Weed", exact=True)).to_have_value("ground ivy")
    page.get_by_label("Weed", exact=True).fill("dandelion")
    page.get_by_label("Weed", exact=True).press("Escape")
    page.get_by_role("button", name="Keep the note").click()
    expect(page.get_by_text("The note is kept.")).to_be_visible()
    found = scouting.notes_of(store, "12-mill-lane")
    assert [(item.note.weed, item.note.area, item.note.by) for item in found] == [
        ("dandelion", "front", "Jo"),
        ("ground-ivy", "front", "Jo"),
    ]
    assert {item.note.date for item in found} == {date.today()}
    page.get_by_role("button", name=re.compile("Gone.*dandelion on Front")).click()
    expect(page.get_by_text("The note is closed.")).to_be_visible()


def test_an_area_asks_its_question(browser: Browser, address: str, store: Store) -> None:
    properties.add(store, place())
    seen = {"area": "front", "weed": "creeping charlie", "date": str(date.today())}
    scouting.add_note(store, "12-mill-lane", seen)
    page = opened(browser, "desk")
    page.goto(f"{address}/properties/12-mill-lane")
    page.get_by_role("link", name="Ask about this area").click()
    expect(page.get_by_label("Weed", exact=True).first).to_have_value("ground ivy")
    page.get_by_role("button", name="Rank programs").click()
    expect(page.locator(".program").first).to_be_visible()


@pytest.mark.parametrize("width", WIDTHS)
def test_a_file_is_previewed_and_imported(
    browser: Browser, address: str, store: Store, tmp_path: Path, width: str
) -> None:
    file = tmp_path / "properties.csv"
    file.write_text(FILE, encoding="utf-8-sig")
    page = opened(browser, width, script=False)
    page.goto(f"{address}/properties/import")
    page.get_by_label("File").set_input_files(file)
    page.get_by_role("button", name="Preview").click()
    page.get_by_role("button", name="Import 2 properties").click()
    expect(page.get_by_text("2 properties new, 0 replaced, 0 unchanged.")).to_be_visible()
    assert len(properties.every(store)) == 2


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_of_properties_breaks_an_accessibility_rule_or_its_width(
    browser: Browser, address: str, store: Store, tmp_path: Path, width: str
) -> None:
    change_branch(store, {"zone": "cool-humid", "technicians": [{"name": "Jo"}], "extra": ["Permit number"]}, 0)
    page = opened(browser, width)

    def check(path: str) -> None:
        found = Axe().run(page)
        assert found.violations_count == 0, f"{path}: {found.generate_report()}"
        assert page.evaluate("document.documentElement.scrollWidth") <= WIDTHS[width][0], path
        if width == "desk":
            # The head stands on one line.
            tops = {box["y"] for item in page.locator(".head li").all() if (box := item.bounding_box())}
            assert len(tops) == 1, path

    page.goto(f"{address}/properties")
    check("empty")
    confirm(store, FILE)
    properties.add(store, place(name="Oak 1", notes="gate", plans=[{"kind": "event", "date": "2027-07-04"}]))
    note, _ = scouting.add_note(store, "oak-1", {"area": "front", "weed": "dandelion", "date": "2025-06-01"})
    rows = "\n".join(f"{number} Elm Street" for number in range(60))
    confirm(store, f"property\n{rows}")
    paths = ("/properties", "/properties/new", "/properties/oak-1", "/properties/oak-1/edit", "/properties/import")
    paths += ("/properties/oak-1/remove", "/properties/12-mill-lane/notes/new", f"/properties/oak-1/notes/{note.key}")
    paths += ("/properties/import?kind=notes", "/customers", "/customers/ada-fenn", "/branch", "/properties?page=2")
    for path in paths:
        page.goto(address + path)
        check(path)
    page.goto(f"{address}/properties/new")
    page.locator("button.go").click()
    expect(page.get_by_role("alert")).to_be_visible()
    check("refused")
    page.goto(f"{address}/properties/12-mill-lane/notes/new")
    page.get_by_role("button", name="Keep the note").click()
    expect(page.get_by_role("alert")).to_be_visible()
    check("refused note")
    for name, text in (("bad", FILE.replace("KBG", "KBX")), ("changed", FILE.replace(",Jo,", ",Di,"))):
        file = tmp_path / f"{name}.csv"
        file.write_text(text, encoding="utf-8")
        page.goto(f"{address}/properties/import")
        page.get_by_label("File", exact=True).set_input_files(file)
        page.get_by_role("button", name="Preview").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("What importing this file does")
        check(name)
    page.goto(f"{address}/properties/import")
    page.get_by_label("File", exact=True).set_input_files(file)
    page.get_by_label("Let me say which column is which").check()
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Which column is which?")
    check("columns")


def test_two_people_change_one_property(browser: Browser, address: str, store: Store) -> None:
    properties.add(store, place())
    first, second = opened(browser, "phone"), opened(browser, "desk")
    for page, words in ((first, "mine"), (second, "theirs")):
        page.goto(f"{address}/properties/12-mill-lane/edit")
        page.get_by_label("Address", exact=True).fill(words)
    second.locator("button.go").click()
    expect(second.get_by_text("The change is kept.")).to_be_visible()
    first.locator("button.go").click()
    expect(first.get_by_role("alert")).to_contain_text("Somebody else was quicker")
    expect(first.get_by_role("cell", name="theirs")).to_be_visible()
    first.get_by_role("button", name="Keep mine").click()
    expect(first.get_by_text("The change is kept.")).to_be_visible()
    assert properties.one(store, "12-mill-lane").property.address == "mine"
