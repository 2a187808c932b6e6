"""Which formula a whole column of a trait is taken by, given the columns there are."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import sympy

from kit.protocol.catalogue import Catalogue
from kit.traits.declarations import trait, traits
from kit.traits.trait import RIGHT_ANGLE, Trait


@dataclass(frozen=True)
class Route:
    """One trait written in columns and assumptions alone; angles are radians inside it.

    Attributes
    ----------
    direct : bool
        True where an instrument read the trait itself.
    needs : tuple of str
        The columns it takes, without assumptions.
    """

    trait: Trait
    expression: sympy.Expr
    direct: bool
    needs: tuple[str, ...]


def routes(
    columns: Collection[str], catalogue: Catalogue, keys: Iterable[str] | None = None
) -> Mapping[str, tuple[Route, ...]]:
    """Return for each trait that the columns allow its possible routes, one or two.

    A trait made of other traits takes each by its formula where the columns allow, else as read.
    """
    wanted = traits() if keys is None else {key: trait(key) for key in keys}
    found = {key: _routes(one, columns, catalogue) for key, one in wanted.items()}
    return {key: ways for key, ways in found.items() if ways}


def _routes(declared: Trait, columns: Collection[str], catalogue: Catalogue) -> tuple[Route, ...]:
    ways = []
    if declared.direct and declared.key in columns:
        ways.append(Route(declared, sympy.Symbol(declared.key), True, (declared.key,)))
    expression = expanded(declared, columns, catalogue)
    names = {symbol.name for symbol in expression.free_symbols}
    if names <= set(columns) | set(catalogue.assumptions):
        needs = tuple(sorted(names - set(catalogue.assumptions)))
        ways.append(Route(declared, expression, declared.source == "as read", needs))
    return tuple(ways)


def expanded(declared: Trait, columns: Collection[str], catalogue: Catalogue) -> sympy.Expr:
    """Write a declaration in columns and assumptions only."""
    return _written(declared.key, frozenset(columns) | frozenset(catalogue.assumptions))


@lru_cache(maxsize=4096)
def _written(key: str, available: frozenset[str]) -> sympy.Expr:
    declared = trait(key)
    expression = declared.expression.subs(RIGHT_ANGLE, sympy.pi / 2)
    for symbol in sorted(declared.expression.free_symbols, key=str):
        inner = traits().get(symbol.name)
        if inner is None or inner.key == key:
            continue
        written = _written(inner.key, available)
        possible = {one.name for one in written.free_symbols} <= available
        if possible or symbol.name not in available:
            expression = expression.subs(symbol, written)
    return expression
