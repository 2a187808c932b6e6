"""Readings no dog of this size could have, which would spoil a drawing."""

from __future__ import annotations

from collections.abc import Mapping
from math import nan
from statistics import median

from kit.figure.observations import observations, reading_at
from kit.figure.template import template
from kit.protocol.catalogue import catalogue
from kit.protocol.plausibility import HEIGHT, plausible_range
from kit.quantities.kinds import Kind

# Beyond the plausible range by this factor, or so many degrees, a reading is not drawn; within,
# an unusual dog is drawn as it was read.
STRETCH, TURN = 1.25, 15.0
ENOUGH = 3  # readings, to outvote the height


def beyond_reason(values: Mapping[str, float]) -> tuple[str, ...]:
    """Return the measurements a dog of this height cannot have, in the order given.

    Where more than half of the readings would be impossible at the height read, and fewer at the
    height the others imply, it is the height that is named.

    Parameters
    ----------
    values : Mapping of str to float
        Measurement key to reading in cm, degrees or kg.
    """
    others = {key: one for key, one in values.items() if key != HEIGHT}
    implied = _implied(others)
    if HEIGHT not in values:
        return _impossible(others, implied)
    at_read, at_implied = _impossible(others, values[HEIGHT]), _impossible(others, implied)
    if 2 * len(at_read) > len(others) and implied == implied and len(at_implied) < len(at_read):
        return (HEIGHT, *at_implied)
    return at_read


def _implied(values: Mapping[str, float]) -> float:
    """Return the height at the withers the lengths imply; nan where they are too few to tell."""
    neutral = template().points
    heights = [
        values[key] / reading_at(seen, neutral)
        for key, seen in observations().items()
        if key in values and seen.kind in ("vertical", "straight")
    ]
    return median(heights) if len(heights) >= ENOUGH else nan


def _impossible(values: Mapping[str, float], height: float) -> tuple[str, ...]:
    known = catalogue().measurements
    return tuple(
        key for key, value in values.items() if key in known and _is_beyond(key, value, height)
    )


def _is_beyond(key: str, value: float, height: float) -> bool:
    definition = catalogue().measurement(key)
    low, high = plausible_range(definition, height)
    if definition.kind is Kind.ANGLE:
        return value < low - TURN or value > high + TURN
    if definition.kind is not Kind.LENGTH:
        return False
    below = low / STRETCH if low > 0 else low * STRETCH
    return value < below or value > high * STRETCH
