"""Listing, showing and counting the knowledge base."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from app.engine.errors import UnknownId
from app.services.knowledge_service import (
    KINDS,
    coverage,
    knowledge_base,
    list_entries,
    show_entry,
    snapshot_folder,
    used_sources,
    uses_of,
)
from knowledge.base import KnowledgeBase
from knowledge.checks import walk
from knowledge.models import Citation


def test_the_base_is_loaded_once() -> None:
    assert knowledge_base() is knowledge_base()


@pytest.mark.parametrize("kind", KINDS)
def test_every_entry_is_listed_and_can_be_shown(base: KnowledgeBase, kind: str) -> None:
    listed = list_entries(kind)
    ids = [entry["id"] for entry in listed]
    assert ids == sorted(getattr(base, kind))
    assert all(entry["name"] for entry in listed)
    for key in ids:
        assert show_entry(kind, key)["id"] == key


@pytest.mark.parametrize("kind", ["weeds", "actives", "turf", "rules"])
def test_an_entry_is_shown_with_the_sources_it_cites(base: KnowledgeBase, kind: str) -> None:
    for key in getattr(base, kind):
        cited = {part.id for _, part in walk(getattr(base, kind)[key]) if isinstance(part, Citation)}
        sources = show_entry(kind, key)["sources"]
        assert set(sources) == cited
        assert all(source["citation"] for source in sources.values())


def test_what_is_shown_reads_as_the_facts_do() -> None:
    shown = show_entry("weeds", "wild-violet")
    assert shown["responses"][0]["rate"].split(" ", 1)[1].startswith(("lb", "oz", "g"))
    assert {"from", "to"} <= set(shown["calendar"][0])
    assert show_entry("turf", "tall-fescue")["tolerance"][0]["class"] in ("T", "I", "S", "unknown")


@pytest.mark.parametrize(
    ("kind", "key", "said"),
    [
        ("weeds", "wild-voilet", "'wild-voilet' is no weed"),
        ("actives", "2-4-dd", "2-4-d"),
        ("gossip", "x", "'gossip' is no kind"),
    ],
)
def test_what_is_not_there_names_the_nearest(kind: str, key: str, said: str) -> None:
    with pytest.raises(UnknownId) as caught:
        show_entry(kind, key)
    assert said in str(caught.value)
    assert len(caught.value.near) == 3


def test_a_kind_that_is_none_is_not_listed() -> None:
    with pytest.raises(UnknownId):
        list_entries("gossip")


def test_coverage_is_of_the_loaded_base(base: KnowledgeBase) -> None:
    assert coverage()["knowledge_version"] == base.version


def test_every_citation_is_counted(base: KnowledgeBase) -> None:
    kinds = ("weeds", "actives", "turf", "rules", "mixtures", "interactions", "adjuvants", "zones", "surroundings")
    cited = Counter(
        part.id
        for kind in (
            *kinds,
            "shifts",
            "parameters",
            "notices",
            "results",
            "formulations",
            "measures",
            "steps",
            "growth",
            "records",
            "customer",
            "climate",
            "mechanisms",
            "likely",
            "proposal",
        )
        for entry in getattr(base, kind).values()
        for _, part in walk(entry)
        if isinstance(part, Citation)
    )
    assert used_sources() == cited


def test_snapshots_are_kept_outside_the_project() -> None:
    project = Path(__file__).resolve().parents[2]
    assert project not in snapshot_folder().resolve().parents


def test_a_source_names_what_cites_it() -> None:
    weed = knowledge_base().weeds["wild-violet"]
    assert ("wild-violet", weed.name) in uses_of(weed.recognise.sources[0].id)["weeds"]
    assert uses_of("no-such-source") == {"weeds": [], "actives": [], "turf": []}
