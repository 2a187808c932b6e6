"""All traits, by key."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

import sympy

from kit.protocol.catalogue import catalogue, did_you_mean
from kit.quantities.errors import DataFileError, UnitError
from kit.quantities.kinds import Kind
from kit.traits.angles import ANGLES
from kit.traits.ratios import RATIOS
from kit.traits.trait import RIGHT_ANGLE, Trait


@cache
def traits() -> Mapping[str, Trait]:
    """Return every trait by key, angles first."""
    return MappingProxyType({trait.key: trait for trait in ANGLES + RATIOS})


def trait(key: str) -> Trait:
    """Return one trait; an unknown key raises DataFileError with near names."""
    if key in traits():
        return traits()[key]
    raise DataFileError(
        f"no trait is called '{key}'", "a trait of the kit", key, did_you_mean(key, traits())
    )


def kind_of(name: str) -> Kind:
    """Return the kind of a symbol used in a declaration."""
    if name == RIGHT_ANGLE.name:
        return Kind.ANGLE
    if name in catalogue().assumptions:
        return catalogue().assumptions[name].kind
    if name in catalogue().measurements:
        return catalogue().measurements[name].kind
    return trait(name).kind


def unit_of(kind: Kind) -> str:
    """Return the unit of a kind as the registry spells it."""
    return "dimensionless" if kind is Kind.RATIO else kind.unit


def check_dimension(declared: Trait) -> None:
    """Raise UnitError unless the declaration yields the kind it claims.

    The expression is evaluated once on quantities with units, in a registry where an angle is a
    dimension, so that an angle passed off as a ratio is found.
    """
    import pint

    from kit.quantities.registry import registry

    symbols = sorted(declared.expression.free_symbols, key=lambda symbol: symbol.name)
    sample = [
        registry().Quantity(1.0 + 0.01 * index, unit_of(kind_of(symbol.name)))
        for index, symbol in enumerate(symbols)
    ]
    try:
        result = sympy.lambdify(symbols, declared.expression, "numpy")(*sample)
    except pint.DimensionalityError as fault:
        raise UnitError(f"trait '{declared.key}' mixes kinds", given=str(fault)) from fault
    wanted = registry().Quantity(1.0, unit_of(declared.kind)).dimensionality
    if result.dimensionality != wanted:
        raise UnitError(
            f"trait '{declared.key}' is no {declared.kind.value}",
            f"a unit like {unit_of(declared.kind)}",
            str(result.dimensionality),
        )
