"""Every figure of movement, declared once: number, uncertainty, LaTeX and dimension follow."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

import sympy
from numpy.typing import ArrayLike

from kit.movement.figure import ONE_KILOGRAM, ONE_SECOND, UNITS, GaitFigure
from kit.protocol.catalogue import did_you_mean
from kit.quantities.errors import DataFileError

GRAVITY = 9.81  # m/s²
GRAVITY_UNCERTAINTY = 0.015  # m/s²; between equator and pole it is 9.780 to 9.832

_distance, _time, _strides = sympy.symbols("distance time strides")
_hip_height, _gravity, _mass = sympy.symbols("hip_height gravity mass")
_stance_time, _stride_time = sympy.symbols("stance_time stride_time")
_airborne, _on_diagonal = sympy.symbols("airborne_time diagonal_time")
_left, _right, _toeing = sympy.symbols("left right toeing")
_track, _at_walk, _at_trot = sympy.symbols("track_width track_at_walk track_at_trot")
_stance = sympy.Symbol("stance_width")
_speed, _froude = sympy.symbols("speed froude_number")
_stride, _frequency = sympy.symbols("stride_length stride_frequency")
_relative, _expected = sympy.symbols("relative_stride_length expected_relative_stride")

ALEXANDER = "Alexander RM 1976, Nature 261:129-130"
ALEXANDER_JAYES = "Alexander RM, Jayes AS 1983, J Zool 201:135-152"
MAMMALS = "Scientific Reports 2016, srep28825, figure 2"
PLAIN = "arithmetic (identity)"
SIMILAR = (
    "cursorial mammals above 5 kg, bodies of like build; an equal Froude number is needed for "
    "equal movement, it does not make it (Bullimore & Donelan 2008)"
)


def _power(tenths: str) -> sympy.Rational:
    """Return an exponent as the exact fraction it was printed as."""
    return sympy.Rational(tenths)


RUN = (
    GaitFigure("speed", "speed", "m / s", _distance / _time,
               "a known distance over the time it took", PLAIN, "identity"),
    GaitFigure("stride_length", "stride length", "m", _distance / _strides,
               "from one fall of a foot to the next of the same foot", PLAIN, "identity"),
    GaitFigure("stride_frequency", "strides a second", "1 / s", _strides / _time,
               "strides of one foot over the time they took", PLAIN, "identity"),
    GaitFigure("froude_number", "Froude number", "dimensionless",
               _speed**2 / (_gravity * _hip_height),
               "speed squared over gravity and hip height", ALEXANDER_JAYES, "found"),
    GaitFigure("dimensionless_speed", "speed for the size", "dimensionless",
               _speed / sympy.sqrt(_gravity * _hip_height),
               "the root of the Froude number", PLAIN, "identity"),
    GaitFigure("relative_stride_length", "stride for the height of the hip", "dimensionless",
               _stride / _hip_height, "stride length over hip height", PLAIN, "identity"),
    GaitFigure("relative_stride_frequency", "strides a second for the size", "dimensionless",
               _frequency * sympy.sqrt(_hip_height / _gravity),
               "stride frequency times the root of hip height over gravity", PLAIN, "identity"),
    GaitFigure("expected_relative_stride", "stride expected at this speed and size",
               "dimensionless", _power("2.3") * _froude ** _power("0.3"),
               "relative stride that bodies of like build take at this Froude number",
               ALEXANDER, "found", SIMILAR),
    GaitFigure("stride_ratio", "stride against what this speed and size lead one to expect",
               "dimensionless", _relative / _expected,
               "relative stride over the one expected at the same Froude number; below one means "
               "more steps than expected", ALEXANDER, "found", SIMILAR),
)  # fmt: skip

FOOTFALL = (
    GaitFigure("duty_factor", "part of the stride the foot is down", "dimensionless",
               _stance_time / _stride_time, "stance time over stride time", PLAIN, "identity"),
    GaitFigure("suspension", "part of the stride with no foot down", "dimensionless",
               _airborne / _stride_time, "time in the air over stride time", PLAIN, "identity"),
    GaitFigure("diagonal_support", "part of the stride on a diagonal pair alone", "dimensionless",
               _on_diagonal / _stride_time, "time on two diagonal feet over stride time", PLAIN,
               "identity"),
    GaitFigure("symmetry_index", "left against right", "percent",
               200 * (_left - _right) / (_left + _right),
               "difference of left and right in percent of their mean; above zero where the left "
               "is more",
               "Robinson 1987 and Budsberg 1993, signed form", "from memory"),
)  # fmt: skip

TRACK = (
    GaitFigure("track_to_stance", "track in movement against the stance", "dimensionless",
               _track / _stance, "distance between the tracks over that of the standing feet",
               PLAIN, "identity"),
    GaitFigure("convergence", "how far the track closes from walk to trot", "dimensionless",
               (_at_walk - _at_trot) / _stance,
               "track at the walk less track at the trot, over the stance", PLAIN, "identity"),
    GaitFigure("toeing", "turn of the foot in movement", "deg", _toeing,
               "from straight ahead as the foot is set down, out is above zero", "as read",
               "as read"),
)  # fmt: skip

PUBLISHED = (
    GaitFigure("speed_from_stride", "speed from a stride and the hip", "m / s",
               _power("0.25") * sympy.sqrt(_gravity) * _stride ** _power("1.67")
               * _hip_height ** _power("-1.17"),
               "the stride relation solved for speed", ALEXANDER, "found", SIMILAR),
    GaitFigure("walking_stride_cursorial", "walking stride of cursorial mammals", "dimensionless",
               _power("2.4") * _froude ** _power("0.34"), "relative stride by Froude number",
               ALEXANDER_JAYES, "from memory", SIMILAR),
    GaitFigure("running_stride_cursorial", "running stride of cursorial mammals", "dimensionless",
               _power("1.9") * _froude ** _power("0.40"), "relative stride by Froude number",
               ALEXANDER_JAYES, "from memory", SIMILAR),
    GaitFigure("preferred_duty_factor", "usual duty factor at the walk", "dimensionless",
               _power("0.62") * (_mass / ONE_KILOGRAM) ** _power("0.02"),
               "what mammals of this mass choose", MAMMALS, "found"),
    GaitFigure("preferred_stride_frequency", "usual strides a second at the walk", "1 / s",
               _power("1.62") / ONE_SECOND * (_mass / ONE_KILOGRAM) ** _power("-0.15"),
               "what mammals of this mass choose", MAMMALS, "found"),
    GaitFigure("preferred_stance_time", "usual stance time at the walk", "s",
               _power("0.38") * ONE_SECOND * (_mass / ONE_KILOGRAM) ** _power("0.17"),
               "what mammals of this mass choose", MAMMALS, "found"),
    GaitFigure("preferred_swing_time", "usual swing time at the walk", "s",
               _power("0.25") * ONE_SECOND * (_mass / ONE_KILOGRAM) ** _power("0.11"),
               "what mammals of this mass choose", MAMMALS, "found"),
)  # fmt: skip


@cache
def gait_figures() -> Mapping[str, GaitFigure]:
    """Return every figure by key."""
    every = RUN + FOOTFALL + TRACK + PUBLISHED
    return MappingProxyType({figure.key: figure for figure in every})


def gait_figure(key: str) -> GaitFigure:
    """Return one figure; an unknown key raises DataFileError with near names."""
    if key in gait_figures():
        return gait_figures()[key]
    raise DataFileError(
        f"no figure of movement is called '{key}'", "a figure of the kit", key,
        did_you_mean(key, gait_figures()),
    )  # fmt: skip


@cache
def expanded(key: str) -> sympy.Expr:
    """Return a declaration in inputs alone, other figures written out."""
    expression = gait_figure(key).expression
    for symbol in expression.free_symbols:
        if symbol.name in gait_figures() and symbol.name not in UNITS:
            expression = expression.subs(symbol, expanded(symbol.name))
    return expression


def units() -> dict[str, str]:
    """Return the unit of every input and figure."""
    return {**{key: figure.unit for key, figure in gait_figures().items()}, **UNITS}


def froude(speed: ArrayLike, hip_height: ArrayLike) -> Any:
    """Return the Froude number, speed² over gravity and hip height.

    Parameters
    ----------
    speed : float or array
        m/s, zero or more.
    hip_height : float or array
        m, above zero; broadcasts with `speed`.

    Raises
    ------
    EstimationError
        If a number is not finite, negative, or a hip height is zero.

    Source: Alexander & Jayes 1983, J Zool 201:135-152 (quoted); gravity taken as 9.81 m/s².
    """
    figure = gait_figure("froude_number")
    return figure.of(speed=speed, hip_height=hip_height, gravity=GRAVITY)


def relative_stride(froude: ArrayLike) -> Any:
    """Return the stride over hip height that like bodies take at a Froude number (float or array).

    Raises
    ------
    EstimationError
        If a number is not finite or negative.

    Source: Alexander 1976, Nature 261:129-130 (quoted): 2.3 Fr^0.3. Good for cursorial mammals,
    most above 5 kg.
    """
    return gait_figure("expected_relative_stride").of(froude_number=froude)


def symmetry_index(left: ArrayLike, right: ArrayLike) -> Any:
    """Return 200 (left − right) / (left + right), in percent; zero is even (float or array).

    Raises
    ------
    EstimationError
        If a number is not finite or negative, or both sides are zero.

    Source: signed form of Robinson 1987 and Budsberg 1993 (from memory).
    """
    import numpy as np

    from kit.quantities.errors import EstimationError

    if np.any(np.asarray(left, dtype=float) + np.asarray(right, dtype=float) == 0):
        raise EstimationError("no symmetry of nothing", "left or right above zero", "both are zero")
    return gait_figure("symmetry_index").of(left=left, right=right)
