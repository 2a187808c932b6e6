"""House rules that a linter does not hold."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SOURCES = sorted((ROOT / "kit").rglob("*.py"))


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_nobody_imports_the_package_root(path: Path) -> None:
    """`from kit import x` would slip past the import contract."""
    allowed = {"__version__"}
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module == "kit":
            assert {alias.name for alias in node.names} <= allowed


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_files_stay_short(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


def test_the_top_level_is_as_agreed() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "kit", "notebooks", "tests", "data"}
    visible = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    built = {"report", "build", "dist"}
    assert allowed <= visible
    assert visible - allowed <= built


def test_the_test_command_of_the_readme_is_the_one_ci_runs() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = [line for line in readme.splitlines() if re.match(r"python3 -m venv .*pytest", line)]
    assert len(lines) == 1
    assert "pytest" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
