"""The declarations as SQL, so that a database works out the same traits next to its data.

Only what the two dialects share is written: DuckDB and PostgreSQL give the same numbers as NumPy.
Where NumPy gives nan (no such triangle, a division by zero, a missing value) SQL gives NULL.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Any

import numpy as np
import sympy
from sympy.printing.str import StrPrinter

from kit.protocol.catalogue import Catalogue
from kit.quantities.errors import DataFileError
from kit.quantities.kinds import Kind
from kit.survey.program import Program
from kit.survey.spread import spread_of_assumption, spread_of_column
from kit.traits.inputs import DEGREES, scale_of

_NAME = re.compile(r"[a-z_][a-z0-9_]*")


def sql_of(expression: sympy.Expr, catalogue: Catalogue, columns: Collection[str]) -> str:
    """Write an expression as SQL over columns in cm, degrees and kilograms.

    Parameters
    ----------
    columns : collection of str
        Names that stand for columns; the others have to be assumptions of the catalogue.

    Raises
    ------
    DataFileError
        If a name is neither, or the expression holds what no database has.
    """
    return str(_SqlPrinter(catalogue, frozenset(columns)).doprint(expression))


def select_traits(program: Program, table: str, key: str = "dog") -> str:
    """Write the query of every trait and its first-order uncertainty.

    The uncertainties take the catalogue's errors for one reading, as `Program.run` does; the
    allowed error of a tape is that of its first metre.

    Parameters
    ----------
    table, key : str
        Name of the table, and of the column that names the dog.

    Returns
    -------
    str
        ``SELECT dog, <trait>, <trait>_u, … FROM table``.
    """
    parts = [identifier(key)]
    for name, route in program.routes.items():
        scale = sympy.Float(DEGREES, 17) if route.trait.kind is Kind.ANGLE else sympy.S.One
        spread = sympy.sqrt(_variance(program, route.expression)) * scale
        value, uncertainty = (
            sql_of(written, program.catalogue, program.columns)
            for written in (route.expression * scale, spread)
        )
        known = f"CASE WHEN {value} IS NOT NULL THEN {uncertainty} END"
        parts.append(f"{value} AS {identifier(name)}")
        parts.append(f"{known} AS {identifier(name + '_u')}")
    return f"SELECT {', '.join(parts)} FROM {identifier(table)}"  # noqa: S608  (names are checked)


def _variance(program: Program, expression: sympy.Expr) -> sympy.Expr:
    """Return the variance of an expression with the errors written in as numbers."""
    total: sympy.Expr = sympy.S.Zero
    for symbol in sorted(expression.free_symbols, key=str):
        if symbol.name in program.catalogue.assumptions:
            spread = spread_of_assumption(program.catalogue.assumptions[symbol.name])
        else:
            spread = spread_of_column(symbol.name, np.array([1.0]), program.catalogue)
        size = float(np.asarray(spread.variance).ravel()[0])
        total += sympy.diff(expression, symbol) ** 2 * sympy.Float(size, 17)
    return total


def identifier(name: str) -> str:
    """Return a name as a quoted identifier.

    Raises
    ------
    DataFileError
        If it has anything but small letters, digits and underscores.
    """
    if not _NAME.fullmatch(name):
        raise DataFileError("no name for a column", "small letters, digits, underscores", name)
    return f'"{name}"'


class _SqlPrinter(StrPrinter):  # type: ignore[misc]
    """Writes an expression with a guard wherever SQL raises and NumPy gives nan."""

    def __init__(self, catalogue: Catalogue, columns: frozenset[str]) -> None:
        super().__init__({"full_prec": True})
        self._catalogue = catalogue
        self._columns = columns

    def _print_Symbol(self, expr: Any) -> str:  # noqa: N802
        scale = scale_of(expr.name)
        if expr.name in self._columns:
            column = identifier(expr.name)
            return column if scale == 1.0 else f"({column} / {scale!r})"
        if expr.name in self._catalogue.assumptions:
            value = self._catalogue.assumptions[expr.name].value / scale
            return f"({value!r})"
        raise DataFileError("no such column", ", ".join(sorted(self._columns)), expr.name)

    def _print_Add(self, expr: Any, order: Any = None) -> str:  # noqa: ARG002, N802
        return "(" + " + ".join(self._print(part) for part in expr.args) + ")"

    def _print_Mul(self, expr: Any) -> str:  # noqa: N802
        return "(" + " * ".join(self._print(part) for part in expr.args) + ")"

    def _print_Pow(self, expr: Any, rational: bool = False) -> str:  # noqa: ARG002, N802
        base, exponent = expr.as_base_exp()
        if exponent.is_Integer:
            product = " * ".join([self._print(base)] * abs(int(exponent)))
            return f"({product})" if exponent > 0 else f"(1.0 / NULLIF(({product}), 0.0))"
        if abs(exponent) == sympy.Rational(1, 2):
            inner = self._print(base)
            root = f"CASE WHEN {inner} >= 0 THEN SQRT({inner}) END"
            return f"({root})" if exponent > 0 else f"(1.0 / NULLIF(({root}), 0.0))"
        raise DataFileError("SQL has no such power", "whole powers and roots", str(exponent))

    def _print_Rational(self, expr: Any) -> str:  # noqa: N802
        return f"({int(expr.p)}.0 / {int(expr.q)}.0)"

    def _print_Integer(self, expr: Any) -> str:  # noqa: N802
        return f"({int(expr)}.0)"

    def _print_Float(self, expr: Any) -> str:  # noqa: N802
        return f"({float(expr)!r}::double precision)"

    def _print_Pi(self, expr: Any) -> str:  # noqa: ARG002, N802
        return "PI()"

    def _print_acos(self, expr: Any) -> str:
        return self._arc("ACOS", expr)

    def _print_asin(self, expr: Any) -> str:
        return self._arc("ASIN", expr)

    def _arc(self, name: str, expr: Any) -> str:
        inner = self._print(expr.args[0])
        return f"(CASE WHEN ABS({inner}) <= 1 THEN {name}({inner}) END)"

    def _print_Function(self, expr: Any) -> str:  # noqa: N802
        raise DataFileError("SQL has no such function", "acos, asin, powers", str(expr.func))
