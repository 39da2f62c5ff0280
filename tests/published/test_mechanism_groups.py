"""Mechanism groups against the published scheme; source and basis stand beside each number."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from knowledge.base import KnowledgeBase

GROUPS = yaml.safe_load(Path(__file__).with_name("mechanism_groups.yaml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("active", sorted(GROUPS))
def test_the_group_is_the_published_one(base: KnowledgeBase, active: str) -> None:
    assert base.actives[active].mechanism.group == GROUPS[active]["group"]


def test_nearly_every_active_is_checked(base: KnowledgeBase) -> None:
    assert len(set(base.actives) - set(GROUPS)) <= 6
