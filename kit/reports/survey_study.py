"""The measurer study a survey holds: of every measurement, and of every trait made of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from statistics import fmean

import numpy as np

from kit.protocol.catalogue import Catalogue
from kit.protocol.readings import Reading
from kit.quantities.errors import EstimationError
from kit.reliability.study import Studied, Taken, study, taken_from
from kit.survey.dogs import SurveyTable
from kit.survey.program import compile_program

STUDY_DOGS = 5
"""Dogs that several hands have measured, from which on a survey holds a measurer study."""


def study_readings(table: SurveyTable) -> tuple[Reading, ...]:
    """Return the readings of dogs that several hands measured; none if these are too few."""
    hands: dict[str, set[str]] = {}
    for one in table.readings:
        hands.setdefault(one.dog, set()).add(one.measurer)
    several = {dog for dog, measurers in hands.items() if len(measurers - {""}) > 1}
    if len(several) < STUDY_DOGS:
        return ()
    return tuple(one for one in table.readings if one.dog in several)


def study_of(table: SurveyTable) -> tuple[Studied, ...]:
    """Work out the study of each measurement that somebody repeated."""
    return _studied(taken_from(study_readings(table)))


def study_of_traits(table: SurveyTable, catalogue: Catalogue) -> tuple[Studied, ...]:
    """Work out the study of each trait: derived anew from every stand by every hand.

    Errors of the measurements a trait is made of may cancel or add up; only this shows which.
    """
    readings = study_readings(table)
    if not readings:
        return ()
    rounds = _rounds(readings)
    keys = sorted({key for one in rounds.values() for key in one})
    columns = {
        key: np.array([fmean(one[key]) if key in one else np.nan for one in rounds.values()])
        for key in keys
    }
    found = compile_program(columns, catalogue, sample=columns).run(columns)
    taken = {
        key: [
            Taken(dog, who, f"{stand}.1", value)
            for (dog, who, stand), value in zip(rounds, column.values.tolist(), strict=True)
            if np.isfinite(value)
        ]
        for key, column in found.items()
        if key not in keys
    }
    return _studied(taken)


def _rounds(
    readings: Iterable[Reading],
) -> dict[tuple[str, str, str], dict[str, list[float]]]:
    """Group by dog, hand and stand; of a sided measurement the left is taken."""
    rounds: dict[tuple[str, str, str], dict[str, list[float]]] = {}
    for one in readings:
        if one.side != "right":
            own = rounds.setdefault((one.dog, one.measurer, one.stand), {})
            own.setdefault(one.measurement, []).append(one.value)
    return rounds


def _studied(taken: Mapping[str, Sequence[Taken]]) -> tuple[Studied, ...]:
    found = []
    for key, rows in taken.items():
        try:
            found.append(study(key, rows))
        except EstimationError:  # nobody repeated it: nothing can be said, and nothing is
            continue
    return tuple(found)
