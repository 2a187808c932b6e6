"""First-order propagation of uncertainty through SymPy expressions, with full covariance."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
import sympy
from numpy.typing import ArrayLike, NDArray

from kit.quantities.errors import EstimationError, GeometryError

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]
SYMMETRY_TOLERANCE = 1e-9


@dataclass(frozen=True)
class Model:
    """An expression compiled with its derivatives, each form when it is first wanted.

    Attributes
    ----------
    expression : sympy.Expr
    names : tuple of str
        The inputs, in order.
    """

    expression: sympy.Expr
    names: tuple[str, ...]

    @cached_property
    def function(self) -> Callable[..., Any]:
        """Takes the inputs as scalars or arrays that broadcast; returns the value."""
        return self._compiled(self.expression, "numpy")

    @cached_property
    def gradient(self) -> Callable[..., Sequence[Any]]:
        """Takes the same; returns one derivative per input."""
        return self._compiled(self._slopes, "numpy")

    @cached_property
    def _at_point(self) -> Callable[..., Sequence[float]]:
        # One point at a time, plain floats are some ten times as quick as arrays.
        return self._compiled([self.expression, *self._slopes], "math")

    @cached_property
    def _slopes(self) -> list[sympy.Expr]:
        return [sympy.diff(self.expression, symbol) for symbol in _symbols(self.expression)]

    @cached_property
    def is_linear(self) -> bool:
        """True where no derivative depends on an input."""
        return not any(slope.free_symbols for slope in self._slopes)

    def _compiled(self, written: sympy.Expr | list[sympy.Expr], library: str) -> Callable[..., Any]:
        try:
            compiled: Callable[..., Any] = sympy.lambdify(
                _symbols(self.expression), written, library, cse=isinstance(written, list)
            )
        except (NotImplementedError, NameError, SyntaxError, TypeError) as fault:
            raise EstimationError(
                "an expression cannot be compiled", given=str(self.expression)
            ) from fault
        return compiled

    def value(self, inputs: Sequence[float]) -> float:
        """Evaluate at one point; nan where the expression has no real value."""
        with np.errstate(all="ignore"):
            return float(self.function(*np.asarray(inputs, dtype=np.float64)))

    def point(self, inputs: Sequence[float]) -> tuple[float, list[float]]:
        """Evaluate with the derivatives at one point; all nan where one of them is not real."""
        try:
            value, *slopes = map(float, self._at_point(*inputs))
        except (ValueError, TypeError, ArithmeticError):  # as of acos(2), (-1)**0.5 and 1/0
            return math.nan, [math.nan] * len(self.names)
        except NameError as fault:
            raise EstimationError(
                "an expression has a derivative nobody can evaluate", given=str(self.expression)
            ) from fault
        return value, slopes


@lru_cache(maxsize=4096)
def symbols_of(expression: sympy.Expr) -> frozenset[str]:
    """Return the names of an expression's symbols."""
    return frozenset(symbol.name for symbol in expression.free_symbols)


@lru_cache(maxsize=1024)
def compile_model(expression: sympy.Expr) -> Model:
    """Return an expression ready to evaluate, once; its inputs are its symbols sorted by name."""
    symbols = _symbols(expression)
    if len({symbol.name for symbol in symbols}) != len(symbols):
        raise EstimationError("two symbols share a name", "each name once", str(expression))
    return Model(expression, tuple(symbol.name for symbol in symbols))


def _symbols(expression: sympy.Expr) -> list[sympy.Symbol]:
    return sorted(expression.free_symbols, key=lambda symbol: symbol.name)


