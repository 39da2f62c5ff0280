"""Products in the store, on both engines. Invented products."""

from __future__ import annotations

import threading
from datetime import UTC, datetime
from typing import Any

import pytest

from app.engine.errors import InputError, UnknownId
from app.engine.product import Product
from app.store import products, sprayers
from app.store.changed import Changed
from app.store.names import name_key, slug_of
from app.store.opening import Store

NOW = datetime(2027, 3, 1, 12, 0, tzinfo=UTC)
LATER = datetime(2027, 3, 2, 12, 0, tzinfo=UTC)


def product(name: str = "Larkmere Plain", **told: Any) -> Product:
    part = {"active": "2-4-d", "form": "2-4-d-dma", "content": {"value": 3.8, "unit": "lb ae/gal"}}
    line = {"low": {"value": 0.9, "unit": "fl oz/1000 ft2"}, "high": {"value": 1.1, "unit": "fl oz/1000 ft2"}}
    made = {"name": name, "formulation": "SL", "actives": [part], "rates": [line], **told}
    return Product.model_validate(made)


FULL = product(
    packs=[{"size": {"value": 2.5, "unit": "gal"}, "price": 61.35}],
    stock={"value": 1.75, "unit": "gal"},
    expiry="2028-10-31",
    turf=["tall-fescue"],
    notes="two\nlines, and an é",
)


def kept(store: Store) -> tuple[products.Stored, ...]:
    with store.reading() as session:
        return products.every(session)


def test_what_is_put_in_comes_out(store: Store) -> None:
    with store.session() as session:
        products.insert(session, [FULL, product("Alder")], NOW)
    first, second = kept(store)
    assert [first.product.name, second.product.name] == ["Alder", "Larkmere Plain"]
    assert second.product == FULL.model_copy(update={"id": "larkmere-plain"})
    assert (second.version, second.changed_at) == (1, NOW)


def test_a_name_stands_once_whatever_its_case(store: Store) -> None:
    with store.session() as session:
        products.insert(session, [FULL], NOW)
    with pytest.raises(InputError, match="on the shelf already"), store.session() as session:
        products.insert(session, [product("Alder"), product("LARKMERE  plain")], NOW)
    assert [item.product.name for item in kept(store)] == ["Larkmere Plain"]


def test_ids_are_made_once(store: Store) -> None:
    with store.session() as session:
        made = products.insert(session, [product("Fen-1"), product("Fen 1"), product("Fén 1"), product("草")], NOW)
    assert [item.slug for item in made] == ["fen-1", "fen-1-2", "fen-1-3", "unnamed"]


def test_a_change_needs_the_version_it_was_made_on(store: Store) -> None:
    with store.session() as session:
        (made,) = products.insert(session, [FULL], NOW)
    theirs = FULL.model_copy(update={"notes": "theirs"})
    with store.session() as session:
        changed = products.update(session, made.slug, theirs, made.version, LATER)
    assert changed.version == made.version + 1
    with pytest.raises(Changed) as caught, store.session() as session:
        products.update(session, made.slug, FULL.model_copy(update={"notes": "mine"}), made.version, LATER)
    assert caught.value.stored is not None
    assert caught.value.stored["notes"] == "theirs"
    assert caught.value.version == changed.version
    (now,) = kept(store)
    assert (now.product.notes, now.changed_at) == ("theirs", LATER)
    with pytest.raises(Changed), store.session() as session:
        products.delete(session, made.slug, made.version)
    with store.session() as session:
        products.delete(session, made.slug, changed.version)
    assert kept(store) == ()
    with pytest.raises(Changed, match="removed"), store.session() as session:
        products.update(session, made.slug, FULL, changed.version, LATER)


def test_of_two_at_once_one_wins_and_the_other_is_told(store: Store) -> None:
    with store.session() as session:
        (made,) = products.insert(session, [FULL], NOW)
    together, outcomes = threading.Barrier(2), list[str]()

    def change(mark: str) -> None:
        together.wait(timeout=10)
        try:
            with store.session() as session:
                products.update(session, made.slug, FULL.model_copy(update={"notes": mark}), made.version, LATER)
        except Changed:
            outcomes.append("told")
        else:
            outcomes.append(mark)

    threads = [threading.Thread(target=change, args=(mark,)) for mark in ("first", "second")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert sorted(outcomes)[-1] == "told"
    (winner,) = [mark for mark in outcomes if mark != "told"]
    (now,) = kept(store)
    assert now.product.notes == winner


def test_a_new_name_that_is_taken_changes_nothing(store: Store) -> None:
    with store.session() as session:
        first, _ = products.insert(session, [FULL, product("Alder")], NOW)
    with pytest.raises(InputError, match="alder"), store.session() as session:
        products.update(session, first.slug, FULL.model_copy(update={"name": "alder"}), first.version, LATER)
    assert {item.product.name for item in kept(store)} == {"Alder", "Larkmere Plain"}


def test_what_fails_half_way_is_undone(store: Store) -> None:
    class Fault(Exception):
        pass

    def half_way() -> None:
        with store.session() as session:
            products.insert(session, [FULL], NOW)
            raise Fault

    with pytest.raises(Fault):
        half_way()
    assert kept(store) == ()


def test_an_id_that_is_not_there_is_said(store: Store) -> None:
    with pytest.raises(UnknownId, match="not-there"), store.reading() as session:
        products.by_slug(session, "not-there")


@pytest.mark.parametrize("slug", ["", "a\0b", "\ud800", "A", "é", "x" * 5000])
def test_what_can_be_no_id_is_told_the_same_way(store: Store, slug: str) -> None:
    with pytest.raises(UnknownId), store.reading() as session:
        products.by_slug(session, slug)
    with pytest.raises(UnknownId), store.reading() as session:
        sprayers.by_slug(session, slug)
    with pytest.raises(Changed, match="removed"), store.session() as session:
        products.delete(session, slug, 1)
    with pytest.raises(Changed, match="removed"), store.session() as session:
        sprayers.delete(session, slug, 1)


def test_sprayers_are_kept_by_version_too(store: Store) -> None:
    with store.session() as session:
        made = sprayers.insert(session, "Blue boom", {"kind": "boom"}, NOW)
        sprayers.insert(session, "Alder can", {"kind": "hand-can"}, NOW)
    with store.session() as session:
        changed = sprayers.update(session, made.slug, "Red boom", {"kind": "boom"}, made.version, LATER)
    assert (changed.slug, changed.name, changed.version) == ("blue-boom", "Red boom", made.version + 1)
    with pytest.raises(Changed) as caught, store.session() as session:
        sprayers.update(session, made.slug, "Green boom", {"kind": "gun"}, made.version, LATER)
    assert (caught.value.stored, caught.value.version) == ({"name": "Red boom", "kind": "boom"}, changed.version)
    with pytest.raises(InputError, match="another sprayer"), store.session() as session:
        sprayers.update(session, made.slug, "ALDER can", {"kind": "gun"}, changed.version, LATER)
    with store.reading() as session:
        assert [item.name for item in sprayers.every(session)] == ["Alder can", "Red boom"]


def test_names_that_read_the_same_are_the_same() -> None:
    assert name_key(" Larkmere\u00a0 TRIAD ") == name_key("larkmere triad")
    assert name_key("Stra\u00dfe") == name_key("STRASSE")


def test_a_page_of_its_own_is_no_id() -> None:
    assert slug_of("Import", set()) == "import-1"
