"""All traits of a survey compiled into one function of columns: values and uncertainties."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import sympy
from numpy.typing import NDArray
from sympy.printing.numpy import NumPyPrinter

from kit.protocol.catalogue import Catalogue
from kit.quantities.errors import DataFileError
from kit.quantities.kinds import Kind
from kit.survey.routes import Route, routes
from kit.survey.spread import Spread, spread_of_assumption, spread_of_column
from kit.traits.inputs import DEGREES, scale_of

Array = NDArray[np.float64]


@dataclass(frozen=True)
class TraitColumn:
    """One trait of many dogs, in the unit of its kind; nan where it cannot be had.

    Attributes
    ----------
    values, uncertainties : array, shape (n,)
        First order (JCGM 100:2008, 5.1.2), the readings' errors independent.
    dof : array, shape (n,), optional
        Effective degrees of freedom (Welch and Satterthwaite), where they were asked for.
    """

    key: str
    values: Array
    uncertainties: Array
    dof: Array | None = None


@dataclass(frozen=True)
class Program:
    """The compiled traits.

    Attributes
    ----------
    routes : mapping of trait key to Route
        How each is taken.
    columns : tuple of str
        Measurements it needs, in the order the function takes them.
    with_dof : frozenset of str
        Traits whose degrees of freedom are worked out too.
    masked : frozenset of str
        Traits whose uncertainty has to be taken back where there is no value.
    """

    routes: Mapping[str, Route]
    columns: tuple[str, ...]
    with_dof: frozenset[str]
    masked: frozenset[str]
    catalogue: Catalogue
    function: Callable[..., Sequence[Any]]

    def run(
        self,
        values: Mapping[str, Array],
        spreads: Mapping[str, Spread] | None = None,
        readings: int = 1,
    ) -> dict[str, TraitColumn]:
        """Evaluate every trait for n dogs.

        Parameters
        ----------
        values : mapping of measurement to array, shape (n,)
            In cm, degrees and kilograms; nan where it is missing.
        spreads : mapping of measurement to Spread, optional
            How sure the cells are; by default as the catalogue says for so many `readings`.
        """
        missing = [name for name in self.columns if name not in values]
        if missing:
            raise DataFileError("columns are missing", ", ".join(self.columns), ", ".join(missing))
        if spreads is None:
            spreads = {
                name: spread_of_column(name, values[name], self.catalogue, readings)
                for name in self.columns
            }
        arguments = [_inside(name, values[name]) for name in self.columns]
        assumed = self.catalogue.assumptions.values()
        every = [spreads[name] for name in self.columns] + [
            spread_of_assumption(a) for a in assumed
        ]
        fixed = [one.value / scale_of(one.key) for one in assumed]
        with np.errstate(all="ignore"):
            results = self.function(
                *arguments, *fixed, *(s.variance for s in every), *(s.fourth for s in every)
            )
            return self._columns(list(results), len(next(iter(values.values()))))

    def _columns(self, results: list[Any], size: int) -> dict[str, TraitColumn]:
        found, place = {}, 0
        roots: dict[int, Array] = {}  # an angle and its complement have one variance between them
        for key in self.routes:
            value, variance = results[place : place + 2]
            place += 2
            root = roots.get(id(variance))
            if root is None:
                root = roots[id(variance)] = np.sqrt(variance)
            dof = None
            if key in self.with_dof:
                dof = _per_dog(variance * variance / results[place], size)
                place += 1
            known = root + 0.0 * value if key in self.masked else root
            found[key] = TraitColumn(key, value, known, dof)
        return found


@lru_cache(maxsize=1024)
def _masked(expression: sympy.Expr) -> bool:
    """Tell whether slopes may make a number where there is no value.

    So it is with an angle that does not exist, and with a symbol that no slope depends on.
    """
    if expression.has(sympy.acos, sympy.asin):
        return True
    slopes = [sympy.diff(expression, symbol) for symbol in expression.free_symbols]
    return bool(expression.free_symbols - sympy.Tuple(*slopes).free_symbols)


def _per_dog(value: Any, size: int) -> Array:
    return np.asarray(value) if np.ndim(value) else np.full(size, float(value))


def _inside(name: str, values: Array) -> Array:
    scale = scale_of(name)
    return values if scale == 1.0 else values / scale


class _Printer(NumPyPrinter):  # type: ignore[misc]
    """Writes whole powers as products: numpy's general power is thirty times as slow."""

    def _print_Pow(self, expr: Any, rational: bool = False) -> str:  # noqa: N802
        base, exponent = expr.as_base_exp()
        if exponent not in _WHOLE_POWERS:
            return str(super()._print_Pow(expr, rational))
        square = self._module_format("numpy.square")
        text = f"({self._print(base)})"
        for _ in range(_WHOLE_POWERS[exponent]):
            text = f"{square}({text})"
        return text if exponent > 0 else f"(1.0/{text})"


