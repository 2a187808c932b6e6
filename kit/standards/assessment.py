"""One dog, assessed: from its readings to findings, with everything doubtful on the way."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kit.estimation.repeats import Estimate, disagreement, estimates_of, grouped, tool_used
from kit.protocol.catalogue import Catalogue
from kit.protocol.plausibility import height_of, question
from kit.protocol.readings import Reading
from kit.standards.conformity import Levels
from kit.standards.findings import Finding, Scope, find
from kit.standards.standard import Standard
from kit.traits.derive import TraitTable, derive


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
    """Everything worked out for one dog. `standard` is None where none was asked for."""

    dog: str
    scope: Scope
    readings: tuple[Reading, ...]
    estimates: Mapping[tuple[str, str], Estimate]
    traits: TraitTable
    findings: tuple[Finding, ...]
    doubts: tuple[Doubt, ...]
    asymmetries: tuple[Asymmetry, ...]
    standard: Standard | None
    levels: Levels


def assess(
    readings: Sequence[Reading],
    catalogue: Catalogue,
    standard: Standard | None = None,
    scope: Scope | None = None,
    levels: Levels | None = None,
) -> Assessment:
    """Assess one dog from its readings; nothing is dropped, doubts are listed beside the result."""
    scope, levels = scope or Scope(), levels or Levels()
    estimates = estimates_of(readings, catalogue)
    table = derive(estimates)
    findings = find(table, estimates, standard, scope, levels) if standard else ()
    return Assessment(
        dog=readings[0].dog if readings else "",
        scope=scope,
        readings=tuple(readings),
        estimates=estimates,
        traits=table,
        findings=findings,
        doubts=_doubts(readings, catalogue, table),
        asymmetries=_asymmetries(estimates),
        standard=standard,
        levels=levels,
    )


def _doubts(
    readings: Sequence[Reading], catalogue: Catalogue, table: TraitTable
) -> tuple[Doubt, ...]:
    height = height_of(readings)
    doubts = []
    for (key, _), group in grouped(readings).items():
        definition = catalogue.measurement(key)
        asked = [question(definition, reading.value, height) for reading in group]
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
