"""A class that grades the same drawings: how far it agrees, and where it does not."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from kit.estimation.agreement import Agreement, fleiss_kappa, gwet_ac1, kendall_w
from kit.quantities.errors import DataFileError, EstimationError
from kit.teaching.contrasts import Contrast, contrast

GRADES = (-2, -1, 0, 1, 2)
# Parts of a step the drawings of a set are changed by: every grade, and the edges between them.
PARTS = (-1.0, -0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75, 1.0)
COLUMNS = ("learner", "drawing", "grade")


@dataclass(frozen=True)
class DrawingSet:
    """Drawings in the order they are shown: the same seed gives the same set."""

    contrast: Contrast
    seed: int
    amounts: tuple[float, ...]


def drawing_set(key: str, seed: int, count: int = 12) -> DrawingSet:
    """Choose drawings of one contrast, mixed.

    Raises
    ------
    EstimationError
        If fewer than three are asked for.
    """
    if count < 3:
        raise EstimationError("no set of drawings", "at least three", f"{count}")
    one = contrast(key)
    generator = np.random.default_rng(seed)
    rounds = [generator.permutation(PARTS) for _ in range(-(-count // len(PARTS)))]
    parts = np.concatenate(rounds)[:count]
    return DrawingSet(one, seed, tuple(float(part) * one.step for part in parts))


def grade_words(one: Contrast) -> Mapping[int, str]:
    """Return what each grade is called."""
    return {
        -2: f"clearly {one.under}", -1: f"slightly {one.under}", 0: "as asked",
        1: f"slightly {one.over}", 2: f"clearly {one.over}",
    }  # fmt: skip


@dataclass(frozen=True)
class Drawing:
    """How a class graded one drawing.

    Attributes
    ----------
    name : str
    counts : tuple of int
        How many gave each of GRADES.
    agreement : float
        Part of the pairs of learners that gave it the same grade.
    spread : float
        Standard deviation of the grades, in grades.
    """

    name: str
    counts: tuple[int, ...]
    agreement: float
    spread: float


@dataclass(frozen=True)
class Class:
    """What a class of learners agreed on.

    Attributes
    ----------
    learners : tuple of str
    drawings : tuple of Drawing
        Those they disagree about most first: that is what to talk about.
    kappa, ac1, concordance : Agreement
    """

    learners: tuple[str, ...]
    drawings: tuple[Drawing, ...]
    kappa: Agreement
    ac1: Agreement
    concordance: Agreement


def agreement(grades: Mapping[str, Mapping[str, int]]) -> Class:
    """Work out how far a class agrees.

    Parameters
    ----------
    grades : mapping of learner to mapping of drawing to grade
        Grades from -2 (clearly under) to 2 (clearly over); every learner the same drawings.

    Raises
    ------
    EstimationError
        If a learner lacks a drawing, or there is nothing to compare.
    """
    learners = tuple(grades)
    names = tuple(dict.fromkeys(name for given in grades.values() for name in given))
    for learner, given in grades.items():
        missing = [name for name in names if name not in given]
        if missing:
            raise EstimationError(
                f"'{learner}' did not grade every drawing", ", ".join(names),
                "no " + ", ".join(missing), "leave the learner or the drawing out",
            )  # fmt: skip
    table = np.array([[grades[one][name] for one in learners] for name in names])
    if table.size == 0 or not np.isin(table, GRADES).all():
        raise EstimationError("no agreement", "grades from -2 to 2", "others or none")
    counts = np.stack([(table == grade).sum(axis=1) for grade in GRADES], axis=1)
    drawings = [_drawing(*row) for row in zip(names, counts, table, strict=True)]
    ordered = tuple(sorted(drawings, key=lambda one: (one.agreement, -one.spread)))
    return Class(learners, ordered, fleiss_kappa(counts), gwet_ac1(counts), kendall_w(table))


def _drawing(name: str, counts: NDArray[np.int64], grades: NDArray[np.int64]) -> Drawing:
    raters = int(counts.sum())
    pairs = float((counts * (counts - 1)).sum()) / max(raters * (raters - 1), 1)
    return Drawing(name, tuple(int(one) for one in counts), pairs, float(grades.std()))


def read_grades(path: Path) -> dict[str, dict[str, int]]:
    """Read grades from a CSV with the columns learner, drawing, grade.

    Raises
    ------
    DataFileError
        Naming the row and what is wrong with it.
    """
    found: dict[str, dict[str, int]] = {}
    for number, row in enumerate(rows_of(path, COLUMNS), start=2):
        learner, drawing, text = (row[name] for name in COLUMNS)
        if text.lstrip("+").replace("−", "-") not in {str(grade) for grade in GRADES}:
            raise DataFileError(f"{path.name}, row {number}", "a grade from -2 to 2", text)
        given = found.setdefault(learner, {})
        if drawing in given:
            raise DataFileError(f"{path.name}, row {number}", "each drawing once a learner",
                                f"{learner}, {drawing}")  # fmt: skip
        given[drawing] = int(text.replace("−", "-"))
    return found


def rows_of(path: Path, columns: Sequence[str]) -> list[dict[str, str]]:
    """Read a CSV whose head has at least these columns; every one of them must be filled."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as fault:
        raise DataFileError(f"cannot read {path}", "a CSV file", str(fault)) from fault
    for number, row in enumerate(rows, start=2):
        for name in columns:
            if not (row.get(name) or "").strip():
                raise DataFileError(f"{path.name}, row {number}", f"a value in column '{name}'")
    if not rows:
        raise DataFileError(f"{path.name} has no rows", "columns " + ", ".join(columns))
    return [{key: (value or "").strip() for key, value in row.items() if key} for row in rows]
