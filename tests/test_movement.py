"""Figures of movement against published figures, identities and second opinions."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import uncertainties
from hypothesis import given, settings
from hypothesis import strategies as st
from published_tables import FOLDER, toml_rows

from kit.estimation.components import Component
from kit.movement import froude, relative_stride, symmetry_index
from kit.movement.assessment import movement_of
from kit.movement.body import Body
from kit.movement.estimate import GRAVITY_UNCERTAINTY, Measured, estimate, gravity, pooled
from kit.movement.figure import GaitFigure, check_dimension
from kit.movement.findings import movement_findings
from kit.movement.footfalls import (
    FEET,
    UNNAMED,
    Footfalls,
    NamedGait,
    duty_factor,
    name_gait,
    support,
    symmetry,
)
from kit.movement.gait import expanded, gait_figure, gait_figures, units
from kit.movement.observations import Observation, kept, movement_tables
from kit.quantities.errors import EstimationError, UnitError
from kit.standards.conformity import Levels, Outcome
from kit.standards.points import MOVEMENT_FIGURES

LEVELS = Levels()


@pytest.mark.parametrize("row", toml_rows("gait.toml"), ids=lambda row: row["id"])
def test_froude_number(row: dict[str, Any]) -> None:
    found = froude(row["speed"], row["hip_height"])
    # Half a unit of the last printed digit of the speed, carried to the Froude number.
    slack = 2 * row["froude"] * row["tolerance"] / np.array(row["speed"])
    assert np.all(np.abs(found - row["froude"]) <= slack)
    by_hand = np.sqrt(row["froude"] * 9.81 * np.array(row["hip_height"]))
    assert by_hand == pytest.approx(row["speed"], abs=row["tolerance"])


@pytest.mark.parametrize("row", toml_rows("gait.toml", "stride"), ids=lambda row: row["id"])
def test_relative_stride(row: dict[str, Any]) -> None:
    assert relative_stride(row["froude"]) == pytest.approx(row["expected"], abs=row["tolerance"])


@pytest.mark.parametrize("row", toml_rows("gait.toml", "figure"), ids=lambda row: row["id"])
def test_published_figure(row: dict[str, Any]) -> None:
    found = gait_figure(row["key"]).of(**row["inputs"])
    assert isinstance(found, float)
    assert found == pytest.approx(row["expected"], abs=row["tolerance"])


def _table(name: str) -> dict[str, Any]:
    import tomllib

    found: dict[str, Any] = tomllib.loads((FOLDER / "gait.toml").read_text(encoding="utf-8"))[name]
    return found


def test_two_published_accounts_of_the_change_of_gait_agree() -> None:
    """The Froude number of the change, through the stride relation, falls in the gait's band."""
    change = _table("change")
    assert relative_stride(change["walk_to_trot"]) <= change["walk_at_most"]
    low, high = relative_stride(change["trot_to_gallop"])
    assert low <= change["trot_at_most"] <= high


@pytest.mark.parametrize("key", gait_figures())
def test_dimension_and_latex(key: str) -> None:
    check_dimension(gait_figure(key), units())
    assert gait_figure(key).latex.startswith(r"\mathrm{")
    assert gait_figure(key).source


def test_a_wrong_dimension_is_found() -> None:
    wrong = GaitFigure("x", "x", "m / s", expanded("froude_number"), "x", "x", "identity")
    with pytest.raises(UnitError, match="a unit like m / s"):
        check_dimension(wrong, units())


sizes = st.floats(0.05, 20.0)


@settings(max_examples=60, deadline=None)
@given(sizes, st.floats(0.1, 10.0), st.floats(0.1, 3.0))
def test_bodies_that_move_alike_have_the_same_figures(
    k: float, speed: float, stride: float
) -> None:
    """Dynamic similarity: lengths times k, times times root k. Identity of dimensions."""
    small = {"distance": 10.0, "time": 10.0 / speed, "strides": 10.0 / stride, "hip_height": 0.4}
    large = {"distance": 10.0 * k, "time": 10.0 / speed * math.sqrt(k), "strides": 10.0 / stride,
             "hip_height": 0.4 * k}  # fmt: skip
    for key in ("froude_number", "relative_stride_length", "relative_stride_frequency",
                "stride_ratio"):  # fmt: skip
        ones, others = (_plain(key, inputs) for inputs in (small, large))
        assert others == pytest.approx(ones, rel=1e-9)


def _plain(key: str, inputs: dict[str, float]) -> float:
    return estimate(key, {name: Measured(value, ()) for name, value in inputs.items()}).value


