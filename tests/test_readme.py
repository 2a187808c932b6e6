"""The README shows what the kit really draws."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kit.cli.main import main

ROOT = Path(__file__).parents[1]


def words(path: Path) -> list[str]:
    """Return every piece of text in an SVG."""
    return re.findall(r"<text[^>]*>([^<]*)</text>", path.read_text(encoding="utf-8"))


@pytest.mark.slow
def test_the_pictures_are_those_of_the_demo(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["demo", "--out", str(tmp_path)]) == 0
    assert "Report:" in capsys.readouterr().out
    for name in ("side_view.svg", "against_standard.svg"):
        (drawn,) = tmp_path.rglob(name)
        shown = ROOT / "data" / "pictures" / name
        assert f"data/pictures/{name}" in (ROOT / "README.md").read_text(encoding="utf-8")
        assert words(shown) == words(drawn), f"copy {drawn.name} of the demo to data/pictures"
