"""Repeats of one measurement → one estimate with its error sources apart.

Two errors are kept apart because they average away differently: the hand's repeat error shrinks
with every repeat, the error of how the dog stood only with every new stand of the dog.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import fmean, median

from scipy import special

from kit.estimation.components import Component, combined, effective_dof, rectangular
from kit.estimation.tapes import maximum_permissible_error
from kit.protocol.catalogue import Catalogue, Definition, Instrument
from kit.protocol.readings import Reading
from kit.protocol.slips import explanations
from kit.quantities.errors import EstimationError
from kit.quantities.formatting import with_unit
from kit.quantities.kinds import Kind

# A typical error of the catalogue is taken to be known to about 25 %, which is worth eight
# degrees of freedom (JCGM 100:2008, G.4.2, equation G.3).
CATALOGUE_DOF = 8.0
# From ten repeats on, the repeats speak for themselves (common practice).
SLIP_WITHIN = 1.0  # cm: how close a slip must bring an odd repeat to the others
MANY_REPEATS = 10
# Largest believable range of n repeats over their standard deviation: the 99.9 % point of the
# studentised range with known deviation (computed with scipy.stats.studentized_range).
CRITICAL_RANGE = {2: 4.65, 3: 5.06, 4: 5.31, 5: 5.48, 6: 5.62, 7: 5.73, 8: 5.82, 9: 5.90, 10: 5.97}


@dataclass(frozen=True)
class Estimate:
    """The value of one measurement of one dog with its uncertainty, in the unit of its kind.

    Attributes
    ----------
    side : str
        ``left``, ``right`` or empty.
    components : tuple of Component
        Sources of error; `uncertainty` is their root sum of squares.
    count, stands : int
        How many readings in how many stands of the dog.
    repeat_sd, posture_sd : float
        Standard deviations of a single reading and of a single stand, pooled.
    spread : float
        Largest minus smallest reading.
    """

    measurement: str
    side: str
    value: float
    components: tuple[Component, ...]
    count: int = 1
    stands: int = 1
    repeat_sd: float = 0.0
    posture_sd: float = 0.0
    spread: float = 0.0

    @property
    def uncertainty(self) -> float:
        """Combined standard uncertainty."""
        return combined(self.components)

    @property
    def dof(self) -> float:
        """Effective degrees of freedom (Welch and Satterthwaite)."""
        return effective_dof([c.uncertainty for c in self.components],
                             [c.dof for c in self.components])  # fmt: skip


@dataclass(frozen=True)
class TypeA:
    """Mean of repeats, their standard deviation, and that of the mean."""

    mean: float
    deviation: float
    uncertainty: float
    dof: int


def type_a(values: Sequence[float]) -> TypeA:
    """Evaluate repeats statistically.

    Raises
    ------
    EstimationError
        For fewer than two values.

    Source: JCGM 100:2008, 4.2.
    """
    if len(values) < 2:
        raise EstimationError(
            "repeats cannot be evaluated", "at least two values", str(len(values))
        )
    deviation = math.sqrt(_variance(values))
    return TypeA(fmean(values), deviation, deviation / math.sqrt(len(values)), len(values) - 1)


def _variance(values: Sequence[float]) -> float:
    """Return the sample variance about the mean; two passes, so that a large mean costs nothing."""
    mean = fmean(values)
    return math.fsum((value - mean) ** 2 for value in values) / (len(values) - 1)


def estimate(readings: Sequence[Reading], definition: Definition, tool: Instrument) -> Estimate:
    """Estimate one measurement of one side of one dog from its readings.

    The value is the mean of the stands' means. Components: ``repeat`` (pooled with the
    catalogue's repeat error while repeats are few), ``posture`` (likewise between stands),
    ``resolution`` and ``instrument`` (rectangular, not reduced by repeating).

    Raises
    ------
    EstimationError
        If there is no reading.

    Source: JCGM 100:2008, 4.2, 4.3.7, F.2.2.1 and H.5; OIML R 35-1:2007 for tapes.
    """
    if not readings:
        raise EstimationError(f"no reading of {definition.key}", "at least one reading")
    stands = _by_stand(readings)
    means = [fmean(values) for values in stands]
    value = fmean(means)
    repeat_sd, repeat_dof = _repeat(stands, definition.repeat_error)
    posture_sd, posture_dof = _posture(stands, definition.posture_error, repeat_sd)
    share = math.sqrt(sum(1.0 / len(values) for values in stands)) / len(stands)
    components = (
        Component("repeat", repeat_sd * share, repeat_dof),
        Component("posture", posture_sd / math.sqrt(len(stands)), posture_dof),
        rectangular("resolution", tool.resolution / 2.0),
        rectangular("instrument", instrument_limit(abs(value), tool)),
    )
    values = [reading.value for reading in readings]
    return Estimate(
        definition.key,
        readings[0].side,
        value,
        components,
        len(readings),
        len(stands),
        repeat_sd,
        posture_sd,
        max(values) - min(values),
    )


def _by_stand(readings: Sequence[Reading]) -> list[list[float]]:
    groups: dict[str, list[float]] = {}
    for reading in readings:
        groups.setdefault(reading.stand, []).append(reading.value)
    return list(groups.values())


def _repeat(stands: list[list[float]], typical: float) -> tuple[float, float]:
    """Return the standard deviation of a single reading within a stand, and its dof."""
    dof = sum(len(values) - 1 for values in stands)
    squares = sum((value - fmean(values)) ** 2 for values in stands for value in values)
    return _pooled(squares, dof, typical)


def _posture(stands: list[list[float]], typical: float, repeat_sd: float) -> tuple[float, float]:
    """Return the standard deviation between stands, and its dof (analysis of variance)."""
    dof = len(stands) - 1
    excess = 0.0
    if dof:
        within = repeat_sd**2 * fmean(1.0 / len(values) for values in stands)
        excess = max(0.0, _variance([fmean(values) for values in stands]) - within)
    return _pooled(dof * excess, dof, typical)


def _pooled(squares: float, dof: float, typical: float) -> tuple[float, float]:
    """Return a standard deviation and its dof from own squares and the catalogue's typical one.

    Many repeats speak for themselves, and so do few that scatter more than the catalogue's error
    explains (F test at 97.5 %): a restless dog must not borrow a calm one's figures.
    """
    if dof >= MANY_REPEATS - 1 or _is_restless(squares, dof, typical):
        return math.sqrt(squares / dof), dof
    pooled = (CATALOGUE_DOF * typical**2 + squares) / (CATALOGUE_DOF + dof)
    return math.sqrt(pooled), CATALOGUE_DOF + dof


def _is_restless(squares: float, dof: float, typical: float) -> bool:
    if dof < 2 or typical == 0.0:
        return False
    return squares / dof > typical**2 * float(special.fdtri(dof, CATALOGUE_DOF, 0.975))


def instrument_limit(value: float, tool: Instrument) -> float:
    """Return the largest error of the tool itself at this value, in the unit of its kind."""
    if tool.tape_class and value > 0:
        return maximum_permissible_error(value / 100.0, tool.tape_class) / 10.0
    return tool.limit


def estimates_of(
    readings: Iterable[Reading], catalogue: Catalogue
) -> Mapping[tuple[str, str], Estimate]:
    """Estimate every measurement and side found in the readings of one dog.

    Returns
    -------
    mapping of (measurement, side) to Estimate
    """
    return {
        key: _estimate(tuple(group), catalogue.measurement(key[0]), tool_used(group, catalogue))
        for key, group in grouped(readings).items()
    }


# A panel estimates the whole dog after each entry, of which all but one reading are as before.
_estimate = lru_cache(maxsize=4096)(estimate)


def grouped(readings: Iterable[Reading]) -> dict[tuple[str, str], list[Reading]]:
    """Group the readings of one dog by measurement and side."""
    groups: dict[tuple[str, str], list[Reading]] = {}
    for reading in readings:
        groups.setdefault((reading.measurement, reading.side), []).append(reading)
    return groups


def tool_used(readings: Sequence[Reading], catalogue: Catalogue) -> Instrument:
    """Return the coarsest catalogued instrument named in the readings, else the usual one."""
    definition = catalogue.measurement(readings[0].measurement)
    named = [
        catalogue.instruments[reading.instrument]
        for reading in readings
        if reading.instrument in catalogue.instruments
        and catalogue.instruments[reading.instrument].kind is definition.kind
    ]
    usual = catalogue.instruments[definition.instrument]
    return max(named, key=lambda tool: tool.resolution) if named else usual


def disagreement(readings: Sequence[Reading], definition: Definition, tool: Instrument) -> str:
    """Word a doubt where repeats differ more than repeating explains, else return nothing."""
    values = sorted(reading.value for reading in readings)
    if len(values) < 2:
        return ""
    posture = definition.posture_error if len({one.stand for one in readings}) > 1 else 0.0
    single = math.hypot(definition.repeat_error, posture, tool.resolution / math.sqrt(12))
    factor = CRITICAL_RANGE[min(len(values), max(CRITICAL_RANGE))]
    if values[-1] - values[0] <= factor * single:
        return ""
    shown = ", ".join(with_unit(value, definition.kind) for value in values)
    if len(values) == 2:
        return f"{definition.title}: {shown} are further apart than repeating explains; read again"
    middle = median(values)
    odd = max(values, key=lambda value: abs(value - middle))
    slips = explanations(odd, middle, SLIP_WITHIN) if definition.kind is Kind.LENGTH else ()
    reason = f" ({' '.join(slips)})" if slips else ""
    return (
        f"{definition.title}: {with_unit(odd, definition.kind)} stands apart from the other "
        f"repeats ({shown}); read again before you trust it{reason}"
    )
