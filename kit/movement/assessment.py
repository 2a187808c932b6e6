"""One dog in movement: from what was written down to figures and findings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from kit.estimation.components import Component
from kit.movement.body import Body, hip_as_read
from kit.movement.estimate import GaitEstimate, Measured, estimate, pooled
from kit.movement.footfalls import Footfalls, NamedGait, duty_factor, name_gait, support, symmetry
from kit.movement.observations import FEET, Observation, kept
from kit.quantities.errors import EstimationError, KitError
from kit.standards.conformity import Levels

RUN_FIGURES = ("speed", "stride_length", "stride_frequency")
SIZED_FIGURES = ("froude_number", "relative_stride_length", "relative_stride_frequency",
                 "expected_relative_stride", "stride_ratio")  # fmt: skip


@dataclass(frozen=True)
class Footwork:
    """What the footfalls of one run tell: the gait's name, duty factors, symmetry, support."""

    run: str
    gait: NamedGait
    strides: int
    figures: Mapping[str, GaitEstimate]
    feet: Footfalls


@dataclass(frozen=True)
class Pace:
    """One dog at one pace, as the handler was asked: ``walk``, ``trot`` or empty.

    Attributes
    ----------
    figures : mapping of key to GaitEstimate
        The means over the runs.
    by_run : mapping of run to mapping of key to GaitEstimate
    footwork : tuple of Footwork
        Of the runs whose footfalls were given; only these name a gait.
    """

    pace: str
    figures: Mapping[str, GaitEstimate]
    by_run: Mapping[str, Mapping[str, GaitEstimate]]
    footwork: tuple[Footwork, ...]


@dataclass(frozen=True)
class Movement:
    """Everything worked out for one dog in movement.

    Attributes
    ----------
    tracks : mapping of key to GaitEstimate
        Of MOVEMENT_FIGURES: tracks against the stance, convergence, toeing.
    widths : mapping of ``front`` and ``rear`` to mapping of pace to Measured
        The tracks themselves, in m.
    left_out : tuple of str
        What could not be worked out, and why.
    """

    dog: str
    body: Body
    paces: Mapping[str, Pace]
    tracks: Mapping[str, GaitEstimate]
    widths: Mapping[str, Mapping[str, Measured]]
    left_out: tuple[str, ...]


def movement_of(
    dog: str, observations: Sequence[Observation], body: Body, levels: Levels | None = None
) -> Movement:
    """Work out everything the observations of one dog allow; what they do not is named."""
    own = [one for one in observations if one.dog == dog]
    left_out: list[str] = []
    hips = [one.value for one in own if one.what == "hip_height"]
    if hips:
        body = replace(body, hip_height=hip_as_read(sum(hips) / len(hips)), hip_origin="as read")
    body = replace(body, stance={**body.stance, **_stance(own)})
    if body.hip_height is None and own:
        left_out.append(f"nothing is normalised to the dog’s size: {body.hip_origin}")
    paces = {
        pace: _pace(
            pace, [one for one in own if one.pace == pace], body, levels or Levels(), left_out
        )
        for pace in dict.fromkeys(one.pace for one in own if one.run)
    }
    widths = _widths(own)
    tracks = _tracks(own, body, widths, left_out)
    return Movement(dog, body, paces, tracks, widths, tuple(left_out))


def _stance(entries: Sequence[Observation]) -> dict[str, Measured]:
    """Return the standing spreads written down beside the movement."""
    read = {end: _mean(entries, f"{end}_foot_spread") for end in ("front", "rear")}
    return {end: one for end, one in read.items() if one}


def _pace(
    pace: str, entries: Sequence[Observation], body: Body, levels: Levels, left_out: list[str]
) -> Pace:
    by_run, footwork = {}, []
    for run in dict.fromkeys(one.run for one in entries if one.run):
        own = [one for one in entries if one.run == run]
        by_run[run] = _run(run, own, body, left_out)
        if any(one.what.startswith("foot_") for one in own):
            try:
                footwork.append(_footwork(run, own, levels))
            except KitError as fault:
                left_out.append(f"run {run}: {fault}")
    keys = dict.fromkeys(key for figures in by_run.values() for key in figures)
    means = {key: pooled([f[key] for f in by_run.values() if key in f]) for key in keys}
    return Pace(pace, means, by_run, tuple(footwork))


def _run(
    run: str, entries: Sequence[Observation], body: Body, left_out: list[str]
) -> dict[str, GaitEstimate]:
    inputs = {key: one for key in ("distance", "strides") if (one := _mean(entries, key))}
    timed = _duration(entries)
    if timed is not None:
        inputs["time"] = timed
    if body.hip_height is not None:
        inputs["hip_height"] = body.hip_height
    if not inputs.keys() & {"distance", "strides", "time"}:
        return {}
    found = {}
    for key in RUN_FIGURES + (SIZED_FIGURES if body.hip_height else ()):
        try:
            found[key] = estimate(key, inputs)
        except EstimationError as fault:
            left_out.append(f"run {run}: {fault.what}: {fault.given}")
    return found


