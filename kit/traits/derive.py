"""Estimates → traits: every trait by its best route, from one side of the dog."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property, lru_cache, partial

import sympy
from scipy import special

from kit.estimation.propagation import compile_model, evaluate, symbols_of
from kit.estimation.simulation import Simulation, evaluate_draws, is_linear_enough
from kit.protocol.catalogue import catalogue
from kit.quantities.errors import EstimationError, GeometryError
from kit.quantities.formatting import with_unit
from kit.quantities.kinds import Kind
from kit.traits.declarations import kind_of, traits
from kit.traits.estimates import DIRECT, LINEAR, MONTE_CARLO, TraitEstimate, TraitTable
from kit.traits.inputs import (
    DEGREES,
    Estimates,
    Fitted,
    Inputs,
    Key,
    inputs_of,
    scale_of,
)
from kit.traits.trait import RIGHT_ANGLE, Trait


@dataclass(frozen=True)
class _Route:
    """One way to a trait: what to evaluate and what that is called."""

    expression: sympy.Expr
    direct: bool


@dataclass(frozen=True)
class _Side:
    """One side of the dog, gathered when it is first needed; its results so far, and its faults."""

    gather: Callable[[], Inputs]
    found: dict[str, TraitEstimate] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)

    @cached_property
    def inputs(self) -> Inputs:
        """What declarations are evaluated on."""
        return self.gather()

    def has(self, name: str) -> bool:
        """Tell whether a symbol has a value on this side."""
        return name in self.inputs.values


def derive(
    estimates: Estimates,
    fitted: Mapping[str, Mapping[str, Fitted]] | None = None,
    asked: Collection[str] | None = None,
) -> TraitTable:
    """Derive every trait the estimates allow.

    A trait with sided readings takes them all from one side: the left, or the right where the
    left does not suffice. Where an angle is both read directly and derived, the less uncertain of
    the two is taken and a disagreement is noted.

    Parameters
    ----------
    fitted : mapping of side to mapping of measurement to Fitted, optional
        Measurements as a figure fitted to all readings gives them; they come before the readings.
    asked : collection of str, optional
        Traits to derive; of the others only those whose readings cannot belong together are told,
        which takes a small part of the time. All, where it is left out.
    """
    sides = _sides(estimates, fitted or {})
    known: dict[str, TraitEstimate] = {}
    needs: dict[str, tuple[str, ...]] = {}
    faults: dict[str, str] = {}
    for key, declared in traits().items():
        is_asked = asked is None or key in asked
        if is_asked:
            results = (_best(declared, side) for side in sides)
            result = next((one for one in results if one is not None), None)
            if result is not None:
                known[key] = result
                continue
        elif any(_is_possible(declared, side) for side in sides):
            continue
        fault = next((side.faults[key] for side in sides if key in side.faults), "")
        if fault:
            faults[key] = fault
        if is_asked:
            needs[key] = () if fault else _needs(declared, sides[0])
    return TraitTable(known, needs, faults, _input_uncertainties(estimates))


def _sides(estimates: Estimates, fitted: Mapping[str, Mapping[str, Fitted]]) -> tuple[_Side, ...]:
    """Return the left side, and the right where it has readings of its own."""
    names = ["left"] + ["right"] * any(side == "right" for _, side in estimates)
    return tuple(_Side(partial(inputs_of, estimates, name, fitted.get(name))) for name in names)


def _input_uncertainties(estimates: Estimates) -> dict[Key, float]:
    inputs = {key: estimate.uncertainty for key, estimate in estimates.items()}
    inputs.update({(a.key, ""): a.uncertainty for a in catalogue().assumptions.values()})
    return inputs


def _best(declared: Trait, side: _Side) -> TraitEstimate | None:
    """Return the least uncertain result for a trait on one side; None where readings lack."""
    if declared.key not in side.found:
        results = [r for r in (_try(declared, route, side) for route in _routes(declared, side))
                   if r is not None]  # fmt: skip
        if not results:
            return None
        results.sort(key=lambda result: result.uncertainty)
        side.found[declared.key] = _noted(results)
    return side.found[declared.key]


def _routes(declared: Trait, side: _Side) -> list[_Route]:
    routes = []
    if declared.direct and side.has(declared.key):
        routes.append(_Route(sympy.Symbol(declared.key), direct=True))
    expression = _expanded(declared, side)
    if all(side.has(name) for name in symbols_of(expression)):
        routes.append(_Route(expression, direct=declared.source == "as read"))
    return routes


def _expanded(declared: Trait, side: _Side) -> sympy.Expr:
    """Write a declaration in inputs only, other traits by their best route."""
    replaced = []
    for name in _inner(declared.key):
        best = _best(traits()[name], side)
        taken_directly = best is not None and best.method == DIRECT
        if not taken_directly:
            replaced.append((name, _expanded(traits()[name], side)))
    return _substituted(declared.expression, tuple(replaced))


@cache
def _inner(key: str) -> tuple[str, ...]:
    """Name the other traits a declaration is written in."""
    names = sorted(symbol.name for symbol in traits()[key].expression.free_symbols)
    return tuple(name for name in names if name in traits() and name != key)


@lru_cache(maxsize=1024)
def _substituted(
    expression: sympy.Expr, replaced: tuple[tuple[str, sympy.Expr], ...]
) -> sympy.Expr:
    values = {sympy.Symbol(name): inner for name, inner in replaced}
    return expression.subs({RIGHT_ANGLE: sympy.pi / 2, **values})


def _try(declared: Trait, route: _Route, side: _Side) -> TraitEstimate | None:
    try:
        return _estimate(declared, route, side)
    except GeometryError:
        side.faults[declared.key] = str(_impossible(declared, route, side))
    except EstimationError as fault:
        side.faults[declared.key] = f"{declared.title}: {fault}"
    return None


def _impossible(declared: Trait, route: _Route, side: _Side) -> GeometryError:
    names = compile_model(route.expression).names
    as_read = side.inputs.point_as_read(names) or side.inputs.point(names)
    shown = [
        f"{name} {with_unit(as_read[name] * scale_of(name), kind_of(name))}"
        for name in names
        if name not in catalogue().assumptions
    ]
    closing = "cannot close a triangle" if declared.expression.has(sympy.acos) else "cannot meet"
    return GeometryError(
        f"{declared.title} cannot be derived: these readings {closing}",
        given=", ".join(shown),
        do="read these again",
    )


def _is_possible(declared: Trait, side: _Side) -> bool:
    """Tell whether any route to a trait has readings that can belong together; note a fault."""
    for route in _routes(declared, side):
        try:
            _evaluated(route, side)
        except GeometryError:
            side.faults[declared.key] = str(_impossible(declared, route, side))
        else:
            return True
    return False


def _evaluated(route: _Route, side: _Side) -> tuple[float, dict[str, float]]:
    names = compile_model(route.expression).names
    found = evaluate(route.expression, side.inputs.point(names))
    if not side.inputs.fitted.isdisjoint(names):
        _check_as_read(route.expression, side.inputs.point_as_read(names))
    return found


def _estimate(declared: Trait, route: _Route, side: _Side) -> TraitEstimate:
    names = compile_model(route.expression).names
    value, slopes = _evaluated(route, side)
    scale = DEGREES if declared.kind is Kind.ANGLE else 1.0
    along, uncertainty, dof = side.inputs.carried(slopes, scale)
    reach = _coverage_factor(dof) * uncertainty
    linear = TraitEstimate(
        trait=declared,
        value=value * scale,
        uncertainty=uncertainty,
        dof=dof,
        low95=value * scale - reach,
        high95=value * scale + reach,
        method=DIRECT if route.direct else LINEAR,
        side=side.inputs.side if side.inputs.is_sided(along) else "",
        along=along,
        inputs=side.inputs,
        fitted=not side.inputs.fitted.isdisjoint(names),
    )
    return linear if _trusted(route, value, slopes, side) else _simulated(linear, route, side)


def _check_as_read(expression: sympy.Expr, point: Mapping[str, float]) -> None:
    """Raise GeometryError where the readings themselves are impossible: a fit must not hide it."""
    if not point:
        return
    model, inputs = compile_model(expression), list(point.values())
    # The second asks for the value alone: on a straight joint only a derivative is infinite.
    if not (math.isfinite(model.point(inputs)[0]) or math.isfinite(model.value(inputs))):
        raise GeometryError("these readings cannot belong together")


def _coverage_factor(dof: float, coverage: float = 0.95) -> float:
    """Two-sided factor: Student's t, or the normal where `dof` is infinite (JCGM 100, G.3)."""
    upper = (1.0 + coverage) / 2.0
    return float(special.ndtri(upper) if math.isinf(dof) else special.stdtrit(dof, upper))