# How often to square for a power.
_WHOLE_POWERS = {sign * 2**times: times for times in range(4) for sign in (1, -1)}


def compile_program(
    columns: Collection[str],
    catalogue: Catalogue,
    *,
    sample: Mapping[str, Array] | None = None,
    with_dof: Collection[str] = (),
    keys: Collection[str] | None = None,
) -> Program:
    """Compile every trait that some columns allow.

    Parameters
    ----------
    columns : collection of str
        Measurements there are.
    sample : mapping of measurement to array, optional
        Some dogs, to see which of two routes to a trait is less uncertain; without it the
        formula is taken.
    with_dof : collection of str
        Traits that findings are made of.
    keys : collection of str, optional
        Only these traits.

    Raises
    ------
    DataFileError
        If the columns allow no trait.
    """
    possible = routes(columns, catalogue, keys)
    if not possible:
        raise DataFileError("no trait can be derived from these columns",
                            "measurement keys as column names (conformation sheet --keys)",
                            ", ".join(sorted(columns)) or "no columns")  # fmt: skip
    chosen = {key: _chosen(ways, catalogue, sample) for key, ways in possible.items()}
    return _compiled(chosen, catalogue, frozenset(with_dof))


def _chosen(
    ways: tuple[Route, ...], catalogue: Catalogue, sample: Mapping[str, Array] | None
) -> Route:
    if len(ways) == 1 or sample is None:
        return ways[-1]
    return min(ways, key=lambda way: _typical_uncertainty(way, catalogue, sample))


def _typical_uncertainty(way: Route, catalogue: Catalogue, sample: Mapping[str, Array]) -> float:
    program = _compiled({way.trait.key: way}, catalogue, frozenset())
    found = program.run(sample)[way.trait.key].uncertainties
    known = found[np.isfinite(found)]
    return float(np.median(known)) if known.size else float("inf")


def _compiled(
    chosen: Mapping[str, Route], catalogue: Catalogue, with_dof: frozenset[str]
) -> Program:
    columns = tuple(sorted({name for way in chosen.values() for name in way.needs}))
    names = (*columns, *catalogue.assumptions)
    ways = tuple((key, way.expression, way.trait.kind) for key, way in chosen.items())
    asked = frozenset(with_dof & chosen.keys())
    function = _function(ways, names, asked)
    masked = frozenset(key for key, expression, _ in ways if _masked(expression))
    return Program(chosen, columns, asked, masked, catalogue, function)


@lru_cache(maxsize=16)
def _function(
    ways: tuple[tuple[str, sympy.Expr, Kind], ...], names: tuple[str, ...], with_dof: frozenset[str]
) -> Callable[..., Sequence[Any]]:
    """Compile once in a run of the program; takes values, variances and fourths by `names`."""
    spread = [sympy.Symbol(f"variance_of_{name}") for name in names]
    fourth = [sympy.Symbol(f"fourth_of_{name}") for name in names]
    spreads = dict(zip(names, zip(spread, fourth, strict=True), strict=True))
    outputs: list[sympy.Expr] = []
    for key, expression, kind in ways:
        parts = _outputs(expression, kind, spreads)
        outputs += parts if key in with_dof else parts[:2]
    arguments = [*(sympy.Symbol(name) for name in names), *spread, *fourth]
    printer = _Printer({"fully_qualified_modules": False, "inline": True,
                        "allow_unknown_functions": True})  # fmt: skip
    made: Callable[..., Sequence[Any]] = sympy.lambdify(
        arguments, outputs, "numpy", printer=printer, cse=True
    )
    return made


def _outputs(
    expression: sympy.Expr, kind: Kind, spreads: Mapping[str, tuple[sympy.Symbol, sympy.Symbol]]
) -> list[sympy.Expr]:
    """Return value, variance and the sum behind the degrees of freedom."""
    scale = sympy.Float(DEGREES) if kind is Kind.ANGLE else sympy.S.One
    variance: sympy.Expr = sympy.S.Zero
    fourth: sympy.Expr = sympy.S.Zero
    for symbol in sorted(expression.free_symbols, key=str):
        slope = sympy.diff(expression, symbol) * scale
        own = spreads[symbol.name]
        variance += slope**2 * own[0]
        fourth += slope**4 * own[1]
    return [expression * scale, variance, fourth]
