"""The one unit registry of the kit, and plain-number conversion through it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from kit.quantities.errors import UnitError
from kit.quantities.kinds import Kind

if TYPE_CHECKING:
    import pint

DEFINITIONS = Path(__file__).parent / "units.txt"


@cache
def registry() -> pint.UnitRegistry[float]:
    """Return the registry, in which an angle is a dimension and nothing may be redefined."""
    import pint

    return pint.UnitRegistry(str(DEFINITIONS), on_redefinition="raise")


def convert(value: float, unit: str, wanted: str) -> float:
    """Convert a plain number from one unit to another.

    Raises
    ------
    UnitError
        If a unit is unknown or the dimensions differ.
    """
    if unit == wanted:
        return value
    return value * _factor(unit, wanted)


@cache
def _factor(unit: str, wanted: str) -> float:
    import pint

    try:
        factor = registry().Quantity(1.0, unit).to(wanted).magnitude
        # Fifteen digits take back the rounding of the prefixes: a metre is 100 cm exactly.
        return float(f"{factor:.15g}")
    except pint.UndefinedUnitError as fault:
        raise UnitError("unknown unit", "a unit such as cm, in, deg or kg", unit) from fault
    except pint.DimensionalityError as fault:
        raise UnitError("unit of the wrong kind", f"a unit like {wanted}", unit) from fault


def check_kind(unit: str, kind: Kind) -> None:
    """Raise UnitError unless `unit` measures `kind`."""
    _factor(unit, kind.unit if kind is not Kind.RATIO else "percent")
