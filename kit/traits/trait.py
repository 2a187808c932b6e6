"""What a trait is, and the small vocabulary its declaration is written in."""

from __future__ import annotations

from dataclasses import dataclass

import sympy

from kit.protocol.catalogue import catalogue
from kit.quantities.errors import DataFileError
from kit.quantities.kinds import Kind

RIGHT_ANGLE = sympy.Symbol("right_angle")
"""Ninety degrees: a symbol, because an angle and a plain number cannot be added."""


@dataclass(frozen=True)
class Trait:
    """One derived figure.

    Attributes
    ----------
    key, title : str
    kind : Kind
        RATIO, ANGLE, LENGTH or MASS. Angles are radians inside the expression, degrees outside.
    expression : sympy.Expr
        In measurement keys, assumption keys, other traits' keys and RIGHT_ANGLE.
    definition : str
        Which points and lines it is taken on, so that it is compared only with the same.
    source : str
        Where the definition or the formula comes from.
    family : str
        Traits of one family answer one question by different definitions.
    direct : bool
        True where an instrument can also read it directly, under its own key.
    """

    key: str
    title: str
    kind: Kind
    expression: sympy.Expr
    definition: str
    source: str
    family: str
    direct: bool = False

    def __post_init__(self) -> None:
        if not self.source.strip() or not self.definition.strip():
            raise DataFileError(f"trait '{self.key}' lacks a source or a definition")

    @property
    def latex(self) -> str:
        """The declaration as LaTeX, measurements written out."""
        names = {
            symbol: rf"\mathrm{{{symbol.name.replace('_', chr(92) + ' ')}}}"
            for symbol in self.expression.free_symbols
            if symbol != RIGHT_ANGLE
        }
        names[RIGHT_ANGLE] = r"90^{\circ}"
        left = rf"\mathrm{{{self.key.replace('_', chr(92) + ' ')}}}"
        return f"{left} = {sympy.latex(self.expression, symbol_names=names)}"


def measured(key: str) -> sympy.Symbol:
    """Return the symbol of a measurement or assumption; an unknown key raises DataFileError."""
    if key not in catalogue().assumptions:
        catalogue().measurement(key)
    return sympy.Symbol(key)


def derived(key: str) -> sympy.Symbol:
    """Return the symbol of another trait."""
    return sympy.Symbol(key)


def angle_between(first: str, second: str, opposite: str) -> sympy.Expr:
    """Return the angle between two measured sides of a triangle, by the cosine rule."""
    a, b, c = measured(first), measured(second), measured(opposite)
    return sympy.acos((a**2 + b**2 - c**2) / (2 * a * b))


def slope(upper: str, lower: str, along: str) -> sympy.Expr:
    """Return the slope from the horizontal of a measured length between two heights."""
    return sympy.asin((measured(upper) - measured(lower)) / measured(along))


def over(top: str, bottom: str) -> sympy.Expr:
    """Return the ratio of two measurements."""
    return measured(top) / measured(bottom)
