"""Importing: what the preview says is what is done, and all of it or nothing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.engine.errors import InputError
from app.engine.label_faults import faults_of
from app.engine.product import Product
from app.services import shelf
from app.services.shelf_csv import write_csv
from app.services.shelf_import import (
    Imported,
    forget_pending,
    import_confirm,
    import_preview,
    keep_pending,
    pending_file,
)
from app.store import pending
from app.store.changed import Changed
from app.store.names import name_key
from app.store.opening import Store, open_in_memory
from tests.services.products import BASE, products
from tests.services.test_shelf import LABEL
from tests.services.test_shelf_csv import CELLS, sheet

TWO = sheet(CELLS, {**CELLS, "name": "Trial Broadleaf 5"})
BAD = sheet(CELLS, {**CELLS, "name": "Bad", "actives": "nonesuch 2 lb ae/gal"})


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    yield opened
    opened.close()


@settings(max_examples=20, deadline=None)
@given(
    st.lists(
        products().filter(lambda item: not faults_of(BASE, item)),
        min_size=1,
        max_size=2,
        unique_by=lambda item: name_key(item.name),
    )
)
def test_importing_what_was_exported_changes_nothing(told: list[Product]) -> None:
    store = open_in_memory()
    first = import_confirm(store, write_csv([item.model_copy(update={"id": None}) for item in told]))
    assert first == Imported(len(told), 0, 0, 0)
    before = shelf.stored_products(store)
    assert {item.product.model_copy(update={"id": None}) for item in before} == {
        item.model_copy(update={"id": None}) for item in told
    }
    assert import_confirm(store, shelf.export_csv(store)) == Imported(0, 0, len(told), 0)
    assert shelf.stored_products(store) == before
    store.close()


def test_the_preview_says_what_is_new_changed_and_unchanged(store: Store) -> None:
    assert [row.status for row in import_preview(store, TWO).rows] == ["new", "new"]
    assert shelf.shelf_products(store) == ()
    import_confirm(store, TWO)
    text = sheet({**CELLS, "stock": "3 gal", "notes": "x"}, {**CELLS, "name": "Trial Broadleaf 5"})
    rows = import_preview(store, text).rows
    assert [(row.status, row.changes) for row in rows] == [("changed", ("stock", "notes")), ("unchanged", ())]
    assert import_confirm(store, text) == Imported(0, 1, 1, 0)


def test_the_id_renames_and_the_name_alone_finds(store: Store) -> None:
    import_confirm(store, sheet(CELLS))
    assert import_confirm(store, sheet({**CELLS, "id": "trial-broadleaf-4", "name": "Renamed"})).changed == 1
    (kept,) = shelf.shelf_products(store)
    assert (kept.id, kept.name) == ("trial-broadleaf-4", "Renamed")
    assert import_preview(store, sheet({**CELLS, "name": "RENAMED"})).rows[0].id == "trial-broadleaf-4"


def test_two_rows_for_one_product_are_refused(store: Store) -> None:
    import_confirm(store, TWO)
    rows = import_preview(
        store, sheet(CELLS, {**CELLS, "id": "trial-broadleaf-4", "name": "Other"}, {**CELLS, "name": "Third"})
    ).rows
    assert [row.status for row in rows] == ["unchanged", "bad", "new"]
    crossed = {**CELLS, "id": "trial-broadleaf-4", "name": "Trial Broadleaf 5"}
    assert "name is that of another" in import_preview(store, sheet(crossed)).rows[0].faults[0].message


def test_a_bad_row_blocks_the_file_unless_it_is_left_out(store: Store) -> None:
    (good, bad) = import_preview(store, BAD).rows
    assert (good.status, bad.status, bad.faults[0].column) == ("new", "bad", "actives")
    assert "nearest" in bad.faults[0].message
    with pytest.raises(InputError, match="line 3, actives"):
        import_confirm(store, BAD)
    assert shelf.shelf_products(store) == ()
    assert import_confirm(store, BAD, leave_out_bad=True) == Imported(1, 0, 0, 1)


def test_what_somebody_else_changed_meanwhile_is_told_and_kept(store: Store) -> None:
    import_confirm(store, TWO)
    text = sheet({**CELLS, "notes": "mine"}, {**CELLS, "name": "Third"})
    seen = import_preview(store, text).seen
    kept, version = shelf.product_named(store, "trial-broadleaf-4")
    shelf.change_stock(store, "trial-broadleaf-4", {"value": 1, "unit": "gal"}, version)
    with pytest.raises(Changed, match="Trial Broadleaf 4"):
        import_confirm(store, text, seen)
    assert [item.name for item in shelf.shelf_products(store)] == ["Trial Broadleaf 4", "Trial Broadleaf 5"]
    assert shelf.product_named(store, "trial-broadleaf-4")[0].notes == kept.notes


def test_what_somebody_else_added_or_removed_meanwhile_is_told(store: Store) -> None:
    seen = import_preview(store, sheet(CELLS)).seen
    shelf.add_product(store, LABEL)
    with pytest.raises(Changed):
        import_confirm(store, sheet(CELLS), seen)
    seen = import_preview(store, sheet(CELLS)).seen
    shelf.remove_product(store, "trial-broadleaf-4", 1)
    with pytest.raises(Changed):
        import_confirm(store, sheet(CELLS), seen)
    assert shelf.shelf_products(store) == ()


def test_a_file_waits_for_its_confirmation_but_not_for_ever(store: Store) -> None:
    preview = import_preview(store, TWO)
    key = keep_pending(store, TWO, preview)
    assert pending_file(store, key).text == TWO
    forget_pending(store, key)
    with pytest.raises(InputError, match="choose it again"):
        pending_file(store, key)
    with store.session() as session:
        old = pending.keep(session, TWO, {}, datetime.now(UTC) - timedelta(hours=3))
    with pytest.raises(InputError, match="two hours"):
        pending_file(store, old)


def test_few_files_wait_at_a_time(store: Store) -> None:
    preview = import_preview(store, TWO)
    keys = [keep_pending(store, TWO, preview) for _ in range(pending.MOST_KEPT + 2)]
    left = 0
    for key in keys:
        try:
            pending_file(store, key)
            left += 1
        except InputError:
            continue
    assert left == pending.MOST_KEPT
    assert pending_file(store, keys[-1]).text == TWO


def test_a_thousand_products_go_in_and_come_out_again(store: Store) -> None:
    text = sheet(*({**CELLS, "name": f"Product {number}"} for number in range(1000)))
    assert import_confirm(store, text).new == 1000
    assert import_confirm(store, shelf.export_csv(store)).unchanged == 1000
