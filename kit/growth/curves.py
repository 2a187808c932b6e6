"""Growth curves: one SymPy declaration each, from which value, slopes and LaTeX follow.

All are written so that `adult` is the level growth ends at, `midpoint` an age in days and `pace`
a time in days, and so that all but the monomolecular have their inflection at `midpoint`. In
these letters Gompertz, logistic and von Bertalanffy are the Richards curve with shape 0, 1 and
-1/3.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

import numpy as np
import sympy
from numpy.typing import ArrayLike, NDArray

from kit.estimation.propagation import Model, compile_model
from kit.quantities.errors import DataFileError, EstimationError

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

AGE = sympy.Symbol("age", real=True)
ADULT = sympy.Symbol("adult", positive=True)
MIDPOINT = sympy.Symbol("midpoint", real=True)
PACE = sympy.Symbol("pace", positive=True)
SHAPE = sympy.Symbol("shape", real=True)
POSITIVE = ("adult", "pace")
_PASSED = (AGE - MIDPOINT) / PACE


@dataclass(frozen=True)
class Curve:
    """One family of growth curves.

    Attributes
    ----------
    key, title : str
    expression : sympy.Expr
        The size at AGE, in its parameters.
    parameters : tuple of str
        In the order of every vector and covariance.
    at_midpoint : float
        Part of the adult size reached at `midpoint`; nan where it depends on the shape.
    source : str
    """

    key: str
    title: str
    expression: sympy.Expr
    parameters: tuple[str, ...]
    at_midpoint: float
    source: str

    def __post_init__(self) -> None:
        if not self.source.strip():
            raise DataFileError(f"curve '{self.key}' lacks a source")
        wanted = {*self.parameters, AGE.name}
        if {symbol.name for symbol in self.expression.free_symbols} != wanted:
            raise DataFileError(f"curve '{self.key}' names other parameters than it uses")

    @cached_property
    def model(self) -> Model:
        """The expression compiled with its derivatives."""
        return compile_model(self.expression)

    @property
    def latex(self) -> str:
        """The declaration as LaTeX."""
        letters = {ADULT: "A", MIDPOINT: "c", PACE: "b", SHAPE: "s", AGE: "t"}
        return "y = " + str(sympy.latex(self.expression, symbol_names=letters))

    def value(self, age: ArrayLike, parameters: Sequence[float] | Vector) -> Vector:
        """Evaluate at ages in days, shape (n,) → (n,)."""
        days = np.asarray(age, dtype=np.float64)
        with np.errstate(all="ignore"):
            return np.broadcast_to(self.model.function(*self._inputs(days, parameters)), days.shape)

    def gradient(self, age: ArrayLike, parameters: Sequence[float] | Vector) -> Matrix:
        """Return the derivatives by each parameter, shape (n,) → (n, parameters)."""
        days = np.asarray(age, dtype=np.float64)
        slopes = self._slopes(days, parameters)
        columns = [np.broadcast_to(slopes[name], days.shape) for name in self.parameters]
        return np.stack(columns, axis=-1).astype(np.float64)

    def rate(self, age: ArrayLike, parameters: Sequence[float] | Vector) -> Vector:
        """Return the growth a day, shape (n,) → (n,)."""
        days = np.asarray(age, dtype=np.float64)
        return np.broadcast_to(self._slopes(days, parameters)[AGE.name], days.shape)

    def _inputs(self, days: Vector, parameters: Sequence[float] | Vector) -> list[Vector | float]:
        if len(parameters) != len(self.parameters):
            raise EstimationError(
                f"{self.title}: wrong number of parameters", ", ".join(self.parameters),
                str(len(parameters)),
            )  # fmt: skip
        given = dict(zip(self.parameters, (float(p) for p in parameters), strict=True))
        return [days if name == AGE.name else given[name] for name in self.model.names]

    def _slopes(self, days: Vector, parameters: Sequence[float] | Vector) -> dict[str, Vector]:
        with np.errstate(all="ignore"):
            slopes = self.model.gradient(*self._inputs(days, parameters))
        return dict(zip(self.model.names, slopes, strict=True))

    def age_at(self, part: float, parameters: Sequence[float] | Vector) -> float:
        """Return the age in days at which this part of the adult size is reached.

        Raises
        ------
        EstimationError
            If `part` is not between 0 and 1, or the curve never passes it.
        """
        if not 0.0 < part < 1.0:
            raise EstimationError("no such part of the adult size", "0 to 1", f"{part:g}")
        level = dict(zip(self.parameters, (float(p) for p in parameters), strict=True))
        low, high = (level["midpoint"] + way * 60.0 * level["pace"] for way in (-1.0, 1.0))
        wanted = part * level["adult"]
        for _ in range(200):
            middle = (low + high) / 2.0
            reached = float(self.value(middle, parameters))
            low, high = (low, middle) if reached >= wanted else (middle, high)
        return (low + high) / 2.0


GOMPERTZ = Curve(
    "gompertz", "Gompertz", ADULT * sympy.exp(-sympy.exp(-_PASSED)),
    ("adult", "midpoint", "pace"), float(np.exp(-1.0)),
    "Gompertz 1825; in this form Helmink, Shanks and Leighton 2000, J Anim Sci 78:27-32",
)  # fmt: skip
LOGISTIC = Curve(
    "logistic", "logistic", ADULT / (1 + sympy.exp(-_PASSED)),
    ("adult", "midpoint", "pace"), 0.5,
    "Verhulst 1838; in this form Posada, Gomez and Rosero, Rev MVZ Cordoba",
)  # fmt: skip
VON_BERTALANFFY = Curve(
    "von_bertalanffy", "von Bertalanffy", ADULT * (1 - sympy.exp(-_PASSED) / 3) ** 3,
    ("adult", "midpoint", "pace"), 8.0 / 27.0,
    "von Bertalanffy 1957, Q Rev Biol 32:217-231 (2/3 power of mass; from memory)",
)  # fmt: skip
RICHARDS = Curve(
    "richards", "Richards",
    ADULT * sympy.exp(-sympy.log(1 + SHAPE * sympy.exp(-_PASSED)) / SHAPE),
    ("adult", "midpoint", "pace", "shape"), float("nan"),
    "Richards 1959, J Exp Bot 10:290-300 (from memory)",
)  # fmt: skip
MONOMOLECULAR = Curve(
    "monomolecular", "monomolecular", ADULT * (1 - sympy.exp(-_PASSED)),
    ("adult", "midpoint", "pace"), 0.0,
    "Mitscherlich 1909; Brody 1945 (from memory); `midpoint` is the age of size zero",
)  # fmt: skip

CURVES: Mapping[str, Curve] = MappingProxyType(
    {curve.key: curve for curve in (GOMPERTZ, LOGISTIC, VON_BERTALANFFY, RICHARDS, MONOMOLECULAR)}
)


def curve(name: str | Curve) -> Curve:
    """Return a curve by its key; an unknown key raises DataFileError."""
    if isinstance(name, Curve):
        return name
    if name in CURVES:
        return CURVES[name]
    raise DataFileError(f"no growth curve is called '{name}'", ", ".join(CURVES), name)


def to_working(family: Curve, parameters: Sequence[float] | Vector) -> Vector:
    """Return parameters as the fit moves them: what must stay above zero as its logarithm."""
    values = np.array(parameters, dtype=np.float64)
    for place, name in enumerate(family.parameters):
        if name in POSITIVE:
            values[place] = np.log(values[place])
    return values


def from_working(family: Curve, working: Sequence[float] | Vector) -> Vector:
    """Return the parameters themselves."""
    values = np.array(working, dtype=np.float64)
    for place, name in enumerate(family.parameters):
        if name in POSITIVE:
            values[place] = np.exp(values[place])
    return values


def working_slopes(family: Curve, age: ArrayLike, working: Vector) -> Matrix:
    """Return the derivatives by the working parameters, shape (n, parameters)."""
    parameters = from_working(family, working)
    return family.gradient(age, parameters) * working_scale(family, parameters)


def working_scale(family: Curve, parameters: Sequence[float] | Vector) -> Vector:
    """Return the derivative of each parameter by its working form, shape (parameters,)."""
    return np.array(
        [
            float(value) if name in POSITIVE else 1.0
            for name, value in zip(family.parameters, parameters, strict=True)
        ]
    )
