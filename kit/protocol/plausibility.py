"""Question a reading that is hard to believe. Nothing is refused here: the person may confirm."""

from __future__ import annotations

from collections.abc import Iterable
from statistics import median

from kit.protocol.catalogue import Definition
from kit.protocol.readings import Reading
from kit.quantities.formatting import with_unit
from kit.quantities.kinds import Kind

HEIGHT = "height_at_withers"
CENTIMETRES_PER_INCH = 2.54


def height_of(readings: Iterable[Reading]) -> float:
    """Return the median height at withers in cm, or nan where it was not measured."""
    heights = [reading.value for reading in readings if reading.measurement == HEIGHT]
    return median(heights) if heights else float("nan")


def plausible_range(definition: Definition, height: float) -> tuple[float, float]:
    """Return the plausible range in the unit of the kind; nan where it needs a missing height."""
    if definition.kind is Kind.LENGTH and definition.key != HEIGHT:
        return definition.low * height, definition.high * height
    return definition.low, definition.high


def question(definition: Definition, value: float, height: float) -> str:
    """Word a question about one reading, or return an empty string where it is plausible.

    Parameters
    ----------
    value, height : float
        The reading in the unit of its kind, and the dog's height at withers in cm (may be nan).
    """
    low, high = plausible_range(definition, height)
    if not (value < low or value > high):
        return ""
    shown = with_unit(value, definition.kind)
    expected = f"{with_unit(low, definition.kind)} to {with_unit(high, definition.kind)}"
    asked = f"{definition.title} {shown} is unusual for this size (expected {expected})"
    slip = _slip(definition, value, low, high)
    return f"{asked}; {slip}" if slip else f"{asked}; read it again or confirm it"


def _slip(definition: Definition, value: float, low: float, high: float) -> str:
    """Name the slip of the pen that would explain the value."""
    if definition.kind is not Kind.LENGTH:
        return ""
    slips = (
        (CENTIMETRES_PER_INCH, "inches written as centimetres"),
        (1 / CENTIMETRES_PER_INCH, "centimetres written as inches"),
        (0.1, "millimetres written as centimetres"),
        (10.0, "a decimal point too far left"),
    )
    for factor, name in slips:
        if low <= value * factor <= high:
            return f"{name}? That would be {with_unit(value * factor, definition.kind)}"
    return ""
