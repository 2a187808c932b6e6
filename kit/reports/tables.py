"""The tables of a report: traits, readings, and what limits each angle."""

from __future__ import annotations

from dataclasses import dataclass

from kit.drawing.regions import by_region
from kit.drawing.wording import interval_text, part_text, value_text
from kit.estimation.repeats import Estimate
from kit.protocol.catalogue import catalogue
from kit.quantities.formatting import SUFFIX, number, with_unit
from kit.quantities.kinds import Kind
from kit.reports.sentences import capital, doubt_sentence, shares
from kit.reports.welfare import welfare_notes
from kit.standards.assessment import Assessment, Asymmetry
from kit.traits.estimates import DIRECT, LINEAR, MONTE_CARLO, TraitEstimate

METHODS = {
    LINEAR: "derived, linear",
    MONTE_CARLO: "derived, simulated",
    DIRECT: "read directly",
}
ERROR_DECIMALS = {Kind.LENGTH: 2, Kind.ANGLE: 1, Kind.MASS: 2, Kind.RATIO: 3}


@dataclass(frozen=True)
class TraitRow:
    """One trait: its figure, how it was had, on which points, and what was published about it.

    `place` numbers the regions in the order of the dog's parts.
    """

    place: int
    region: str
    title: str
    value: str
    interval: str
    method: str
    side: str
    definition: str
    note: str


@dataclass(frozen=True)
class ReadingRow:
    """One measurement: its estimate, and the standard uncertainty by source of error."""

    title: str
    side: str
    value: str
    uncertainty: str
    repeat: str
    posture: str
    resolution: str
    instrument: str
    count: int
    stands: int


@dataclass(frozen=True)
class BudgetRow:
    """What limits one angle: shares of its variance by source of error, in percent."""

    title: str
    value: str
    posture: str
    repeat: str
    tool: str
    assumption: str
    sentence: str


def trait_rows(assessment: Assessment) -> tuple[TraitRow, ...]:
    """Return every known trait, in the order of the dog's parts."""
    known = list(assessment.traits.known.values())
    notes = {note.trait: note.text for note in welfare_notes(assessment.traits)}
    return tuple(
        TraitRow(
            place,
            region,
            capital(estimate.trait.title),
            value_text(estimate),
            interval_text(estimate),
            METHODS[estimate.method],
            estimate.side,
            estimate.trait.definition,
            notes.get(estimate.trait.key, ""),
        )
        for place, (region, group) in enumerate(by_region(known, lambda e: e.trait.key))
        for estimate in group
    )


def reading_rows(assessment: Assessment) -> tuple[ReadingRow, ...]:
    """Return every estimate in the order a hand works round the dog."""
    order = list(catalogue().measurements)
    estimates = sorted(
        assessment.estimates.values(), key=lambda e: (order.index(e.measurement), e.side)
    )
    return tuple(_reading_row(estimate) for estimate in estimates)


def _reading_row(estimate: Estimate) -> ReadingRow:
    definition = catalogue().measurement(estimate.measurement)
    kind = definition.kind
    parts = {component.name: component.uncertainty for component in estimate.components}
    shown = {name: number(size, ERROR_DECIMALS[kind]) for name, size in parts.items()}
    return ReadingRow(
        title=capital(definition.title),
        side=estimate.side,
        value=with_unit(estimate.value, kind, estimate.uncertainty),
        uncertainty=number(estimate.uncertainty, ERROR_DECIMALS[kind]) + SUFFIX[kind],
        repeat=shown.get("repeat", ""),
        posture=shown.get("posture", ""),
        resolution=shown.get("resolution", ""),
        instrument=shown.get("instrument", ""),
        count=estimate.count,
        stands=estimate.stands,
    )


def budget_rows(assessment: Assessment) -> tuple[BudgetRow, ...]:
    """Return what limits every known angle."""
    angles = [e for e in assessment.traits.known.values() if e.trait.kind is Kind.ANGLE]
    return tuple(
        _budget_row(estimate)
        for _, group in by_region(angles, lambda estimate: estimate.trait.key)
        for estimate in group
    )


def _budget_row(estimate: TraitEstimate) -> BudgetRow:
    parts = dict(shares(estimate.budget, lambda part: part.component))
    tool = parts.get("resolution", 0.0) + parts.get("instrument", 0.0)
    return BudgetRow(
        title=capital(estimate.trait.title),
        value=value_text(estimate),
        posture=_share(parts.get("posture", 0.0)),
        repeat=_share(parts.get("repeat", 0.0)),
        tool=_share(tool),
        assumption=_share(parts.get("assumption", 0.0)),
        sentence=doubt_sentence(estimate),
    )


def _share(part: float) -> str:
    return part_text(part) if part >= 0.005 else "–"


def asymmetry_sentence(asymmetry: Asymmetry) -> str:
    """Say how far left and right differ, and whether the readings bear it."""
    definition = catalogue().measurement(asymmetry.measurement)
    kind, decimals = definition.kind, ERROR_DECIMALS[definition.kind]
    size = number(abs(asymmetry.difference), decimals)
    error = number(2.0 * asymmetry.uncertainty, decimals)
    more = "more on the left" if asymmetry.difference > 0 else "more on the right"
    verdict = (
        "a clear difference: look at both sides again"
        if asymmetry.is_clear
        else "no more than reading twice would explain"
    )
    return f"{capital(definition.title)}: {size} ± {error}{SUFFIX[kind]} {more}; {verdict}."
