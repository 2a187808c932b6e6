"""Points graded by eye: the catalogue, what a standard says of them, and the grades themselves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from kit.protocol.catalogue import did_you_mean
from kit.quantities.errors import DataFileError
from kit.quantities.toml_table import Table, read_toml
from kit.standards.columns import Cells, ColumnError, Sheet, read_sheet

REQUIRED = ("dog", "point", "grade")
SURE = ("sure", "fairly sure", "unsure")
# Figures of movement a standard may ask something of; kit.movement works them out.
MOVEMENT_FIGURES = ("front_track_to_stance", "rear_track_to_stance", "front_convergence",
                    "rear_convergence", "front_toeing", "rear_toeing")  # fmt: skip
_POINT_KEYS = ("title", "region", "subject", "verb", "scale", "ordered", "how")
_CLAUSE_KEYS = ("point", "words", "asked", "faults", "not_accepted", "categories", "section",
                "evidence", "note")  # fmt: skip
_MOVEMENT_KEYS = ("figure", "words", "low", "high", "reading", "section", "evidence",
                  "definition", "note")  # fmt: skip


@dataclass(frozen=True)
class Point:
    """One point that is seen, not measured.

    Attributes
    ----------
    scale : tuple of str
        The grades; in order where `ordered`, what most standards hope for first.
    subject, verb : str
        What a sentence about it begins with: "the feet are", then the grade.
    region : str
        Where on the dog it belongs.
    """

    key: str
    title: str
    region: str
    subject: str
    verb: str
    scale: tuple[str, ...]
    ordered: bool
    how: str
    source: str


@dataclass(frozen=True)
class PointClause:
    """What a standard says of one point: which grades it asks for, faults, or does not accept."""

    point: str
    words: str
    scale: tuple[str, ...]
    asked: tuple[str, ...]
    faults: tuple[str, ...]
    not_accepted: tuple[str, ...]
    section: str
    evidence: str
    note: str


@dataclass(frozen=True)
class MovementClause:
    """What a standard asks of one figure of movement; None is an open limit."""

    figure: str
    words: str
    low: float | None
    high: float | None
    reading: str
    section: str
    evidence: str
    definition: str
    note: str


@dataclass(frozen=True)
class Grade:
    """One point of one dog as one person saw it; never changed, only followed by another."""

    dog: str
    point: str
    grade: str
    sure: str = SURE[0]
    grader: str = ""
    time: str = ""
    note: str = ""


@cache
def points() -> Mapping[str, Point]:
    """Return the catalogue of points graded by eye."""
    root = read_toml(Path(__file__).with_name("points.toml"))
    root.only(("source", "points"))
    source = root.text("source")
    tables = root.tables("points")
    return MappingProxyType({key: _point(key, table, source) for key, table in tables.items()})


def point(key: str) -> Point:
    """Return one point; an unknown key raises DataFileError with near names."""
    if key in points():
        return points()[key]
    raise DataFileError(f"no point is called '{key}'", "a point graded by eye", key,
                        did_you_mean(key, points()))  # fmt: skip


def _point(key: str, table: Table, source: str) -> Point:
    table.only(_POINT_KEYS)
    scale = table.texts("scale")
    if len(set(scale)) < 2 or len(set(scale)) != len(scale):
        raise table.fault("scale", "two or more grades, each once", scale)
    return Point(key, table.text("title"), table.text("region"), table.text("subject"),
                 table.choice("verb", ("is", "are"), default="is"), scale,
                 table.flag("ordered", default=True), table.text("how"), source)  # fmt: skip


def read_point_clauses(root: Table, evidence: tuple[str, ...]) -> tuple[PointClause, ...]:
    """Read the [[point]] tables of a standard."""
    clauses = tuple(_point_clause(table, evidence) for table in root.array("point"))
    twice = [c.point for c in clauses if sum(c.point == other.point for other in clauses) > 1]
    if twice:
        raise root.fault("point", "each point once", twice[0])
    return clauses


def _point_clause(table: Table, evidence: tuple[str, ...]) -> PointClause:
    table.only(_CLAUSE_KEYS)
    key = table.choice("point", points())
    scale = table.texts("categories") or points()[key].scale
    groups = {name: table.texts(name) for name in ("asked", "faults", "not_accepted")}
    said = [grade for grades in groups.values() for grade in grades]
    for name, grades in groups.items():
        for grade in grades:
            if grade not in scale:
                raise table.fault(name, "one of: " + "; ".join(scale), grade)
            if said.count(grade) > 1:
                raise table.fault(name, "each grade in one list only", grade)
    if not groups["asked"]:
        raise table.fault("asked", "at least one grade", "nothing")
    return PointClause(
        key, table.text("words"), scale, groups["asked"], groups["faults"],
        groups["not_accepted"], table.text("section", default="not recorded"),
        table.choice("evidence", evidence), table.text("note", default=""),
    )  # fmt: skip


def read_movement_clauses(root: Table, evidence: tuple[str, ...]) -> tuple[MovementClause, ...]:
    """Read the [[movement]] tables of a standard."""
    return tuple(_movement_clause(table, evidence) for table in root.array("movement"))


def _movement_clause(table: Table, evidence: tuple[str, ...]) -> MovementClause:
    table.only(_MOVEMENT_KEYS)
    low, high = table.optional_number("low"), table.optional_number("high")
    if low is None and high is None:
        raise table.fault("low", "at least one limit", "nothing")
    if low is not None and high is not None and not low < high:
        raise table.fault("low", f"less than high ({high:g})", low)
    return MovementClause(
        table.choice("figure", MOVEMENT_FIGURES), table.text("words"), low, high,
        table.text("reading"), table.text("section", default="not recorded"),
        table.choice("evidence", evidence), table.text("definition"),
        table.text("note", default=""),
    )  # fmt: skip


def read_grades(path: Path, clauses: tuple[PointClause, ...] = ()) -> Sheet[Grade]:
    """Read a CSV of grades: dog, point, grade; optionally sure, grader, time, note.

    Raises
    ------
    DataFileError
        If the file cannot be read or lacks a column. A bad row is reported, the rest counts.
    """
    scales = {clause.point: clause.scale for clause in clauses}
    return read_sheet(path, REQUIRED, lambda cells: _grade(cells, scales))


def _grade(cells: Cells, scales: Mapping[str, tuple[str, ...]]) -> Grade:
    key = cells["point"]
    if key not in points():
        raise ColumnError("point", f"no point is called '{key}'", "a point graded by eye", key,
                          did_you_mean(key, points()))  # fmt: skip
    return make_grade(cells["dog"], key, cells["grade"], scales.get(key, points()[key].scale),
                      cells.get("sure", ""), cells.get("grader", ""), cells.get("time", ""),
                      cells.get("note", ""))  # fmt: skip


def make_grade(dog: str, key: str, grade: str, scale: tuple[str, ...], sure: str = "",
               grader: str = "", time: str = "", note: str = "") -> Grade:  # fmt: skip
    """Build a grade from what was written; an unknown word raises ColumnError."""
    if not dog:
        raise ColumnError("dog", "no dog is named", "a name or number of the dog", "nothing")
    if grade not in scale:
        raise ColumnError(
            "grade",
            f"'{grade}' is no grade of {points()[key].title}",
            "one of: " + "; ".join(scale),
            grade,
            "use the words of the scale",
        )
    if (sure or SURE[0]) not in SURE:
        raise ColumnError("sure", "unknown word for how sure", ", ".join(SURE), sure)
    return Grade(dog, key, grade, sure or SURE[0], grader, time, note)
