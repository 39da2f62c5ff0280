"""The shelf's pages: what is typed is stored or kept on the page, and nobody is overwritten unseen."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

from app.services import shelf
from app.store.opening import Store, open_in_memory
from app.web import create_app
from tests.services.test_shelf import LABEL
from tests.services.test_shelf_csv import CELLS, HEADINGS, sheet

TYPED: dict[str, Any] = {
    "act": "save",
    "version": "0",
    "name": "Trial Broadleaf 4",
    "kind": "herbicide",
    "formulation": "SL",
    "actives.0.active": "2-4-d|2-4-d-dma",
    "actives.0.content": "4",
    "actives.0.unit": "lb ae/gal",
    "rates.0.turf": ["tall-fescue", "kentucky-bluegrass"],
    "rates.0.purpose": "postemergence",
    "rates.0.low": "16",
    "rates.0.high": "1 qt/acre",
    "rates.0.unit": "fl oz/acre",
    "max_air_f": "29",
    "max_air_f.unit": "C",
    "packs.0.size": "2.5 gal",
    "packs.0.price": "145",
    "adjuvants.nis": "allowed",
    "min_interval_days": "4 weeks",
    "site_uses": ["residential-lawn"],
}


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    yield opened
    opened.close()


@pytest.fixture
def client(store: Store) -> Iterator[FlaskClient]:
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True, store=store).test_client() as found:
        yield found


def page(client: FlaskClient, path: str) -> str:
    found = client.get(path)
    assert found.status_code == 200, path
    text = found.get_data(as_text=True)
    assert text.count("<h1") == 1
    assert "style=" not in text
    return text


def test_an_empty_shelf_says_what_to_do_first(client: FlaskClient) -> None:
    text = page(client, "/shelf")
    assert "The shelf is empty" in text
    assert "/shelf/new" in text
    assert "/shelf/import" in text


def test_a_label_typed_by_hand_is_stored_as_it_reads(client: FlaskClient, store: Store) -> None:
    answered = client.post("/shelf/new", data=TYPED)
    assert (answered.status_code, answered.headers["Location"]) == (303, "/shelf/trial-broadleaf-4")
    (kept,) = shelf.shelf_products(store)
    assert kept.rates[0].turf == ("tall-fescue", "kentucky-bluegrass")
    assert (str(kept.rates[0].low.quantity), str(kept.rates[0].high.quantity)) == ("16 fl oz/acre", "1 qt/acre")
    assert kept.max_air_f == pytest.approx(84.2)
    assert kept.min_interval_days == 28
    assert kept.site_uses == ("residential-lawn",)
    assert kept.turf is None
    text = page(client, "/shelf/trial-broadleaf-4")
    # 16 and 32 fl oz/acre of 4 lb ae/gal are 0.5 and 1 lb ae/acre.
    assert "0.5 to 1 lb ae/acre" in text
    assert "Not typed" in text
    assert "label is the law" in text
    client.set_cookie("units", "metric")
    text = page(client, "/shelf/trial-broadleaf-4")
    assert "560 to 1120 g ae/ha" in text
    # 4 lb (453.59237 g) in 3.785411784 L.
    assert "479 g ae/L" in text


def test_storing_what_the_form_shows_changes_nothing(client: FlaskClient, store: Store) -> None:
    shelf.fill_demo(store)
    for product in shelf.shelf_products(store):
        text = page(client, f"/shelf/{product.id}/edit")
        assert client.post(f"/shelf/{product.id}/edit", data=fields_of(text)).status_code == 303
        again, version = shelf.product_named(store, str(product.id))
        assert version == 2
        assert again.model_dump() == product.model_dump()


def fields_of(text: str) -> dict[str, list[str]]:
    """What a browser would send of the form, were it stored at once."""
    from html import unescape

    form = text[text.index('<form class="labelform"') :]
    form = form[: form.index("</form>")]
    found: dict[str, list[str]] = {"act": ["save"]}
    for tag in re.findall(r"<input [^>]*>", form):
        told = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        if told.get("type") != "checkbox" or " checked" in tag:
            found.setdefault(unescape(told["name"]), []).append(unescape(told.get("value", "")))
    for name, inside in re.findall(r'<select[^>]* name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        found[name] = [chosen(inside)]
    for inside, name in re.findall(r'<select name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        found[inside] = [chosen(name)]
    for name, inside in re.findall(r'<textarea[^>]* name="([^"]*)"[^>]*>(.*?)</textarea>', form, re.DOTALL):
        found[name] = [unescape(inside)]
    return found


def chosen(inside: str) -> str:
    """The value of the chosen option of a list, the first where none is marked."""
    from html import unescape

    options = re.findall(r"<option([^>]*)>([^<]*)", inside)
    marked = [pair for pair in options if "selected" in pair[0]] or options[:1]
    value = re.search(r'value="([^"]*)"', marked[0][0])
    return unescape(value.group(1) if value else marked[0][1])


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"density": "-9 lb/gal"}, "density", "out of range"),
        ({"actives.0.content": "101 % w/w"}, "actives.0.content", "cannot exceed 100"),
        (
            {"actives.0.content": "60 % w/w", "actives.1.active": "dicamba|", "actives.1.content": "50 % w/w"},
            "actives.0.active",
            "add up to 110",
        ),
        ({"rates.0.unit": "oz/acre", "rates.0.high": ""}, "rates.0.low", "which ounce"),
        ({"packs.0.size": "0 gal"}, "packs.0.size", "more than zero"),
        ({"actives.0.active": "nonesuch|"}, "actives.0.active", "nearest"),
        ({"rates.0.low": "40"}, "rates.0.low", "must not exceed high"),
        ({"expiry": "2027-13-45"}, "expiry", "no day of the calendar"),
        ({"name": ""}, "name", "is required"),
        ({"formulation": ""}, "formulation", "is required"),
        ({"rates.0.low": "some"}, "rates.0.low", "not a figure"),
        ({"rates.0.turf": []}, "rates.0.turf", "is required"),
        ({"actives.0.active": "", "actives.0.content": ""}, "actives.0.active", "at least one active"),
        ({"stock": "3 oz"}, "stock", "which ounce"),
        ({"max_air_f": "warm"}, "max_air_f", "85 F or 29 C"),
        ({"max_applications_per_year": "2.5"}, "max_applications_per_year", "integer"),
        ({"packs.0.price": "1,250"}, "packs.0.price", "two things"),
    ],
)
def test_a_refused_label_keeps_what_was_typed_and_names_the_field(
    client: FlaskClient, store: Store, changes: dict[str, Any], field: str, words: str
) -> None:
    answered = client.post("/shelf/new", data={**TYPED, **changes})
    text = answered.get_data(as_text=True)
    assert answered.status_code == 422
    assert f'href="#{field}"' in text
    assert f'id="{field}"' in text
    assert f'id="{field}-fault"' in text
    assert re.findall(r'id="([^"]*)-fault"', text) == [field]
    assert words in text
    assert 'value="145"' in text or "packs.0.price" in changes
    assert shelf.shelf_products(store) == ()


def test_every_fault_is_told_at_once_in_the_order_of_the_page(client: FlaskClient) -> None:
    bare = {key: value for key, value in TYPED.items() if not key.startswith(("actives", "rates"))}
    answered = client.post("/shelf/new", data={**bare, "name": "", "density": "x", "packs.0.size": "0 gal"})
    text = answered.get_data(as_text=True)
    told = re.findall(r'<li><a href="#([^"]+)"', text)
    assert told == ["name", "actives.0.active", "density", "rates.0.low", "packs.0.size"]


@pytest.mark.parametrize("group", ["actives", "rates", "packs"])
def test_a_line_is_added_without_script_and_nothing_is_lost(client: FlaskClient, store: Store, group: str) -> None:
    answered = client.post("/shelf/new", data={**TYPED, "act": f"add-{group}", "name": ""})
    text = answered.get_data(as_text=True)
    assert answered.status_code == 200
    assert f'id="{group}.2.' in text
    assert 'value="145"' in text
    assert "fault" not in text
    assert shelf.shelf_products(store) == ()


def test_contradictions_stand_beside_the_field_before_anything_is_stored(client: FlaskClient, store: Store) -> None:
    ester = {"actives.0.active": "2-4-d|2-4-d-bee", "max_air_f": "95", "max_air_f.unit": "F"}
    answered = client.post("/shelf/new", data={**TYPED, **ester, "act": "check"})
    text = answered.get_data(as_text=True)
    assert answered.status_code == 200
    assert 'id="max_air_f-against"' in text
    assert "you typed 95 °F; recorded for the butoxyethyl ester of 2,4-D: not above 85 °F" in text
    assert shelf.shelf_products(store) == ()
    client.post("/shelf/new", data={**TYPED, **ester})
    assert "Check these against the label" in page(client, "/shelf/trial-broadleaf-4")
    assert 'id="max_air_f-against"' in page(client, "/shelf/trial-broadleaf-4/edit")


def test_the_second_of_two_is_shown_both_and_can_still_store(client: FlaskClient, store: Store) -> None:
    _, version = shelf.add_product(store, LABEL)
    shelf.change_product(store, "trial-broadleaf-4", {**LABEL, "notes": "theirs"}, version)
    answered = client.post("/shelf/trial-broadleaf-4/edit", data={**TYPED, "version": "1", "notes": "mine"})
    text = answered.get_data(as_text=True)
    assert answered.status_code == 409
    assert "Somebody else was quicker" in text
    assert "theirs" in text
    assert "mine" in text
    assert 'name="version" value="2"' in text
    assert shelf.product_named(store, "trial-broadleaf-4")[0].notes == "theirs"
    assert "Take theirs" in text
    assert client.post("/shelf/trial-broadleaf-4/edit", data={**TYPED, "version": "2"}).status_code == 303


def test_what_was_removed_meanwhile_can_be_put_back(client: FlaskClient, store: Store) -> None:
    shelf.add_product(store, LABEL)
    shelf.remove_product(store, "trial-broadleaf-4", 1)
    answered = client.post("/shelf/trial-broadleaf-4/edit", data={**TYPED, "version": "1"})
    assert answered.status_code == 409
    assert 'action="/shelf/new"' in answered.get_data(as_text=True)


def test_removing_asks_first_and_not_behind_anybodys_back(client: FlaskClient, store: Store) -> None:
    shelf.add_product(store, LABEL)
    assert "cannot be undone" in page(client, "/shelf/trial-broadleaf-4/remove")
    assert client.post("/shelf/trial-broadleaf-4/remove", data={"version": "7"}).status_code == 409
    assert len(shelf.shelf_products(store)) == 1
    assert client.post("/shelf/trial-broadleaf-4/remove", data={"version": "1"}).status_code == 303
    assert shelf.shelf_products(store) == ()


def test_stock_is_changed_alone(client: FlaskClient, store: Store) -> None:
    shelf.add_product(store, LABEL)
    path = "/shelf/trial-broadleaf-4/stock"
    assert "2 gal" in page(client, path)
    assert client.post(path, data={"version": "1", "stock": "1.5", "stock.unit": "gal"}).status_code == 303
    second = client.post(path, data={"version": "1", "stock": "9 gal"})
    assert second.status_code == 409
    for words in ("Somebody else was quicker", '"You typed">9 gal<', '"Stored now">1.5 gal<', "Keep mine"):
        assert words in second.get_data(as_text=True)
    assert client.post(path, data={"version": "2", "stock": "9 oz"}).status_code == 422
    assert str(shelf.product_named(store, "trial-broadleaf-4")[0].stock) == "value=1.5 unit='gal'"


def test_the_list_is_searched_sorted_and_marked(client: FlaskClient, store: Store) -> None:
    shelf.add_product(store, {**LABEL, "expiry": "2020-01-01"})
    shelf.add_product(store, {**LABEL, "name": "Alder", "stock": {"value": 0, "unit": "gal"}})
    text = page(client, "/shelf")
    assert "Expired" in text
    assert "Empty" in text
    assert "40.00 USD/gal" in text
    assert text.index("Alder") < text.index("Trial Broadleaf 4")
    by_date = page(client, "/shelf?sort=expiry")
    assert by_date.index("Trial Broadleaf 4") < by_date.index("Alder")
    assert "Alder" not in page(client, "/shelf?q=trial")
    assert "Show everything" in page(client, "/shelf?q=zzz")


def test_a_product_that_is_not_there_is_404(client: FlaskClient, store: Store) -> None:
    shelf.add_product(store, LABEL)
    for path in ("/shelf/none", "/shelf/none/edit", "/shelf/none/remove", "/shelf/none/stock"):
        assert client.get(path).status_code == 404
    assert "trial-broadleaf-4" in client.get("/shelf/trial-broadleef").get_data(as_text=True)


def upload(client: FlaskClient, text: str | bytes) -> Any:
    data = text.encode() if isinstance(text, str) else text
    head = (
        b'--cut\r\nContent-Disposition: form-data; name="file"; filename="shelf.csv"\r\nContent-Type: text/csv\r\n\r\n'
    )
    body = head + data + b"\r\n--cut--\r\n"
    return client.post("/shelf/import", data=body, content_type="multipart/form-data; boundary=cut")


def key_of(text: str) -> str:
    found = re.search(r'name="key" value="([^"]+)"', text)
    assert found is not None
    return found.group(1)


def test_a_file_is_previewed_confirmed_and_then_unchanged(client: FlaskClient, store: Store) -> None:
    previewed = upload(client, sheet(CELLS))
    assert previewed.status_code == 200
    assert shelf.shelf_products(store) == ()
    key = key_of(previewed.get_data(as_text=True))
    done = client.post("/shelf/import/confirm", data={"key": key})
    assert done.status_code == 303
    assert "1 new" in page(client, done.headers["Location"])
    assert len(shelf.shelf_products(store)) == 1
    # Sent twice, as by a second press of the button: it was imported already.
    assert client.post("/shelf/import/confirm", data={"key": key}).status_code == 422
    exported = client.get("/shelf.csv")
    assert exported.headers["Content-Disposition"].startswith("attachment")
    text = upload(client, exported.data).get_data(as_text=True)
    assert "0 new, 0 changed, 1 unchanged" in text


def test_bad_rows_block_unless_they_are_left_out(client: FlaskClient, store: Store) -> None:
    text = upload(client, sheet(CELLS, {**CELLS, "name": "Bad", "density": "-1 lb/gal"})).get_data(as_text=True)
    assert "out of range" in text
    refused = client.post("/shelf/import/confirm", data={"key": key_of(text)})
    assert refused.status_code == 422
    assert shelf.shelf_products(store) == ()
    done = client.post(
        "/shelf/import/confirm", data={"key": key_of(refused.get_data(as_text=True)), "leave_out": "yes"}
    )
    assert "1 left out" in page(client, done.headers["Location"])


def test_an_import_over_somebody_elses_change_is_told(client: FlaskClient, store: Store) -> None:
    shelf.add_product(store, LABEL)
    key = key_of(upload(client, sheet({**CELLS, "notes": "mine"})).get_data(as_text=True))
    shelf.change_product(store, "trial-broadleaf-4", {**LABEL, "notes": "theirs"}, 1)
    answered = client.post("/shelf/import/confirm", data={"key": key})
    assert answered.status_code == 409
    assert "changed meanwhile" in answered.get_data(as_text=True)
    assert shelf.product_named(store, "trial-broadleaf-4")[0].notes == "theirs"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (sheet(CELLS).encode("utf-16"), "UTF-16"),
        (b"", "headings"),
        (b"name,colour\nx,y\n", "missing"),
        ((",".join(HEADINGS) + "\n" + "x\n" * 50_000).encode(), "more than 10,000 rows"),
        (b"x," * 4_500_000, "larger than 8 MiB"),
    ],
)
def test_a_file_that_cannot_be_used_is_said_on_the_page(client: FlaskClient, data: bytes, words: str) -> None:
    answered = upload(client, data)
    assert answered.status_code == 422
    assert words in answered.get_data(as_text=True)


def test_no_file_and_too_large_a_body_are_told(client: FlaskClient) -> None:
    assert client.post("/shelf/import", data={}).status_code == 422
    large = upload(client, b"x" * (13 * 1024 * 1024))
    assert large.status_code == 413
    assert "12 MiB" in large.get_data(as_text=True)


def test_the_template_holds_the_headings_alone(client: FlaskClient) -> None:
    assert client.get("/shelf/template.csv").data.decode("utf-8-sig").strip().split(",") == list(HEADINGS)
    assert "single rate" in page(client, "/shelf/import")
