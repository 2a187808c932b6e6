"""What each kind of observation sees, declared once in SymPy; the derivatives follow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import sympy

from kit.quantities.errors import GeometryError


@dataclass(frozen=True)
class Sighting:
    """One kind of observation.

    Attributes
    ----------
    points : int
        How many points it needs.
    periodic : bool
        True for directions, whose misclosure is taken the short way round.
    value, slopes : callable
        Vectorised: take x and y of each point in turn; return the observed quantity, and its
        derivative by each of those coordinates. Lengths in one unit, angles in radians.
    """

    points: int
    periodic: bool
    value: Callable[..., Any]
    slopes: Callable[..., Any]


def _declarations() -> dict[str, tuple[int, sympy.Expr]]:
    x1, y1, x2, y2, x3, y3 = sympy.symbols("x1 y1 x2 y2 x3 y3", real=True)
    cross = (x2 - x1) * (y3 - y1) - (y2 - y1) * (x3 - x1)
    dot = (x2 - x1) * (x3 - x1) + (y2 - y1) * (y3 - y1)
    return {
        "coordinate_x": (1, x1),
        "height": (1, y1),
        "height_difference": (2, y2 - y1),
        "horizontal_distance": (2, x1 - x2),
        "distance": (2, sympy.sqrt((x2 - x1) ** 2 + (y2 - y1) ** 2)),
        # At the first point, from the second to the third, 0 to pi.
        "angle": (3, sympy.Abs(sympy.atan2(cross, dot))),
        # Less the orientation of its station, an unknown of its own.
        "direction": (2, sympy.atan2(y2 - y1, x2 - x1)),
        # Slopes of the line from the first point down to the second.
        "falls_forward": (2, sympy.atan2(y1 - y2, x2 - x1)),
        "falls_backward": (2, sympy.atan2(y1 - y2, x1 - x2)),
        "from_vertical": (2, sympy.atan2(x2 - x1, y1 - y2)),
    }


KINDS = ("coordinate_x", "height", "height_difference", "horizontal_distance", "distance",
         "angle", "direction", "falls_forward", "falls_backward", "from_vertical")  # fmt: skip


@cache
def sighting(kind: str) -> Sighting:
    """Return one kind, compiled. An unknown kind raises GeometryError."""
    if kind not in KINDS:
        raise GeometryError(f"unknown kind of observation '{kind}'", ", ".join(KINDS), kind)
    points, expression = _declarations()[kind]
    names = sympy.symbols("x1 y1 x2 y2 x3 y3", real=True)[: 2 * points]
    slopes = [_without_deltas(sympy.diff(expression, name)) for name in names]
    return Sighting(
        points,
        kind == "direction",
        sympy.lambdify(names, expression, "numpy"),
        sympy.lambdify(names, slopes, "numpy", cse=True),
    )


def _without_deltas(expression: sympy.Expr) -> sympy.Expr:
    """Simplify signs and drop what differs only where an angle is exactly straight."""
    return expression.replace(sympy.DiracDelta, lambda *_: sympy.S.Zero)