def _mean(entries: Sequence[Observation], what: str) -> Measured | None:
    values = [one.value for one in entries if one.what == what]
    if not values:
        return None
    error = kept()[what].error / math.sqrt(len(values))
    return Measured(sum(values) / len(values), (Component("entry", error),))


def _duration(entries: Sequence[Observation]) -> Measured | None:
    """Return the time of a run: by stopwatch, or from frames and the camera's rate."""
    watch = _mean(entries, "time")
    frames, rate = _mean(entries, "frames"), _mean(entries, "frame_rate")
    if frames is None or rate is None:
        return watch
    value = frames.value / rate.value
    counted = Component("frames", frames.uncertainty / rate.value)
    camera = Component("camera", value * rate.uncertainty / rate.value)
    return Measured(value, (counted, camera))


def _footwork(run: str, entries: Sequence[Observation], levels: Levels) -> Footwork:
    feet = footfalls_of(entries)
    suspension, diagonal = support(feet)
    figures = {
        "duty_factor_fore": duty_factor(feet, FEET[:2]),
        "duty_factor_hind": duty_factor(feet, FEET[2:]),
        "symmetry_fore": symmetry(feet, "fore"),
        "symmetry_hind": symmetry(feet, "hind"),
        "suspension": suspension,
        "diagonal_support": diagonal,
    }
    strides = min(len(steps) for steps in feet.steps.values()) - 1
    return Footwork(run, name_gait(feet, levels), strides, figures, feet)


def footfalls_of(entries: Sequence[Observation]) -> Footfalls:
    """Gather the footfalls of one run.

    Raises
    ------
    EstimationError
        If the frame rate is missing, or downs and ups do not pair.
    """
    rate = _mean(entries, "frame_rate")
    falls = [one for one in entries if one.what in {"foot_down", "foot_up"}]
    if rate is None:
        raise EstimationError("footfalls cannot be timed", "the camera's frames a second",
                              "nothing", "add a row frame_rate")  # fmt: skip
    steps = {foot: _steps(foot, falls, rate.value) for foot in FEET}
    return Footfalls(steps, kept()["foot_down"].error / rate.value)


def _steps(foot: str, falls: Sequence[Observation], rate: float) -> tuple[tuple[float, float], ...]:
    downs, ups = (
        sorted(one.value / (1.0 if one.in_seconds else rate)
               for one in falls if one.foot == foot and one.what == what)
        for what in ("foot_down", "foot_up")
    )  # fmt: skip
    if len(downs) != len(ups):
        raise EstimationError(
            f"the footfalls of the {foot.replace('_', ' ')} do not pair",
            "as many ups as downs",
            f"{len(downs)} down, {len(ups)} up",
        )
    return tuple(zip(downs, ups, strict=True))


def _widths(entries: Sequence[Observation]) -> dict[str, dict[str, Measured]]:
    found: dict[str, dict[str, Measured]] = {"front": {}, "rear": {}}
    for end, tracks in found.items():
        for pace in ("walk", "trot"):
            one = _mean([entry for entry in entries if entry.pace == pace], f"{end}_track")
            if one is not None:
                tracks[pace] = one
    return found


def _tracks(
    entries: Sequence[Observation],
    body: Body,
    widths: Mapping[str, Mapping[str, Measured]],
    left_out: list[str],
) -> dict[str, GaitEstimate]:
    found: dict[str, GaitEstimate] = {}
    for end, tracks in widths.items():
        stance = body.stance.get(end)
        if tracks and stance is None:
            left_out.append(f"track of the {end} feet: their spread was not measured standing")
        if stance is not None:
            found |= _against_stance(end, tracks, stance)
        toeing = _mean([one for one in entries if one.pace == "trot"], f"{end}_toeing")
        if toeing is not None:
            found[f"{end}_toeing"] = estimate("toeing", {"toeing": toeing})
    return found


def _against_stance(
    end: str, tracks: Mapping[str, Measured], stance: Measured
) -> dict[str, GaitEstimate]:
    found: dict[str, GaitEstimate] = {}
    if "trot" in tracks:
        inputs = {"track_width": tracks["trot"], "stance_width": stance}
        found[f"{end}_track_to_stance"] = estimate("track_to_stance", inputs)
    if {"walk", "trot"} <= tracks.keys():
        inputs = {"track_at_walk": tracks["walk"], "track_at_trot": tracks["trot"],
                  "stance_width": stance}  # fmt: skip
        found[f"{end}_convergence"] = estimate("convergence", inputs)
    return found
