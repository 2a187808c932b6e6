"""Question a reading that is hard to believe. Nothing is refused here: the person may confirm."""

from __future__ import annotations

from collections.abc import Iterable
from math import isnan, nan, sqrt
from statistics import median

from kit.protocol.catalogue import Definition
from kit.protocol.readings import Reading
from kit.protocol.slips import OF_UNIT
from kit.quantities.formatting import with_unit
from kit.quantities.kinds import Kind

HEIGHT = "height_at_withers"
BODY_LENGTHS = ("body_length_from_prosternum", "body_length_from_point_of_shoulder")
# Weight in kg for a cube of the height in m. Common practice (no source), worked from usual heights
# and weights: sighthounds about 80, most dogs 100 to 300, short heavy dogs 450, and a long dog on
# very short legs 1100, unless its length is known.
LIGHTEST, HEAVIEST = 45.0, 1150.0
# The same for a cube of the size where the body length was read too: the size of a dog is the
# height of a dog of usual proportions as large. Long and low dogs come to 320 like others; a
# very stocky one is asked about.
HEAVIEST_FOR_SIZE, USUAL_LENGTH = 345.0, 1.06


def height_of(readings: Iterable[Reading]) -> float:
    """Return the median height at withers in cm, or nan where it was not measured."""
    heights = [reading.value for reading in readings if reading.measurement == HEIGHT]
    return median(heights) if heights else float("nan")


def length_of(readings: Iterable[Reading]) -> float:
    """Return the median body length in cm, from the prosternum first; nan where it was not read."""
    listed = list(readings)
    for key in BODY_LENGTHS:
        lengths = [reading.value for reading in listed if reading.measurement == key]
        if lengths:
            return median(lengths)
    return nan


def plausible_range(
    definition: Definition, height: float, length: float = nan
) -> tuple[float, float]:
    """Return the plausible range in the unit of the kind; nan where it needs a missing height."""
    if definition.kind is Kind.MASS and not isnan(height):
        return _weights(definition, height, length)
    if definition.kind is Kind.LENGTH and definition.key != HEIGHT:
        return definition.low * height, definition.high * height
    return definition.low, definition.high


def _weights(definition: Definition, height: float, length: float) -> tuple[float, float]:
    """Return the weights a dog of this height, and of this length where it was read, may have."""
    cube, most = (height / 100.0) ** 3, HEAVIEST
    if not isnan(length):
        most = HEAVIEST_FOR_SIZE * sqrt(length / height / USUAL_LENGTH) ** 3
    return max(definition.low, LIGHTEST * cube), min(definition.high, most * cube)


def question(definition: Definition, value: float, height: float, length: float = nan) -> str:
    """Word a question about one reading, or return an empty string where it is plausible.

    Parameters
    ----------
    value, height : float
        The reading in the unit of its kind, and the dog's height at withers in cm (may be nan).
    length : float
        The dog's body length in cm, by which its weight is judged more closely; may be nan.
    """
    low, high = plausible_range(definition, height, length)
    if not (value < low or value > high):
        return ""
    shown = with_unit(value, definition.kind)
    expected = f"{with_unit(low, definition.kind)} to {with_unit(high, definition.kind)}"
    asked = f"{definition.title} {shown} is unusual for this size (expected {expected})"
    slip = _slip(definition, value, low, high)
    return f"{asked}; {slip}" if slip else f"{asked}; read it again or confirm it"


def _slip(definition: Definition, value: float, low: float, high: float) -> str:
    """Name the slip of the pen that would explain the value."""
    for slip in OF_UNIT.get(definition.kind, ()):
        if low <= slip.meant(value) <= high:
            return f"{slip.name}? That would be {with_unit(slip.meant(value), definition.kind)}"
    return ""
