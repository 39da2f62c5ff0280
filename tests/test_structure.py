"""The house keeps its shape: layers, sizes, rules and their texts, documentation."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

from app.api.openapi import document
from app.cli import build_parser
from app.engine.rules import registered
from knowledge.base import KnowledgeBase

ROOT = Path(__file__).resolve().parent.parent
CODE = sorted([*(ROOT / "app").rglob("*.py"), *(ROOT / "knowledge").rglob("*.py")])
LONGEST = 400


def test_imports_run_one_way() -> None:
    linter = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([str(linter)], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("path", CODE, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_files_stay_short(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST


def test_every_rule_has_its_text_and_every_text_its_rule(base: KnowledgeBase) -> None:
    coded = {item.code: item.scope for item in registered()}
    assert set(coded) <= set(base.rules)
    for key, rule in base.rules.items():
        if rule.scope != "situation":
            assert coded.get(key) == rule.scope, key


def test_every_finding_of_the_situation_has_its_text(base: KnowledgeBase) -> None:
    text = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "app" / "engine").glob("*.py"))
    named = set(re.findall(r'Finding\(\s*"([a-z-]+)"', text))
    assert named <= set(base.rules)


def test_no_threshold_hides_in_a_predicate() -> None:
    for path in (ROOT / "app" / "engine" / "rules").glob("*.py"):
        for function in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(function, ast.FunctionDef):
                for node in ast.walk(function):
                    if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
                        assert node.value in (0, 1, -1, True, False), f"{path.name}:{node.lineno}"


def test_the_top_level_holds_the_agreed_names() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    tops = {line.split("/")[0] for line in listed.splitlines()}
    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "app", "knowledge", "tests", "demo_data"}
    assert {top for top in tops if not top.startswith(".")} <= agreed


def test_every_command_and_call_is_documented() -> None:
    documents = (ROOT / "README.md").read_text(encoding="utf-8") + (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    commands = next(action for action in build_parser()._actions if action.dest == "command").choices
    assert commands is not None
    for command in commands:
        assert f"swardwright {command}" in documents, command
    for path in document()["paths"]:
        stem = path.removesuffix("/{id}")
        assert stem in documents or stem.rsplit("/", 1)[-1] in documents, path


def test_continuous_integration_runs_the_readme() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "README.md" in script
    assert "python -m tests" in (ROOT / "README.md").read_text(encoding="utf-8")
