"""A club's own standard from its data: ranges most of its dogs are in, as a draft file."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from kit.quantities.errors import EstimationError
from kit.quantities.kinds import Kind
from kit.survey.dogs import SurveyTable
from kit.survey.summary import contrast, mean_and_sd
from kit.traits.declarations import trait

Flags = NDArray[np.bool_]
FEWEST = 20
COVERED, CONFIDENCE = 0.90, 0.95
DECIMALS = {Kind.RATIO: 3, Kind.ANGLE: 1, Kind.LENGTH: 1, Kind.MASS: 2}


@dataclass(frozen=True)
class Tolerance:
    """A range that holds a stated part of a population with a stated confidence."""

    low: float
    high: float
    count: int
    method: str


def tolerance_factor(count: int, covered: float = COVERED, confidence: float = CONFIDENCE) -> float:
    """Return how many standard deviations about the mean a two-sided tolerance interval reaches.

    Source: Howe WG 1969, J Am Stat Assoc 64:610-620; NIST/SEMATECH e-Handbook 7.2.6.3.
    """
    z = float(special.ndtri((1.0 + covered) / 2.0))
    chi = float(special.chdtri(count - 1, confidence))
    return z * math.sqrt((count - 1) * (1.0 + 1.0 / count) / chi)


def tolerance(
    values: ArrayLike, covered: float = COVERED, confidence: float = CONFIDENCE
) -> Tolerance:
    """Return a tolerance interval: by rank where there are dogs enough, else the normal one.

    Raises
    ------
    EstimationError
        For fewer than `FEWEST` dogs.

    Source: Wilks SS 1941, Ann Math Stat 12:91-96 (ranks); Howe 1969 (normal).
    """
    known = np.sort(np.asarray(values, dtype=np.float64))
    known = known[np.isfinite(known)]
    if known.size < FEWEST:
        raise EstimationError("too few dogs for a range", f"at least {FEWEST}", str(known.size))
    cut = _ranks_cut(known.size, covered, confidence)
    if cut >= 3:
        return Tolerance(float(known[cut - 1]), float(known[-cut]), known.size, "ranks")
    mean, sd = mean_and_sd(known)
    reach = tolerance_factor(known.size, covered, confidence) * sd
    return Tolerance(mean - reach, mean + reach, known.size, "normal")


def _ranks_cut(count: int, covered: float, confidence: float) -> int:
    """Return the largest r so that the r-th from either end enclose enough, 0 where none do."""
    cut = 0
    while 2 * (cut + 1) < count:
        inner = count + 1 - 2 * (cut + 1)
        if 1.0 - float(special.betainc(inner, 2 * (cut + 1), covered)) < confidence:
            break
        cut += 1
    return cut


def draft_standard(
    table: SurveyTable, key: str, title: str, club: str, when: str,
    traits: Iterable[str] | None = None, adult_from: float = 12.0, left_out: int = 0,
) -> str:  # fmt: skip
    """Write a draft standard of the ranges a survey found, labelled descriptive.

    A trait that differs between the sexes gets a clause for each. The ranges are of measured
    figures, so the error of measuring is in them and they are a little wide.

    Parameters
    ----------
    left_out : int
        Values to measure again that were taken out before; the file says so.

    Returns
    -------
    str
        A standard file that `conformation standards check` accepts.
    """
    adults = table.adults(adult_from)
    lines = [
        "# A draft: what the dogs of one survey are, not what dogs should be. Edit before use.",
        "", "[standard]", f"key = {quoted(key)}", f"title = {quoted(title)}",
        'kind = "descriptive"', f"body = {quoted(club)}", 'document = "draft from a survey"',
        f"dated = {quoted(when)}", 'valid_from = "not adopted"', 'status = "draft"',
        'evidence = "measured"',
        f"source = {quoted(f'survey of {int(adults.sum())} dogs by {club}, {when}')}",
        f"adult_from_months = {adult_from:g}",
        f'note = "each range holds {COVERED:.0%} of such dogs with {CONFIDENCE:.0%} confidence, '
        f'measuring error included{_without(left_out)}; it describes and does not ask"',
    ]  # fmt: skip
    for name in table.traits if traits is None else traits:
        for sex in _sexes(table, name, adults):
            lines += _clause(table, name, sex, adults)
    return "\n".join([*lines, ""])


def _without(left_out: int) -> str:
    return f", {left_out} values to measure again left out" if left_out else ""


def quoted(text: str) -> str:
    """Write a text as a TOML string."""
    plain = "".join(sign for sign in text if sign.isprintable())
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _sexes(table: SurveyTable, name: str, adults: Flags) -> tuple[str, ...]:
    column = table.traits[name].values
    dogs, bitches = (column[adults & table.where(sex=sex)] for sex in ("dog", "bitch"))
    if min(int(np.isfinite(group).sum()) for group in (dogs, bitches)) < FEWEST:
        return ("both",)
    differs = contrast(dogs, bitches).p_value < 0.01
    return ("dog", "bitch") if differs else ("both",)


def _clause(table: SurveyTable, name: str, sex: str, adults: Flags) -> list[str]:
    asked = adults if sex == "both" else adults & table.where(sex=sex)
    try:
        found = tolerance(table.traits[name].values[asked])
    except EstimationError:
        return []
    declared = trait(name)
    decimals = DECIMALS[declared.kind]
    step = 10.0**-decimals
    low = math.floor(found.low / step) * step
    high = math.ceil(found.high / step) * step
    unit = declared.kind.unit
    return [
        "", "[[clause]]", f"trait = {quoted(name)}", f"words = {quoted(declared.title)}",
        'class = "range"', f"low = {low:.{decimals}f}", f"high = {high:.{decimals}f}",
        f"unit = {quoted(unit)}", 'reading = "survey"', f"sex = {quoted(sex)}",
        'section = "not recorded"', 'evidence = "measured"',
        f"definition = {quoted('measured: ' + declared.definition)}",
        f"note = {quoted(f'{found.count} dogs, tolerance interval by {found.method}')}",
    ]  # fmt: skip
