"""What a figure of movement is, and the units of everything it is declared in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
import sympy
from numpy.typing import ArrayLike, NDArray

from kit.estimation.propagation import Model, compile_model
from kit.quantities.errors import DataFileError, EstimationError, UnitError

STATUSES = ("found", "from memory", "identity", "as read")
# Constants that only carry a unit, so that a fitted law such as 0.38 s · (M / 1 kg)^0.17 can be
# checked for its dimension.
ONE_SECOND, ONE_KILOGRAM = sympy.symbols("one_second one_kilogram")
CONSTANTS = MappingProxyType({"one_second": 1.0, "one_kilogram": 1.0})
# Units of the inputs, as the registry spells them; SI throughout, angles in degrees.
UNITS: Mapping[str, str] = MappingProxyType(
    {
        "distance": "m", "time": "s", "strides": "dimensionless", "hip_height": "m",
        "gravity": "m / s ** 2", "mass": "kg", "stance_time": "s", "stride_time": "s",
        "airborne_time": "s", "diagonal_time": "s",
        "left": "s", "right": "s", "track_width": "m", "track_at_walk": "m", "track_at_trot": "m",
        "stance_width": "m", "toeing": "deg", "one_second": "s", "one_kilogram": "kg",
    }
)  # fmt: skip


@dataclass(frozen=True)
class GaitFigure:
    """One figure of movement.

    Attributes
    ----------
    key, title : str
    unit : str
        As the registry spells it: ``m / s``, ``m``, ``1 / s``, ``s``, ``percent``, ``deg`` or
        ``dimensionless``.
    expression : sympy.Expr
        In inputs of UNITS and other figures' keys.
    definition : str
        What it is taken on, in words.
    source : str
    status : str
        One of STATUSES: how the formula was had.
    validity : str
        Where it holds; empty where it is plain arithmetic.
    """

    key: str
    title: str
    unit: str
    expression: sympy.Expr
    definition: str
    source: str
    status: str
    validity: str = ""

    def __post_init__(self) -> None:
        if not self.source.strip() or not self.definition.strip():
            raise DataFileError(f"figure '{self.key}' lacks a source or a definition")
        if self.status not in STATUSES:
            raise DataFileError(f"figure '{self.key}'", f"status {STATUSES}", self.status)

    @property
    def model(self) -> Model:
        """The declaration compiled with its derivatives."""
        return compile_model(self.expression)

    @property
    def latex(self) -> str:
        """The declaration as LaTeX, inputs written out."""
        names = {
            symbol: rf"\mathrm{{{symbol.name.replace('_', chr(92) + ' ')}}}"
            for symbol in self.expression.free_symbols
            if symbol.name not in CONSTANTS
        }
        names |= {ONE_SECOND: r"1\,\mathrm{s}", ONE_KILOGRAM: r"1\,\mathrm{kg}"}
        left = rf"\mathrm{{{self.key.replace('_', chr(92) + ' ')}}}"
        return f"{left} = {sympy.latex(self.expression, symbol_names=names)}"

    def of(self, **inputs: ArrayLike) -> Any:
        """Evaluate on plain numbers or arrays that broadcast; a float for floats.

        Raises
        ------
        EstimationError
            If an input is missing, not finite, or not above zero where it has to be.
        """
        given = {name: np.asarray(value, dtype=np.float64) for name, value in inputs.items()}
        known = {**{name: np.float64(value) for name, value in CONSTANTS.items()}, **given}
        missing = [name for name in self.model.names if name not in known]
        if missing:
            raise EstimationError(f"{self.title} needs {', '.join(missing)}", given=str(inputs))
        _check_positive(self.title, given)
        result: NDArray[np.float64] = np.asarray(
            self.model.function(*(known[name] for name in self.model.names)), dtype=np.float64
        )
        return float(result) if result.ndim == 0 else result


def _check_positive(title: str, given: Mapping[str, NDArray[np.float64]]) -> None:
    for name, numbers in given.items():
        if not np.all(np.isfinite(numbers)) or np.any(numbers < 0):
            raise EstimationError(
                f"{title} cannot be worked out",
                f"{name} of zero or more",
                str(numbers),
                "check the units: metres, seconds, kilograms",
            )
        if name not in {"speed", "froude_number", "left", "right"} and np.any(numbers == 0):
            raise EstimationError(f"{title} cannot be worked out", f"{name} above zero", "0")


def check_dimension(figure: GaitFigure, units: Mapping[str, str]) -> None:
    """Raise UnitError unless the declaration yields the unit it claims.

    Parameters
    ----------
    units : mapping of str to str
        Unit of every symbol, inputs and other figures.
    """
    import pint

    from kit.quantities.registry import registry

    symbols = sorted(figure.expression.free_symbols, key=lambda symbol: symbol.name)
    sample = [
        registry().Quantity(1.0 + 0.01 * index, units[symbol.name])
        for index, symbol in enumerate(symbols)
    ]
    try:
        result = sympy.lambdify(symbols, figure.expression, "numpy")(*sample)
    except pint.DimensionalityError as fault:
        raise UnitError(f"figure '{figure.key}' mixes kinds", given=str(fault)) from fault
    wanted = registry().Quantity(1.0, figure.unit).dimensionality
    found = {name: round(float(power), 9) for name, power in result.dimensionality.items()}
    if {name: power for name, power in found.items() if power} != dict(wanted):
        raise UnitError(f"figure '{figure.key}'", f"a unit like {figure.unit}", str(found))
