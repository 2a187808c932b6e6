"""What the graders' eyes bear about each point, and how far two graders agree."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from scipy import special

from kit.quantities.errors import EstimationError
from kit.standards.points import SURE, Grade, PointClause, points

UNSURE = SURE[-1]


class Seen(StrEnum):
    """What can be said of one point. Words, never numbers: nothing here enters a figure."""

    AS_ASKED = "as asked"
    FAULT = "fault"
    NOT_ACCEPTED = "not accepted"
    UNDECIDED = "undecided"
    DESCRIBED = "described"
    NOT_GRADED = "not graded"


@dataclass(frozen=True)
class PointFinding:
    """One point of one dog.

    Attributes
    ----------
    clause : PointClause or None
        None where the standard says nothing of it.
    grades : tuple of Grade
        The last grade of each grader.
    reason : str
        Why it stays undecided; else empty.
    """

    point: str
    clause: PointClause | None
    seen: Seen
    grades: tuple[Grade, ...]
    reason: str = ""

    @property
    def grade(self) -> str:
        """The grade, where the graders agree on one; else empty."""
        found = {grade.grade for grade in self.grades}
        return found.pop() if len(found) == 1 else ""


@dataclass(frozen=True)
class Agreement:
    """How often two graders gave the same grade.

    Attributes
    ----------
    same, pairs : int
    low95, high95 : float
        Wilson's interval of the part that is the same.
    neighbours : int
        Pairs one step of an ordered scale apart.
    """

    first: str
    second: str
    same: int
    pairs: int
    neighbours: int
    low95: float
    high95: float


def see(
    dog: str, grades: Sequence[Grade], clauses: Sequence[PointClause]
) -> tuple[PointFinding, ...]:
    """Hold one dog's grades against what a standard says of the points."""
    own = [grade for grade in grades if grade.dog == dog]
    asked = {clause.point: clause for clause in clauses}
    return tuple(
        _finding(key, asked.get(key), _last_of_each([g for g in own if g.point == key]))
        for key in points()
        if key in asked or any(grade.point == key for grade in own)
    )


def _last_of_each(grades: Iterable[Grade]) -> tuple[Grade, ...]:
    """Keep the last grade of each grader; by its time where it has one, else as written."""
    last: dict[str, Grade] = {}
    for grade in sorted(grades, key=lambda grade: grade.time):
        last[grade.grader] = grade
    return tuple(last.values())


def _finding(key: str, clause: PointClause | None, grades: tuple[Grade, ...]) -> PointFinding:
    if not grades:
        return PointFinding(key, clause, Seen.NOT_GRADED, ())
    if all(grade.sure == UNSURE for grade in grades):
        return PointFinding(key, clause, Seen.UNDECIDED, grades, "whoever graded it was unsure")
    kinds = {_kind(grade.grade, clause) for grade in grades}
    if len(kinds) > 1:
        return PointFinding(key, clause, Seen.UNDECIDED, grades, "the graders differ")
    return PointFinding(key, clause, kinds.pop(), grades)


def _kind(grade: str, clause: PointClause | None) -> Seen:
    if clause is None:
        return Seen.DESCRIBED
    if grade in clause.asked:
        return Seen.AS_ASKED
    if grade in clause.not_accepted:
        return Seen.NOT_ACCEPTED
    return Seen.FAULT if grade in clause.faults else Seen.DESCRIBED


def agreement(grades: Sequence[Grade], first: str, second: str) -> Agreement:
    """Count how often two graders gave the same point of the same dog the same grade.

    Raises
    ------
    EstimationError
        If they graded nothing in common.

    Source of the interval: Wilson EB 1927, J Am Stat Assoc 22:209-212 (from memory).
    """
    pairs = _pairs(grades, first, second)
    if not pairs:
        raise EstimationError(f"{first} and {second} graded nothing in common",
                              "one point of one dog graded by both")  # fmt: skip
    same = sum(one.grade == other.grade for one, other in pairs)
    beside = sum(_steps(one, other) == 1 for one, other in pairs)
    return Agreement(first, second, same, len(pairs), beside, *_wilson(same, len(pairs)))


def _pairs(grades: Sequence[Grade], first: str, second: str) -> list[tuple[Grade, Grade]]:
    ones, others = (
        {(g.dog, g.point): g for g in sorted(grades, key=lambda g: g.time) if g.grader == name}
        for name in (first, second)
    )
    return [(ones[key], others[key]) for key in ones if key in others]


def _steps(one: Grade, other: Grade) -> int:
    """Return how many steps of the scale two grades lie apart; far for kinds without an order."""
    point = points()[one.point]
    if not point.ordered or not {one.grade, other.grade} <= set(point.scale):
        return 0 if one.grade == other.grade else len(point.scale)
    return abs(point.scale.index(one.grade) - point.scale.index(other.grade))


def _wilson(same: int, pairs: int) -> tuple[float, float]:
    z = float(special.ndtri(0.975))
    part, spread = same / pairs, z**2 / pairs
    middle = (part + spread / 2) / (1 + spread)
    reach = z / (1 + spread) * math.sqrt(part * (1 - part) / pairs + spread / (4 * pairs))
    return max(0.0, middle - reach), min(1.0, middle + reach)


def cohen_kappa(pairs: Sequence[tuple[str, str]]) -> float:
    """Return Cohen's kappa of two graders over one point of many dogs.

    Raises
    ------
    EstimationError
        If there is no pair, or both always gave one and the same grade: chance explains it all.

    Source: Cohen J 1960, Educ Psychol Meas 20:37-46 (from memory).
    """
    if not pairs:
        raise EstimationError("no agreement without grades", "at least one pair")
    words = {grade for pair in pairs for grade in pair}
    observed = sum(one == other for one, other in pairs) / len(pairs)
    expected = sum(
        sum(pair[0] == word for pair in pairs) * sum(pair[1] == word for pair in pairs)
        for word in words
    ) / len(pairs) ** 2  # fmt: skip
    if expected == 1.0:
        raise EstimationError("kappa is not defined", "two grades or more in use", words.pop())
    return (observed - expected) / (1.0 - expected)


def graders(grades: Sequence[Grade]) -> tuple[str, ...]:
    """Return who graded, in order of appearance."""
    return tuple(dict.fromkeys(grade.grader for grade in grades if grade.grader))