@given(st.floats(0.01, 100.0), st.floats(0.01, 100.0), st.floats(0.1, 10.0))
def test_symmetry_index_identities(left: float, right: float, scale: float) -> None:
    index = symmetry_index(left, right)
    assert index == pytest.approx(-symmetry_index(right, left), abs=1e-9)
    assert index == pytest.approx(symmetry_index(left * scale, right * scale), abs=1e-9)
    assert abs(index) <= 200.0
    assert symmetry_index(left, left) == 0.0


def test_symmetry_index_of_arrays() -> None:
    assert symmetry_index([0.52, 0.5, 0.0], [0.48, 0.5, 1.0]) == pytest.approx([8.0, 0.0, -200.0])


@pytest.mark.parametrize("call", [
    lambda: froude(-1.0, 0.5), lambda: froude(1.0, 0.0), lambda: froude(1.0, float("nan")),
    lambda: froude([1.0, 2.0], [0.5, -0.1]), lambda: relative_stride(-0.1),
    lambda: symmetry_index(0.0, 0.0), lambda: symmetry_index(-1.0, 2.0),
    lambda: gait_figure("speed").of(distance=1.0),
])  # fmt: skip
def test_nonsense_is_refused(call: Any) -> None:
    with pytest.raises(EstimationError):
        call()


INPUTS = {"distance": (12.0, 0.05), "time": (6.4, 0.14), "strides": (18.0, 0.2),
          "hip_height": (0.34, 0.01)}  # fmt: skip


def _measured(inputs: dict[str, tuple[float, float]]) -> dict[str, Measured]:
    return {name: Measured(v, (Component("u", u),)) for name, (v, u) in inputs.items()}


def test_uncertainty_agrees_with_another_library() -> None:
    d, t, n, h = (uncertainties.ufloat(*INPUTS[name]) for name in INPUTS)
    g = uncertainties.ufloat(9.81, GRAVITY_UNCERTAINTY)
    number = (d / t) ** 2 / (g * h)
    expected = {
        "speed": d / t, "stride_length": d / n, "stride_frequency": n / t,
        "froude_number": number, "relative_stride_length": d / n / h,
        "stride_ratio": (d / n / h) / (2.3 * number**0.3),
    }  # fmt: skip
    for key, library in expected.items():
        known = estimate(key, _measured(INPUTS))
        assert known.value == pytest.approx(library.nominal_value, rel=1e-9)
        assert known.uncertainty == pytest.approx(library.std_dev, rel=1e-6), key


def test_a_missing_input_is_named() -> None:
    with pytest.raises(EstimationError, match="hip_height"):
        estimate("froude_number", _measured({k: v for k, v in INPUTS.items() if k != "hip_height"}))


def test_what_runs_share_does_not_average_out() -> None:
    only_hip = {**{k: (v, 0.0) for k, (v, _) in INPUTS.items()}, "hip_height": (0.34, 0.01)}
    only_time = {**{k: (v, 0.0) for k, (v, _) in INPUTS.items()}, "time": (6.4, 0.14)}
    for inputs, factor in ((only_hip, 1.0), (only_time, 0.5)):
        one = estimate("froude_number", {**_measured(inputs), "gravity": Measured(9.81, ())})
        mean = pooled([one] * 4)
        assert mean.uncertainty == pytest.approx(one.uncertainty * factor, rel=1e-9)
    scattered = [estimate("speed", _measured({**INPUTS, "time": (t, 0.01)})) for t in (5, 6, 7, 8)]
    spread = np.std([s.value for s in scattered], ddof=1) / 2
    assert pooled(scattered).uncertainty == pytest.approx(
        math.hypot(spread, pooled(scattered).parts["distance"]), rel=1e-6
    )


def test_gravity_lies_where_the_earth_has_it() -> None:
    # Normal gravity, GRS80: 9.7803 at the equator, 9.8322 at the poles (from memory).
    reach = 2.0 * gravity().uncertainty
    assert gravity().value - reach <= 9.7803 + 1e-3
    assert gravity().value + reach >= 9.8322


# Footfalls ------------------------------------------------------------------------------------

PHASES = {
    "trot": {"left_hind": 0.0, "right_fore": 0.0, "right_hind": 0.5, "left_fore": 0.5},
    "pace": {"left_hind": 0.0, "left_fore": 0.0, "right_hind": 0.5, "right_fore": 0.5},
    "walk": {"left_hind": 0.0, "left_fore": 0.25, "right_hind": 0.5, "right_fore": 0.75},
    "canter or gallop": {"left_hind": 0.0, "right_hind": 0.15, "left_fore": 0.45,
                         "right_fore": 0.65},
}  # fmt: skip


