"""Figures of movement held against dynamic similarity and against what a standard asks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kit.movement.assessment import Movement, Pace
from kit.movement.body import Body
from kit.movement.estimate import GaitEstimate
from kit.movement.observations import movement_tables
from kit.standards.conformity import Levels, Outcome, Probabilities, decide
from kit.standards.points import MovementClause


@dataclass(frozen=True)
class MovementFinding:
    """What was found of one figure of movement.

    Attributes
    ----------
    key : str
        ``similarity``, ``symmetry_fore``, ``symmetry_hind`` or one of MOVEMENT_FIGURES.
    pace : str
        The pace it was found at; empty where the figure says so itself.
    reason : str
        Why nothing could be compared.
    validity : str
        Where the comparison holds, to be said beside it.
    """

    key: str
    pace: str
    words: str
    low: float | None
    high: float | None
    reading: str
    source: str
    outcome: Outcome
    chance: Probabilities | None
    estimate: GaitEstimate | None
    reason: str = ""
    validity: str = ""
    section: str = "not recorded"


def movement_findings(
    movement: Movement, clauses: Sequence[MovementClause], levels: Levels
) -> tuple[MovementFinding, ...]:
    """Hold one dog's movement against dynamic similarity and a standard's clauses."""
    similar = [
        _similarity(pace, movement.body, levels)
        for pace in movement.paces.values()
        if "speed" in pace.figures
    ]
    asked = [_asked(clause, movement, levels) for clause in clauses]
    return (*similar, *asked)


def _similarity(pace: Pace, body: Body, levels: Levels) -> MovementFinding:
    """Tell whether the dog takes more or fewer steps than like bodies at this Froude number."""
    table = movement_tables().table("similarity")
    low, high = table.number("low"), table.number("high")
    known = pace.figures.get("stride_ratio")
    reason = "" if known else "strides, distance, time and the height of the hip are all needed"
    reason = reason or _not_alike(body)
    chance = known.chances(low, high) if known and not reason else None
    outcome = decide(chance, levels) if chance else Outcome.NOT_COMPARABLE
    if known is None:
        outcome = Outcome.NOT_MEASURED
    return MovementFinding(
        "similarity", pace.pace, "as many steps as bodies of like build take at this speed and "
        "size", low, high, table.text("reading"), table.text("source"), outcome, chance, known,
        reason, "for cursorial mammals, most above 5 kg, and bodies of like build; an equal Froude "
        "number is needed for equal movement and does not make it",
    )  # fmt: skip


def _not_alike(body: Body) -> str:
    """Say why dynamic similarity must not be asked of this dog; empty where it may."""
    table = movement_tables().table("similarity")
    least, longest = table.number("least_mass"), table.number("longest_body")
    if body.mass is None:
        return f"the weight was not taken, and the relation holds from {least:g} kg"
    if body.mass.value - 2 * body.mass.uncertainty < least:
        return f"at {body.mass.value:.1f} kg it is too light: the relation holds from {least:g} kg"
    if body.length is not None and body.length.low95 > longest:
        return "it stands on short legs for its length: no body of like build"
    return ""


def _asked(clause: MovementClause, movement: Movement, levels: Levels) -> MovementFinding:
    known = movement.tracks.get(clause.figure)
    chance = known.chances(clause.low, clause.high) if known else None
    outcome = decide(chance, levels) if chance else Outcome.NOT_MEASURED
    reason = "" if known else _lacking(clause.figure)
    return MovementFinding(
        clause.figure, "", clause.words, clause.low, clause.high, clause.reading, clause.evidence,
        outcome, chance, known, reason, clause.definition, clause.section,
    )  # fmt: skip


def _lacking(figure: str) -> str:
    if figure.endswith("_toeing"):
        return "the turn of the feet was not taken in movement"
    return "the tracks, or the spread of the standing feet, were not taken"


def is_even(estimate: GaitEstimate) -> bool:
    """Tell whether left and right cannot be told apart."""
    return estimate.low95 <= 0.0 <= estimate.high95
