"""Gathering the sources that an answer rests on."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from app.engine.output import Caution, CitedSource, Statement
from app.engine.rules import Finding
from knowledge.base import KnowledgeBase
from knowledge.models import Citation

_ORDER = {"warning": 0, "caution": 1, "info": 2}


def source_ids(citations: Iterable[Citation]) -> tuple[str, ...]:
    """Ids of the sources cited, each once, in the order of the citations."""
    return tuple(dict.fromkeys(citation.id for citation in citations))


def cited(base: KnowledgeBase, ids: Iterable[str]) -> dict[str, CitedSource]:
    """The sources themselves, by id, in alphabetic order."""
    return {key: _cited(base, key) for key in sorted(set(ids))}


def _cited(base: KnowledgeBase, key: str) -> CitedSource:
    source = base.sources[key]
    basis: Literal["published", "memory", "common-practice", "house"] = "published" if source.seen else "memory"
    if source.kind in ("common-practice", "house"):
        basis = source.kind
    return CitedSource(citation=source.citation, kind=source.kind, basis=basis)


def stops_said(base: KnowledgeBase, findings: Iterable[Finding]) -> tuple[Statement, ...]:
    """Stops as sentences, those that say the same once."""
    merged = {f.merged_key(): f for f in findings if f.outcome == "stop"}
    return tuple(Statement(code=f.code, text=f.sentence(base), sources=source_ids(f.sources)) for f in merged.values())


def cautions_said(base: KnowledgeBase, findings: Iterable[Finding]) -> tuple[Caution, ...]:
    """Everything that informs, as sentences, the gravest first."""
    merged = {f.merged_key(): f for f in findings if f.outcome != "stop"}
    said = [
        Caution(
            code=f.code,
            severity=f.severity,
            text=f.sentence(base),
            settled_by=f.settled_by,
            sources=source_ids(f.sources),
        )
        for f in merged.values()
    ]
    return tuple(sorted(said, key=lambda c: _ORDER[c.severity]))
