"""Slips of eye and pen: what a reading would be, had it been misread or miswritten as hands do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from kit.quantities.kinds import Kind

CENTIMETRES_PER_INCH = 2.54
KILOGRAMS_PER_POUND = 0.45359237


@dataclass(frozen=True)
class Slip:
    """One slip: its name, and how it turns what was written into what was meant."""

    name: str
    factor: float = 1.0
    offset: float = 0.0

    def meant(self, written: float) -> float:
        """Return what was meant, in the unit of the kind."""
        return written * self.factor + self.offset


# Common practice (no source); the factors are exact (international yard and pound, 1959).
OF_UNIT: Mapping[Kind, tuple[Slip, ...]] = {
    Kind.LENGTH: (
        Slip("inches written as centimetres", CENTIMETRES_PER_INCH),
        Slip("centimetres written as inches", 1 / CENTIMETRES_PER_INCH),
        Slip("millimetres written as centimetres", 0.1),
        Slip("a decimal point too far left", 10.0),
    ),
    Kind.MASS: (
        Slip("pounds written as kilograms", KILOGRAMS_PER_POUND),
        Slip("a decimal point too far left", 10.0),
        Slip("a decimal point too far right", 0.1),
    ),
}
_OF_TAPE = (
    Slip("ten centimetres misread", offset=-10.0),
    Slip("ten centimetres misread", offset=10.0),
    Slip("the adjacent mark", offset=-1.0),
    Slip("the adjacent mark", offset=1.0),
)


def explanations(written: float, expected: float, tolerance: float) -> tuple[str, ...]:
    """Ask for each slip that turns a written length into the expected one, in cm.

    Parameters
    ----------
    tolerance : float
        How close a slip must come to the expected length; always half as far off, at the most,
        as what was written.
    """
    closer = min(tolerance, abs(written - expected) / 2)
    near = [f"{name}?" for name, meant in _meant(written) if abs(meant - expected) <= closer]
    return tuple(dict.fromkeys(near))


def _meant(written: float) -> Iterator[tuple[str, float]]:
    for slip in (*OF_UNIT[Kind.LENGTH], *_OF_TAPE):
        yield slip.name, slip.meant(written)
    for swapped in _swaps(written):
        yield "transposed digits", swapped


def _swaps(value: float) -> list[float]:
    """Return the value with two neighbouring digits exchanged, for each pair of digits."""
    text = f"{abs(value):.1f}"
    places = [index for index, character in enumerate(text) if character.isdigit()]
    swapped = []
    for first, second in pairwise(places):
        characters = list(text)
        characters[first], characters[second] = characters[second], characters[first]
        if characters[first] != characters[second]:
            swapped.append(float("".join(characters)))
    return swapped
