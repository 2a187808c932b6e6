"""A standard of one's own: checked as text, kept as a file, words read more or less strictly."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Mapping
from pathlib import Path

from kit.quantities.errors import DataFileError
from kit.standards.standard import (
    FOLDER,
    Standard,
    Wording,
    default_wording,
    load_standard,
    read_standard,
)

_FILE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,60}\.toml")


def standard_text(name: str) -> str:
    """Return the file of a shipped standard as text, to start one's own from."""
    return (FOLDER / f"{load_standard(name).key}.toml").read_text(encoding="utf-8")


def standard_from_text(text: str, name: str = "own.toml") -> Standard:
    """Read and validate a standard given as text; faults name file, table and key.

    Raises
    ------
    DataFileError
        If the text has a fault.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / _file_name(name)
        path.write_text(text, encoding="utf-8")
        return read_standard(path)


def save_standard(text: str, folder: Path, name: str) -> Path:
    """Write a valid standard into a folder and return the file; nothing faulty is written.

    Raises
    ------
    DataFileError
        If the text has a fault, the name is no file name, or the file cannot be written.
    """
    standard_from_text(text, name)
    path = folder / _file_name(name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    except OSError as fault:
        raise DataFileError(f"cannot write {path}", given=str(fault.strerror)) from fault
    return path


def _file_name(name: str) -> str:
    if not _FILE_NAME.fullmatch(name):
        needed = "letters, digits, blanks, dots and dashes, ending in .toml"
        raise DataFileError("this is no name for a file", needed, name)
    return name


def read_with_words(name: str, words: Wording) -> Standard:
    """Return a shipped standard with the kit's reading of some words replaced.

    Parameters
    ----------
    words : mapping
        As in wording.toml, such as ``{"about": {"ratio": 0.08}}``; what is not named stays. Limits
        a standard prints stay in any case.
    """
    usual = default_wording()
    tables = [_table(word, {**usual[word], **reach}) for word, reach in words.items()]
    return standard_from_text("\n".join([standard_text(name), *tables]), f"{name}.toml")


def _table(word: str, reach: Mapping[str, float]) -> str:
    lines = [f"{key} = {float(value)!r}" for key, value in reach.items()]
    return "\n".join([f"[wording.{word}]", *lines, ""])
