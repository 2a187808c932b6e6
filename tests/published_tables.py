"""Read the tables of outside figures that the tests compare with."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "published"


def toml_rows(name: str, table: str = "row") -> list[dict[str, Any]]:
    """Return the rows of one table of a TOML file under tests/published."""
    with (FOLDER / name).open("rb") as file:
        return list(tomllib.load(file)[table])


def worked_examples(name: str = "worked_examples.json") -> dict[str, dict[str, Any]]:
    """Return worked examples by id."""
    text = (FOLDER / name).read_text(encoding="utf-8")
    return {row["id"]: row for row in json.loads(text)["rows"]}