def propagate(
    expressions: sympy.Expr | Sequence[sympy.Expr],
    values: Mapping[Any, Any],
    covariance: ArrayLike,
) -> tuple[Vector, Matrix]:
    """Evaluate expressions and their covariance, to first order.

    Parameters
    ----------
    expressions : SymPy expression or sequence of them, length m
        Angles are in radians.
    values : mapping of n symbols (or their names) to floats or estimates
        An estimate is anything with a ``value``.
    covariance : array, shape (n, n)
        Of the inputs, in the order of `values`.

    Returns
    -------
    values : array, shape (m,)
    covariance : array, shape (m, m)

    Raises
    ------
    EstimationError
        If an input is missing or the covariance is not one.
    GeometryError
        If an expression has no real value there.

    Source: JCGM 100:2008, 5.2.2 (equation 13) and JCGM 102:2011, 6.2.
    """
    listed = _listed(expressions)
    names, numbers = _inputs(values)
    matrix = _checked_covariance(covariance, names, numbers)
    point = dict(zip(names, numbers.tolist(), strict=True))
    results = np.empty(len(listed))
    jacobian = np.zeros((len(listed), len(names)))
    for row, expression in enumerate(listed):
        results[row], slopes = evaluate(expression, point)
        for name, slope in slopes.items():
            jacobian[row, names.index(name)] = slope
    return results, jacobian @ matrix @ jacobian.T


def _listed(expressions: sympy.Expr | Sequence[sympy.Expr]) -> list[sympy.Expr]:
    """Return the expressions as a list; text is refused, it is never evaluated."""
    single = isinstance(expressions, sympy.Basic | int | float | str)
    listed = [expressions] if single else list(expressions)
    for one in listed:
        if not isinstance(one, sympy.Expr | int | float):
            raise EstimationError("no expression", "expressions built from symbols", repr(one))
    return [sympy.Float(one) if isinstance(one, int | float) else one for one in listed]


def _inputs(values: Mapping[Any, Any]) -> tuple[list[str], Vector]:
    """Return the names of the inputs and their values."""
    names = [str(getattr(key, "name", key)) for key in values]
    if len(set(names)) != len(names):
        raise EstimationError("an input is given twice", "each name once", ", ".join(names))
    try:
        numbers = np.array([float(getattr(item, "value", item)) for item in values.values()])
    except (TypeError, ValueError) as fault:
        raise EstimationError("an input is no number", "a number each", str(fault)) from fault
    return names, numbers


def evaluate(expression: sympy.Expr, point: Mapping[str, float]) -> tuple[float, dict[str, float]]:
    """Return the value of one expression and its derivative by each of its inputs.

    Raises
    ------
    EstimationError
        If an input is missing.
    GeometryError
        If the value or a derivative is not a real number there.
    """
    model = compile_model(
        sympy.S(expression) if isinstance(expression, int | float) else expression
    )
    missing = [name for name in model.names if name not in point]
    if missing:
        raise EstimationError(
            f"no value for {', '.join(missing)}", ", ".join(model.names), ", ".join(point)
        )
    value, slopes = model.point([float(point[name]) for name in model.names])
    if not math.isfinite(value) or not all(map(math.isfinite, slopes)):
        given = ", ".join(f"{name} {point[name]:g}" for name in model.names)
        raise GeometryError("these readings cannot belong together", given=given, do="read again")
    return value, dict(zip(model.names, slopes, strict=True))


def _checked_covariance(covariance: ArrayLike, names: Sequence[str], numbers: Vector) -> Matrix:
    matrix = np.asarray(covariance, dtype=np.float64)
    size = len(names)
    if matrix.shape != (size, size):
        raise EstimationError(
            "covariance of the wrong shape", f"({size}, {size}) for {', '.join(names)}",
            str(matrix.shape),
        )  # fmt: skip
    if not (np.all(np.isfinite(matrix)) and np.all(np.isfinite(numbers))):
        raise EstimationError("a value or covariance is not a finite number")
    scale = np.sqrt(np.outer(np.diag(matrix).clip(0), np.diag(matrix).clip(0))) + 1e-300
    if np.any(np.abs(matrix - matrix.T) > SYMMETRY_TOLERANCE * scale) or np.any(
        np.diag(matrix) < 0
    ):
        raise EstimationError("covariance is not symmetric with variances of at least zero")
    if size and np.linalg.eigvalsh(matrix / scale).min() < -SYMMETRY_TOLERANCE * size:
        raise EstimationError("no quantities have this covariance: a variance would be negative")
    return matrix