def _trusted(route: _Route, value: float, slopes: Mapping[str, float], side: _Side) -> bool:
    model = compile_model(route.expression)
    return model.is_linear or is_linear_enough(
        model,
        [*side.inputs.point(model.names).values()],
        value,
        [slopes[name] for name in model.names],
        side.inputs.directions(model.names),
    )


def _simulated(linear: TraitEstimate, route: _Route, side: _Side) -> TraitEstimate:
    scale = DEGREES if linear.trait.kind is Kind.ANGLE else 1.0
    names = compile_model(route.expression).names
    raw = evaluate_draws(route.expression, {name: side.inputs.draw(name) for name in names})
    drawn = Simulation(raw.draws * scale, raw.impossible)
    low, high = drawn.interval()
    return replace(
        linear,
        uncertainty=drawn.uncertainty,
        dof=math.inf,
        low95=low,
        high95=high,
        method=MONTE_CARLO,
        simulation=drawn,
        note=_impossible_note(drawn.impossible, linear.trait),
    )


def _impossible_note(part: float, declared: Trait) -> str:
    if part < 0.01:
        return ""
    why = "the angle is nearly straight" if declared.expression.has(sympy.acos) else (
        "the readings hardly bear this figure"
    )  # fmt: skip
    said = f"{100 * part:.0f} % of what these readings allow cannot be a dog"
    return f"{said}, and the limits hold for the rest; {why}"


def _noted(results: Sequence[TraitEstimate]) -> TraitEstimate:
    """Return the first result, with a note where the second disagrees with it."""
    taken = results[0]
    if len(results) == 1:
        return taken
    other = results[1]
    apart = abs(taken.value - other.value)
    if apart <= 2.0 * math.hypot(taken.uncertainty, other.uncertainty):
        return taken
    kind = taken.trait.kind
    shown = [with_unit(one.value, kind, one.uncertainty) for one in (taken, other)]
    note = f"{shown[0]} ({taken.method}) and {shown[1]} ({other.method}) disagree: read again"
    return replace(taken, note=note)


def _needs(declared: Trait, side: _Side) -> tuple[str, ...]:
    """Name the measurements that are still needed, in catalogue order."""
    names = symbols_of(_expanded(declared, side))
    return tuple(key for key in catalogue().measurements if key in names and not side.has(key))