def built(phases: dict[str, float], duty: float, period: float = 0.5, strides: int = 4,
          error: float = 0.004) -> Footfalls:  # fmt: skip
    return Footfalls(
        {foot: tuple(((n + phases[foot]) * period, (n + phases[foot] + duty) * period)
                     for n in range(strides)) for foot in FEET},
        error,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("name", "duty"),
    [("trot", 0.44), ("trot", 0.55), ("pace", 0.45), ("walk", 0.62), ("canter or gallop", 0.35)],
)
def test_a_gait_is_named_by_its_footfalls(name: str, duty: float) -> None:
    # Hildebrand's diagram of symmetrical gaits (from memory).
    assert name_gait(built(PHASES[name], duty), LEVELS).name == name


def test_the_name_does_not_depend_on_when_the_film_starts() -> None:
    late = {foot: (phase + 0.37) % 1.0 for foot, phase in PHASES["walk"].items()}
    assert name_gait(built(late, 0.62), LEVELS).name == "walk"


def test_between_two_gaits_nothing_is_named() -> None:
    edge = {"left_hind": 0.0, "left_fore": 0.375, "right_hind": 0.5, "right_fore": 0.875}
    gait = name_gait(built(edge, 0.45, error=0.008), LEVELS)
    assert gait.name == UNNAMED
    assert {name for name, _ in gait.others[:2]} == {"trot", "amble"}


@pytest.mark.parametrize("row", toml_rows("gait.toml", "trot"), ids=lambda row: row["id"])
def test_support_of_a_published_trot(row: dict[str, Any]) -> None:
    """In a two-beat trot support is twice the duty factor; the published parts agree with it."""
    assert row["diagonal_support"] + row["suspension"] == pytest.approx(1.0)
    duty = row["diagonal_support"] / 2
    feet = built(PHASES["trot"], duty)
    suspension, diagonal = support(feet)
    assert abs(suspension.value - row["suspension"]) <= row["suspension_spread"]
    assert abs(diagonal.value - row["diagonal_support"]) <= row["diagonal_spread"]
    assert duty_factor(feet, FEET).value == pytest.approx(duty, abs=1e-9)
    if "fore_stance" in row:
        assert abs(duty - row["fore_stance"]) <= row["fore_spread"]


def test_an_uneven_stance_is_found_with_its_error() -> None:
    feet = built(PHASES["trot"], 0.44)
    longer = {**feet.steps, "left_fore": tuple((d, u + 0.03) for d, u in feet.steps["left_fore"])}
    index = symmetry(Footfalls(longer, 0.004), "fore")
    assert index.value == pytest.approx(symmetry_index(0.25, 0.22), abs=1e-9)
    # Two stances of four steps, two events each: u(left) = u(right) = 0.004 sqrt(2 / 4).
    u = 0.004 * math.sqrt(2 / 4)
    by_hand = 400 / 0.47**2 * math.hypot(0.22 * u, 0.25 * u)
    assert index.uncertainty == pytest.approx(by_hand, rel=0.05)
    assert index.low95 > 0
    even = symmetry(feet, "hind")
    assert even.low95 < 0 < even.high95


def test_footfalls_out_of_order_are_refused() -> None:
    good = dict(built(PHASES["trot"], 0.44).steps)
    with pytest.raises(EstimationError, match="out of order"):
        Footfalls({**good, "left_fore": ((0.3, 0.2), (0.5, 0.7))}, 0.004)
    with pytest.raises(EstimationError, match="too few of left fore"):
        Footfalls({**good, "left_fore": ((0.1, 0.2),)}, 0.004)


# A whole dog ----------------------------------------------------------------------------------


def body(mass: float | None = 12.0, hip: float = 0.34) -> Body:
    weight = None if mass is None else Measured(mass, (Component("u", 0.1),))
    return Body(Measured(hip, (Component("u", 0.01),)), "as read", weight,
                {"front": Measured(0.14, (Component("u", 0.005),))})  # fmt: skip


def run(
    speed: float, stride: float, pace: str = "trot", distance: float = 12.0
) -> list[Observation]:
    return [
        Observation("Dog", "distance", distance, "1", pace),
        Observation("Dog", "time", distance / speed, "1", pace),
        Observation("Dog", "strides", distance / stride, "1", pace),
    ]


def similarity(observations: list[Observation], of: Body) -> tuple[Outcome, str]:
    found = movement_findings(movement_of("Dog", observations, of), (), LEVELS)
    return found[0].outcome, found[0].reason


