"""The notebooks that ship with the kit: their names and what each is for."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from kit.protocol.catalogue import did_you_mean
from kit.protocol.shipped import shipped
from kit.quantities.errors import DataFileError

FIRST = "measure-a-dog"
ENDING = ".ipynb"


def shipped_notebooks() -> dict[str, Path]:
    """Return the shipped notebooks by name; the one for measuring comes first."""
    found = {path.stem: path for path in sorted(shipped("notebooks").glob(f"*{ENDING}"))}
    return {name: found[name] for name in sorted(found, key=lambda name: name != FIRST)}


def chosen(name: str) -> str:
    """Return the name of a shipped notebook, given with or without its ending.

    Raises
    ------
    DataFileError
        If none is called so.
    """
    known = shipped_notebooks()
    plain = name.removesuffix(ENDING)
    if plain in known:
        return plain
    hint = did_you_mean(plain, known) or "see: conformation open --list"
    raise DataFileError(f"no notebook is called '{name}'", ", ".join(known), name, hint)


def purpose(path: Path) -> str:
    """Return the sentence a notebook opens with."""
    for cell in _content(path)["cells"]:
        for line in _source(cell).splitlines():
            if line.strip() and not line.startswith("#"):
                return line.strip()
    raise DataFileError(f"{path.name} does not say what it is for", "a sentence in its first cell")


def fingerprint(path: Path) -> str:
    """Return a digest of what a person wrote in a notebook: the cells, not what running left.

    Raises
    ------
    DataFileError
        If the file is no notebook.
    """
    cells = [(cell["cell_type"], _source(cell)) for cell in _content(path)["cells"]]
    return hashlib.sha256(json.dumps(cells).encode()).hexdigest()


def _source(cell: dict[str, Any]) -> str:
    """Return the text of a cell, which the format allows as one text or as lines."""
    source = cell["source"]
    return source if isinstance(source, str) else "".join(source)


def _content(path: Path) -> dict[str, Any]:
    try:
        content: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        if not all({"cell_type", "source"} <= cell.keys() for cell in content["cells"]):
            raise KeyError("source")
    except OSError as fault:
        raise DataFileError(f"cannot read {path}", given=str(fault.strerror)) from fault
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        raise DataFileError(
            f"{path} is no notebook", "a Jupyter notebook", do="move it away"
        ) from fault
    return content
