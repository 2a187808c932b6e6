"""Write numbers as a person reads them: no more digits than the uncertainty bears."""

from __future__ import annotations

import math

from kit.quantities.kinds import Kind

SUFFIX = {Kind.LENGTH: " cm", Kind.ANGLE: "°", Kind.MASS: " kg", Kind.RATIO: ""}
MAXIMUM_DECIMALS = {Kind.LENGTH: 1, Kind.ANGLE: 0, Kind.MASS: 2, Kind.RATIO: 3}


def decimals_for(uncertainty: float, kind: Kind) -> int:
    """Return how many decimals to show: the first digit of the uncertainty, within reason."""
    most = MAXIMUM_DECIMALS[kind]
    if not uncertainty > 0 or not math.isfinite(uncertainty):
        return most
    return max(0, min(most, -math.floor(math.log10(uncertainty))))


def with_unit(value: float, kind: Kind, uncertainty: float = 0.0) -> str:
    """Write a value with its unit, for example ``112°`` or ``0.48``."""
    return number(value, decimals_for(uncertainty, kind)) + SUFFIX[kind]


def with_interval(value: float, half_width: float, kind: Kind) -> str:
    """Write ``112° ± 8°``; `half_width` is that of the interval shown."""
    decimals = decimals_for(half_width, kind)
    suffix = SUFFIX[kind]
    return f"{number(value, decimals)}{suffix} ± {number(half_width, decimals)}{suffix}"


def number(value: float, decimals: int) -> str:
    """Write a number with fixed decimals and a true minus sign, never ``-0``."""
    shown = f"{value:.{decimals}f}"
    if float(shown) == 0.0:
        shown = f"{0.0:.{decimals}f}"
    return shown.replace("-", "−")
