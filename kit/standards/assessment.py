"""One dog, assessed: from its readings to findings, with everything doubtful on the way."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from kit.estimation.repeats import Estimate, disagreement, estimates_of, grouped, tool_used
from kit.figure.network import NO_SIGHT, FittedFigure, fit
from kit.figure.snooping import Suspect
from kit.protocol.catalogue import Catalogue
from kit.protocol.catalogue import catalogue as known
from kit.protocol.plausibility import height_of, length_of, question
from kit.protocol.readings import Reading
from kit.protocol.slips import explanations
from kit.quantities.errors import GeometryError
from kit.quantities.formatting import with_unit
from kit.quantities.kinds import Kind
from kit.standards.conformity import Levels
from kit.standards.findings import Finding, Scope, find
from kit.standards.standard import Standard
from kit.traits.declarations import kind_of
from kit.traits.derive import derive
from kit.traits.estimates import TraitTable


@dataclass(frozen=True)
class Doubt:
    """Something a person should look at again: what, and about which measurement or trait."""

    about: str
    message: str


@dataclass(frozen=True)
class Asymmetry:
    """Left less right of one measurement, with the standard uncertainty of the difference."""

    measurement: str
    difference: float
    uncertainty: float

    @property
    def is_clear(self) -> bool:
        """True where the difference is more than twice its uncertainty."""
        return abs(self.difference) > 2.0 * self.uncertainty


@dataclass(frozen=True)
class Assessment:
    """Everything worked out for one dog, each part when it is first asked for.

    Attributes
    ----------
    standard : Standard or None
        None where none was asked for.
    asked : frozenset of str or None
        Traits to derive; None for all. A finding on another trait is not measured.
    """

    dog: str
    scope: Scope
    readings: tuple[Reading, ...]
    estimates: Mapping[tuple[str, str], Estimate]
    standard: Standard | None
    levels: Levels
    catalogue: Catalogue
    asked: frozenset[str] | None = None

    @cached_property
    def _fitted(self) -> tuple[Mapping[str, FittedFigure], tuple[Doubt, ...]]:
        return fit_sides(self.estimates)

    @property
    def figures(self) -> Mapping[str, FittedFigure]:
        """One figure for each side that has readings which see a landmark."""
        return self._fitted[0]

    @cached_property
    def traits(self) -> TraitTable:
        """From the figures where readings check one another, else by each formula alone.

        A reading that does not fit its figure is set aside, and a doubt says so.
        """
        return _through_figures(self.estimates, self.figures, self.asked)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """The traits held against the standard; none without one."""
        if self.standard is None:
            return ()
        return find(self.traits, self.estimates, self.standard, self.scope, self.levels)

    @cached_property
    def doubts(self) -> tuple[Doubt, ...]:
        """What a person should look at again."""
        doubtful = _doubts(self.readings, self.catalogue, self.traits)
        return (*doubtful, *_misfits(self.figures), *self._fitted[1])

    @cached_property
    def asymmetries(self) -> tuple[Asymmetry, ...]:
        """Left less right of everything measured on both sides."""
        return _asymmetries(self.estimates)

    @cached_property
    def by_formula(self) -> TraitTable:
        """The traits by each formula alone, to show what the figures changed."""
        return derive(self.estimates)


def assess(
    readings: Sequence[Reading],
    catalogue: Catalogue,
    standard: Standard | None = None,
    scope: Scope | None = None,
    levels: Levels | None = None,
    asked: frozenset[str] | None = None,
) -> Assessment:
    """Assess one dog from its readings; nothing is dropped, doubts are listed beside the result."""
    return Assessment(
        dog=readings[0].dog if readings else "",
        scope=scope or Scope(),
        readings=tuple(readings),
        estimates=estimates_of(readings, catalogue),
        standard=standard,
        levels=levels or Levels(),
        asked=asked,
        catalogue=catalogue,
    )


def fit_sides(
    estimates: Mapping[tuple[str, str], Estimate],
) -> tuple[dict[str, FittedFigure], tuple[Doubt, ...]]:
    """Fit a figure to each side that has readings of its own; doubts say where none fits."""
    figures, doubts = {}, []
    sides = ["left"] + ["right"] * any(side == "right" for _, side in estimates)
    for side in sides:
        try:
            figures[side] = fit(estimates, side)
        except GeometryError as fault:
            if estimates and fault.given != NO_SIGHT:
                doubts.append(Doubt("figure", str(fault)))
    return figures, tuple(doubts)


def _through_figures(
    estimates: Mapping[tuple[str, str], Estimate],
    figures: Mapping[str, FittedFigure],
    asked: frozenset[str] | None,
) -> TraitTable:
    set_aside = {(one.key, side) for side, f in figures.items() for one in f.suspects}
    set_aside |= {(one.key, "") for figure in figures.values() for one in figure.suspects}
    sound = {key: one for key, one in estimates.items() if key not in set_aside}
    return derive(sound, {side: figure.adjusted for side, figure in figures.items()}, asked)


def _misfits(figures: Mapping[str, FittedFigure]) -> tuple[Doubt, ...]:
    """Word the readings that do not fit the others."""
    found: dict[tuple[str, str], Doubt] = {}
    for side, figure in figures.items():
        for one in figure.suspects:
            sided = one.key in known().measurements and known().measurements[one.key].sided
            text = misfit_in_words(one, side)
            found.setdefault((one.key, side if sided else ""), Doubt(one.key, text))
    return tuple(found.values())


def misfit_in_words(one: Suspect, side: str) -> str:
    """Write one suspect: what does not fit, what would, and the slip that would explain it."""
    sided = one.key in known().measurements and known().measurements[one.key].sided
    name = f"{one.key} ({side})" if sided else one.key
    kind = kind_of(one.key)
    shown, fitting = with_unit(one.observed, kind), with_unit(one.expected, kind)
    slips = explanations(one.observed, one.expected, 2 * one.uncertainty + 0.3)
    reasons = f" ({' '.join(slips)})" if slips and kind is Kind.LENGTH else ""
    told = f"{name} {shown} does not fit the other readings: about {fitting} would{reasons}"
    if one.alternatives:
        told += f"; it cannot be told apart from {' or '.join(one.alternatives)}"
    return f"{told}; read again"


def _doubts(
    readings: Sequence[Reading], catalogue: Catalogue, table: TraitTable
) -> tuple[Doubt, ...]:
    height, length = height_of(readings), length_of(readings)
    doubts = []
    for (key, _), group in grouped(readings).items():
        definition = catalogue.measurement(key)
        asked = [question(definition, reading.value, height, length) for reading in group]
        asked.append(disagreement(group, definition, tool_used(group, catalogue)))
        doubts += [Doubt(key, text) for text in dict.fromkeys(asked) if text]
    doubts += [Doubt(key, text) for key, text in table.faults.items()]
    doubts += [
        Doubt(key, f"{known.trait.title}: {known.note}")
        for key, known in table.known.items()
        if known.note
    ]
    return tuple(doubts)


def _asymmetries(estimates: Mapping[tuple[str, str], Estimate]) -> tuple[Asymmetry, ...]:
    pairs = [
        (left, estimates[(key, "right")])
        for (key, side), left in estimates.items()
        if side == "left" and (key, "right") in estimates
    ]
    return tuple(
        Asymmetry(
            left.measurement,
            left.value - right.value,
            math.hypot(left.uncertainty, right.uncertainty),
        )
        for left, right in pairs
    )
