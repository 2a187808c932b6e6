"""A litter's readings from a CSV: the readings file of the kit with a few columns more.

``born`` (whelping date, ISO 8601) is needed once for each puppy, or once for the litter with the
litter's other dogs; ``sex`` (dog or bitch), ``collar`` (or any other mark), ``died`` and
``litter`` may be given. Cells that are empty repeat what was said of the puppy before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from kit.growth.puppies import Puppy
from kit.protocol.catalogue import Catalogue
from kit.protocol.reading_files import Row, RowProblem, read_csv, read_rows
from kit.protocol.readings import Reading
from kit.quantities.errors import DataFileError

COLUMNS = ("born", "sex", "collar", "died", "litter")
SEXES = ("", "dog", "bitch")


@dataclass(frozen=True)
class LitterFile:
    """What a file held."""

    readings: tuple[Reading, ...]
    puppies: tuple[Puppy, ...]
    problems: tuple[RowProblem, ...]


@dataclass
class _Known:
    """What the rows say of one puppy, and the row that said it."""

    said: dict[str, str] = field(default_factory=dict)


def read_litter(path: Path, catalogue: Catalogue, born: date | None = None) -> LitterFile:
    """Read readings and puppies; a bad row is reported and the rest still counts.

    Parameters
    ----------
    born : date, optional
        The whelping date of every puppy for which the file gives none.

    Raises
    ------
    DataFileError
        If the file cannot be read, or gives a whelping date for no puppy.
    """
    file = read_csv(path, catalogue)
    problems = list(file.problems)
    known = _gathered(read_rows(path), path.name, problems)
    puppies = [
        _puppy(name, one.said, born) for name, one in known.items() if born or "born" in one.said
    ]
    if not puppies:
        raise DataFileError(
            f"{path.name} gives no whelping date", "a column born, or --born",
            do="add the date of birth as YYYY-MM-DD",
        )  # fmt: skip
    return LitterFile(file.readings, tuple(puppies), tuple(problems))


def _gathered(rows: Sequence[Row], file: str, problems: list[RowProblem]) -> dict[str, _Known]:
    known: dict[str, _Known] = {}
    for row in rows:
        dog = row.cells.get("dog", "").strip()
        if not dog:
            continue
        said = known.setdefault(dog, _Known()).said
        for column in COLUMNS:
            fault = _take(said, column, row.cells.get(column, "").strip())
            if fault:
                problems.append(RowProblem(file, row.number, column, fault, dog))
    return known


def _take(said: dict[str, str], column: str, text: str) -> str:
    """Take one cell down; return what is wrong with it, or an empty text."""
    if not text:
        return ""
    if column in ("born", "died") and not _is_date(text):
        return f"'{text}' is no date; write YYYY-MM-DD"
    if column == "sex" and text not in SEXES:
        return f"'{text}' is no sex; write dog or bitch"
    if said.setdefault(column, text) != text:
        return f"says {text}, but an earlier row says {said[column]}; the earlier one is used"
    return ""


def _is_date(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _puppy(name: str, said: Mapping[str, str], born: date | None) -> Puppy:
    given = said.get("born")
    whelped = date.fromisoformat(given) if given else born
    assert whelped is not None  # noqa: S101  (only puppies with a date come here)
    died = said.get("died")
    return Puppy(
        name=name,
        born=whelped,
        sex=said.get("sex", ""),
        mark=said.get("collar", ""),
        died=date.fromisoformat(died) if died else None,
        litter=said.get("litter", ""),
    )
