"""Assessments as the JSON document of `conformation assess --json`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from kit.figure.snooping import Suspect
from kit.protocol.reading_files import RowProblem
from kit.standards.assessment import Assessment, Doubt, misfit_in_words
from kit.standards.findings import Finding
from kit.traits.declarations import kind_of
from kit.traits.estimates import TraitEstimate

Json = dict[str, Any]


def as_json(assessments: Sequence[Assessment], problems: Iterable[RowProblem]) -> Json:
    """Return the whole document; bad rows stand with their dog and once more for the file."""
    rows = tuple(problems)
    named = {assessment.dog for assessment in assessments}
    unnamed = [row for row in rows if row.dog not in named]
    return {
        "dogs": [_dog(assessment, rows) for assessment in assessments],
        "problems": [_row_problem(row) for row in unnamed],
    }


def _dog(assessment: Assessment, rows: Sequence[RowProblem]) -> Json:
    own = [_row_problem(row) for row in rows if row.dog == assessment.dog]
    return {
        "dog": assessment.dog,
        "traits": [_trait(known) for known in assessment.traits.known.values()],
        "findings": [_finding(finding) for finding in assessment.findings],
        "figure": _figure(assessment),
        "problems": own + [_doubt(doubt) for doubt in assessment.doubts],
    }


def _trait(known: TraitEstimate) -> Json:
    return {
        "trait": known.trait.key,
        "value": known.value,
        "unit": known.trait.kind.unit,
        "u": known.uncertainty,
        "low95": known.low95,
        "high95": known.high95,
        "method": f"figure, {known.method}" if known.fitted else known.method,
    }


def _figure(assessment: Assessment) -> Json:
    """Return the figure of the left side, or of the right where only that was measured."""
    figure = next(iter(assessment.figures.values()), None)
    if figure is None:
        return {"points": {}, "suspects": [], "unchecked": []}
    return {
        "points": {name: [x, y] for name, (x, y) in figure.points.items()},
        "suspects": [_suspect(one, figure.side) for one in figure.suspects],
        "unchecked": list(figure.unchecked),
    }


def _suspect(one: Suspect, side: str) -> Json:
    return {
        "measurement": one.key,
        "observed": one.observed,
        "expected": one.expected,
        "unit": kind_of(one.key).unit,
        "test": one.test,
        "critical": one.critical,
        "alternatives": list(one.alternatives),
        "message": misfit_in_words(one, side),
    }


def _finding(finding: Finding) -> Json:
    clause = finding.clause
    document: Json = {
        "trait": clause.trait,
        "finding": finding.outcome.value,
        "probability": None if finding.chance is None else finding.chance.within,
        "low": clause.low,
        "high": clause.high,
        "clause": clause.words,
        "reading": clause.reading,
        "reason": finding.reason,
    }
    if finding.advice is not None:
        document["repeat"] = {
            "measurement": finding.advice.measurement,
            "decides": finding.advice.decides,
        }
        if finding.advice.decides:
            document["repeat"]["times"] = finding.advice.repeats
    return document


def _row_problem(row: RowProblem) -> Json:
    return {"file": row.file, "row": row.row, "column": row.column, "message": str(row)}


def _doubt(doubt: Doubt) -> Json:
    return {"about": doubt.about, "message": doubt.message}