def test_too_many_steps_is_a_finding_against_dynamic_similarity() -> None:
    expected = float(relative_stride(froude(2.0, 0.34))) * 0.34
    assert similarity(run(2.0, expected), body())[0] is Outcome.WITHIN
    assert similarity(run(2.0, expected * 0.6), body())[0] is Outcome.BELOW
    assert similarity(run(2.0, expected * 1.6), body())[0] is Outcome.ABOVE


def test_similarity_is_not_asked_where_it_does_not_hold() -> None:
    steps = run(2.0, 0.5)
    for mass, words in ((4.0, "too light"), (None, "weight was not taken")):
        outcome, reason = similarity(steps, body(mass))
        assert outcome is Outcome.NOT_COMPARABLE
        assert words in reason


@pytest.mark.parametrize("row", toml_rows("gait.toml", "trot"), ids=lambda row: row["id"])
def test_published_dogs_are_not_told_they_take_too_many_steps(row: dict[str, Any]) -> None:
    """Sound trotting Weimaraners; their hips guessed from the breed's height (an assumption)."""
    part = movement_tables().table("hip").number("of_withers")
    speed, withers = np.mean(row["speed"]), np.mean(_table("weimaraner")["withers"])
    observations = run(float(speed), float(speed) / row["frequency"], distance=20.0)
    outcome, _ = similarity(observations, body(28.0, float(part * withers)))
    assert outcome not in {Outcome.BELOW, Outcome.PROBABLY_BELOW, Outcome.ABOVE}


def test_no_gait_is_named_without_footfalls() -> None:
    movement = movement_of("Dog", run(2.0, 0.8), body())
    assert all(not pace.footwork for pace in movement.paces.values())


def filmed(rate: float) -> list[Observation]:
    found = [Observation("Dog", "frame_rate", rate, "1", "walk")]
    for foot, steps in built(PHASES["trot"], 0.44).steps.items():
        for down, up in steps:
            found.append(Observation("Dog", "foot_down", down * rate, "1", "walk", foot))
            found.append(Observation("Dog", "foot_up", up * rate, "1", "walk", foot))
    return found


def test_footfalls_name_the_gait_whatever_was_asked_for() -> None:
    movement = movement_of("Dog", filmed(240.0), body())
    gait = movement.paces["walk"].footwork[0].gait
    assert isinstance(gait, NamedGait)
    assert gait.name == "trot"


def test_a_film_and_a_stopwatch_tell_the_same_speed() -> None:
    film = [Observation("Dog", "distance", 12.0, "1", "trot"),
            Observation("Dog", "frames", 720.0, "1", "trot"),
            Observation("Dog", "frame_rate", 120.0, "1", "trot")]  # fmt: skip
    speeds = [movement_of("Dog", o, body()).paces["trot"].figures["speed"]
              for o in (film, run(2.0, 0.8))]  # fmt: skip
    assert speeds[0].value == pytest.approx(2.0)
    assert speeds[0].value == pytest.approx(speeds[1].value)
    assert speeds[0].uncertainty < speeds[1].uncertainty


def test_what_cannot_be_worked_out_is_named() -> None:
    lonely = [Observation("Dog", "front_track", 0.08, pace="trot"),
              Observation("Dog", "distance", 12.0, "1", "trot")]  # fmt: skip
    movement = movement_of("Dog", lonely, Body(None, "nothing was measured", None, {}))
    text = " ".join(movement.left_out)
    for words in ("nothing is normalised", "spread was not measured", "no time", "no strides"):
        assert words in text


def test_tracks_against_the_stance() -> None:
    tracks = [Observation("Dog", "front_track", width, pace=pace)
              for pace, width in (("walk", 0.12), ("trot", 0.07))]  # fmt: skip
    found = movement_of("Dog", tracks, body()).tracks
    assert found["front_track_to_stance"].value == pytest.approx(0.5)
    assert found["front_convergence"].value == pytest.approx((12 - 7) / 14)
    error = kept()["front_track"].error
    by_hand = math.hypot(error / 0.14, 0.07 * 0.005 / 0.14**2)
    assert found["front_track_to_stance"].uncertainty == pytest.approx(by_hand, rel=1e-9)


def test_a_standard_can_ask_every_figure_of_the_tracks() -> None:
    every = [Observation("Dog", what, value, pace=pace)
             for end in ("front", "rear")
             for what, value in ((f"{end}_track", 0.1), (f"{end}_toeing", 3.0))
             for pace in ("walk", "trot")]  # fmt: skip
    both = body()
    whole = Body(both.hip_height, "", both.mass, {**both.stance, "rear": both.stance["front"]})
    assert set(movement_of("Dog", every, whole).tracks) == set(MOVEMENT_FIGURES)
