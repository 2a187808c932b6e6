"""Readings that are hard to believe, each with its question. Nothing is refused or dropped here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from statistics import median

from kit.estimation.repeats import disagreement, tool_used
from kit.panels.state import Target
from kit.protocol.catalogue import Catalogue, catalogue, with_titles
from kit.protocol.plausibility import height_of, length_of, question
from kit.records.values import StoredReading
from kit.standards.assessment import Assessment, misfit_in_words
from kit.traits.declarations import traits

CONFIRMED = "confirmed"
"""What stands in the note of a reading a person was asked about and stood by."""


@dataclass(frozen=True)
class Question:
    """A question about one stored reading.

    Attributes
    ----------
    reading : str
        Identity of the row asked about.
    raw : str
        What was written.
    """

    reading: str
    target: Target
    raw: str
    text: str


def is_confirmed(row: StoredReading) -> bool:
    """Tell whether a person stood by this reading when asked."""
    return CONFIRMED in row.reading.note.split("; ")


def questions(
    rows: Sequence[StoredReading], assessment: Assessment, known: Catalogue
) -> tuple[Question, ...]:
    """Return every open question, the newest reading's first.

    Asked are: a value outside the range for this size, repeats that disagree, readings that
    cannot belong to one dog, and one that does not fit the figure the others make.
    """
    found: dict[str, Question] = {}
    doubts = (
        *_implausible(rows, known),
        *_apart(rows, known),
        *_faults(rows, assessment),
        *_misfits(rows, assessment),
    )
    for row, text in doubts:
        if text and row.id not in found and not is_confirmed(row):
            target = Target(row.reading.measurement, row.reading.side)
            found[row.id] = Question(row.id, target, row.reading.raw, text)
    newest = {row.id: row.stored_at for row in rows}
    return tuple(sorted(found.values(), key=lambda asked: newest[asked.reading], reverse=True))


def _implausible(
    rows: Sequence[StoredReading], known: Catalogue
) -> Iterator[tuple[StoredReading, str]]:
    height = height_of(row.reading for row in rows)
    length = length_of(row.reading for row in rows)
    for row in rows:
        definition = known.measurement(row.reading.measurement)
        yield row, question(definition, row.reading.value, height, length)


def _apart(rows: Sequence[StoredReading], known: Catalogue) -> Iterator[tuple[StoredReading, str]]:
    """Ask about the repeat that stands apart; of two, about the later one."""
    groups: dict[Target, list[StoredReading]] = {}
    for row in rows:
        groups.setdefault(Target(row.reading.measurement, row.reading.side), []).append(row)
    for target, group in groups.items():
        readings = [row.reading for row in group]
        definition = known.measurement(target.measurement)
        text = disagreement(readings, definition, tool_used(readings, known))
        if text:
            yield _odd_one(group), text


def _odd_one(group: Sequence[StoredReading]) -> StoredReading:
    """Return the repeat farthest from the middle; of two, the later one."""
    if len(group) == 2:
        return max(group, key=lambda row: row.stored_at)
    middle = median(row.reading.value for row in group)
    return max(group, key=lambda row: (abs(row.reading.value - middle), row.stored_at))


def _faults(
    rows: Sequence[StoredReading], assessment: Assessment
) -> Iterator[tuple[StoredReading, str]]:
    """Ask about the latest of the readings that cannot belong together."""
    for key, text in assessment.traits.faults.items():
        behind = [row for row in rows if row.reading.measurement in inputs_of(key)]
        if behind:
            shown = _with_titles(text)
            yield max(behind, key=lambda row: row.stored_at), shown


def _misfits(
    rows: Sequence[StoredReading], assessment: Assessment
) -> Iterator[tuple[StoredReading, str]]:
    """Ask about the readings that do not fit the figure all the others make."""
    for side, figure in assessment.figures.items():
        for suspect in figure.suspects:
            behind = [
                row
                for row in rows
                if row.reading.measurement == suspect.key and row.reading.side in {"", side}
            ]
            if behind:
                text = _with_titles(misfit_in_words(suspect, side))
                yield max(behind, key=lambda row: row.stored_at), text


def _with_titles(text: str) -> str:
    words = with_titles(text)
    return words[:1].upper() + words[1:]


@cache
def inputs_of(trait_key: str) -> frozenset[str]:
    """Return the measurements a trait may be derived from."""
    found: set[str] = set()
    for symbol in traits()[trait_key].expression.free_symbols:
        if symbol.name in catalogue().measurements:
            found.add(symbol.name)
        elif symbol.name in traits() and symbol.name != trait_key:
            found |= inputs_of(symbol.name)
    return frozenset(found)
