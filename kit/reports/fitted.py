"""What fitting one figure to all readings changed, in a report's words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from kit.drawing.wording import interval_text, is_lopsided, value_text
from kit.figure.network import FittedFigure
from kit.protocol.catalogue import catalogue
from kit.reports.sentences import capital, title_of
from kit.standards.assessment import Assessment
from kit.traits.estimates import TraitEstimate

FIGURE_TITLE = "All readings together"
MOST_ROWS = 14
# A change is worth a row where it moves the value by this part of its uncertainty, or takes this
# part of the uncertainty away.
WORTH = 0.15


@dataclass(frozen=True)
class ChangeRow:
    """One trait by its formula alone and through the figure: values with 95 % limits."""

    title: str
    alone: str
    fitted: str


@dataclass(frozen=True)
class FigureNote:
    """What the figure did: sentences, and the traits it changed most."""

    sentences: tuple[str, ...]
    changes: tuple[ChangeRow, ...]


def figure_note(assessment: Assessment) -> FigureNote | None:
    """Say what the figures did; None where no figure could be fitted."""
    if not assessment.figures:
        return None
    sentences = [text for one in assessment.figures.values() for text in _sentences(one)]
    return FigureNote(tuple(sentences), tuple(_changes(assessment)))


def _sentences(figure: FittedFigure) -> Iterable[str]:
    adjusted = figure.adjustment
    taken = len(adjusted.observations)
    if adjusted.degrees_of_freedom == 0:
        yield (
            f"On the {figure.side}, {taken} readings see landmarks and none checks another: every "
            "figure is its formula alone."
        )
        return
    yield (
        f"On the {figure.side}, {taken} readings see landmarks, {adjusted.degrees_of_freedom} more "
        f"than needed; together they scatter {_scatter(adjusted.global_test)}."
    )
    if figure.unchecked:
        names = ", ".join(title_of(key) for key in figure.unchecked)
        yield f"Checked by no other reading: {names}."
    unplaced = _unplaced(figure)
    if unplaced:
        yield f"Landmarks that one more reading would place: {'; '.join(unplaced)}."


def _scatter(probability: float) -> str:
    if probability < 0.05:
        return "more than their errors explain; look at the readings again"
    return "as their errors lead one to expect"


def _changes(assessment: Assessment) -> list[ChangeRow]:
    pairs = [
        (alone, assessment.traits.known[key])
        for key, alone in assessment.by_formula.known.items()
        if key in assessment.traits.known and assessment.traits.known[key].fitted
    ]
    worth = [pair for pair in pairs if _weight(*pair) >= WORTH]
    worth.sort(key=lambda pair: -_weight(*pair))
    return [
        ChangeRow(capital(alone.trait.title), _shown(alone), _shown(fitted))
        for alone, fitted in worth[:MOST_ROWS]
    ]


def _weight(alone: TraitEstimate, fitted: TraitEstimate) -> float:
    moved = abs(fitted.value - alone.value) / (alone.uncertainty or 1.0)
    return max(moved, 1.0 - fitted.uncertainty / (alone.uncertainty or 1.0))


def _shown(known: TraitEstimate) -> str:
    return interval_text(known) if is_lopsided(known) else value_text(known)


def _unplaced(figure: FittedFigure) -> tuple[str, ...]:
    """Name the landmarks a figure does not place, with the readings that would."""
    landmarks = catalogue().landmarks
    return tuple(
        f"{landmarks[name].title} (by {' or '.join(title_of(key) for key in fixing)})"
        for name, fixing in figure.undetermined.items()
        if name in landmarks and fixing
    )
