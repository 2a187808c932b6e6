"""The placed figure: it reads back what went in, stays a dog, and refuses nonsense."""

from math import cos, degrees, hypot, isclose, radians, sqrt
from time import perf_counter

import numpy as np
import pytest
from scipy.optimize import approx_fprime

from kit.figure.observations import observations, reading_at
from kit.figure.placement import DEFAULT_HEIGHT, _linear, _sights, place, scales
from kit.figure.residuals import Residuals
from kit.figure.template import read_template, template
from kit.protocol.catalogue import catalogue
from kit.quantities.errors import DataFileError, GeometryError

LENGTH_KINDS = ("vertical", "straight", "horizontal", "skin")


def readings_of(points, scale=1.0):
    return {
        key: reading_at(seen, points) * (scale if seen.kind in LENGTH_KINDS else 1.0)
        for key, seen in observations().items()
    }


def crooked_points(seed, spread=0.02):
    rng = np.random.default_rng(seed)
    steady = set(template().floor)
    return {
        key: at if key in steady else (at[0] + rng.normal(0, spread), at[1] + rng.normal(0, spread))
        for key, at in template().points.items()
    }


def test_the_template_has_every_landmark_of_the_catalogue():
    assert set(template().landmarks) == set(catalogue().landmarks)


def test_every_length_and_angle_of_the_side_view_is_placed():
    side = {
        key
        for key, one in catalogue().measurements.items()
        if (one.direction == "vertical")
        or (one.direction == "straight")
        or (one.direction == "angle" and one.landmarks)
    }
    assert side <= set(observations())


def test_template_angles_obey_the_identities_of_printed_angles():
    # Identity (mathematics): shoulder = blade slope + upper arm slope, elbow = 90 + upper arm
    # slope with a vertical forearm, stifle = thigh slope + second thigh slope, hock = 90 + second
    # thigh slope with a vertical rear pastern.
    at = template().points
    read = {key: reading_at(seen, at) for key, seen in observations().items()}
    assert isclose(read["shoulder_angle"], read["blade_slope"] + read["upper_arm_slope"])
    assert isclose(read["elbow_angle"], 90 + read["upper_arm_slope"], abs_tol=1e-9)
    assert isclose(read["blade_slope"] + read["blade_layback"], 90)
    fall = at["stifle"][1] - at["hock_joint"][1]
    second = degrees(np.arcsin(fall / read["second_thigh_length"]))
    assert isclose(read["hock_angle"], 90 + second, abs_tol=1e-9)


@pytest.mark.parametrize(
    ("key", "low", "high"),
    [
        ("shoulder_angle", 105, 115),
        ("croup_slope", 20, 25),
        ("hip_angle", 100, 112),
        ("stifle_angle", 128, 136),
        ("hock_angle", 136, 145),
        ("blade_slope", 55, 60),
    ],
)
def test_template_angles_are_moderate(key, low, high):
    # Common practice (no source): what the trade calls moderate angulation.
    assert low <= reading_at(observations()[key], template().points) <= high


@pytest.mark.parametrize("seed", range(20))
def test_a_consistent_dog_is_read_back(seed):
    points = crooked_points(seed)
    readings = readings_of(points, 48.0)
    figure = place(readings)
    for key, seen in observations().items():
        tolerance = 0.012 * 48 if seen.kind in LENGTH_KINDS else 3.0
        if seen.kind != "skin":
            assert abs(reading_at(seen, figure.points) - readings[key]) < tolerance, key


def test_the_triangle_of_a_scaled_template_is_found_from_lengths_alone():
    # Cosine rule: blade 15.5, upper arm 13.5 and their span give the angle, whatever the rest.
    span = sqrt(15.5**2 + 13.5**2 - 2 * 15.5 * 13.5 * cos(radians(118)))
    figure = place({"blade_length": 15.5, "upper_arm_length": 13.5, "blade_top_to_elbow": span})
    assert abs(reading_at(observations()["shoulder_angle"], figure.points) - 118) < 2.0


def test_nothing_measured_is_the_template_at_its_default_height():
    figure = place({})
    assert figure.measured == frozenset()
    for key, at in template().points.items():
        assert np.allclose(figure[key], np.multiply(at, DEFAULT_HEIGHT), atol=1e-6), key


@pytest.mark.parametrize("factor", [0.2, 0.9, 3.7])
def test_scaling_every_length_scales_the_figure(factor):
    some = ("height_at_withers", "body_length_from_prosternum", "height_at_elbow", "head_length")
    readings = {key: readings_of(crooked_points(3), 50.0)[key] for key in some}
    one, other = place(readings), place({key: factor * value for key, value in readings.items()})
    for key in template().points:
        assert np.allclose(np.multiply(one[key], factor), other[key], atol=1e-4 * factor * 50)


@pytest.mark.parametrize("seed", range(40))
def test_no_subset_of_readings_turns_a_joint_inside_out(seed):
    rng = np.random.default_rng(seed)
    full = readings_of(crooked_points(seed, 0.015), rng.uniform(18, 80))
    figure = place({key: value for key, value in full.items() if rng.uniform() < 0.3})
    joints = [seen.points for seen in observations().values() if seen.kind == "angle"]
    for first, vertex, last in joints:
        assert (
            _turn(figure, first, vertex, last) * _turn(template().points, first, vertex, last) > 0
        )
    assert figure["nose"][0] > figure["withers"][0] > figure["set_on"][0] > figure["tail_tip"][0]


def _turn(points, first, vertex, last):
    a, b = np.subtract(points[first], points[vertex]), np.subtract(points[last], points[vertex])
    return a[0] * b[1] - a[1] * b[0]


def test_the_jacobian_agrees_with_differences():
    readings = readings_of(crooked_points(5), 45.0)
    names, scale = tuple(template().points), scales(readings)
    problem = Residuals.build(
        names, _sights(readings, scale, names), *_linear(scale, names), scale.size
    )
    at = problem.linear_start() + np.random.default_rng(1).normal(0, 0.3, 2 * len(names))
    rough = approx_fprime(at, problem.values, 1e-6)
    assert np.allclose(problem.jacobian(at), rough, atol=2e-3, rtol=1e-4)


def test_placing_is_quick_enough_for_a_live_panel():
    readings = readings_of(crooked_points(7), 45.0)
    place(readings)
    times = []
    for _ in range(5):
        begun = perf_counter()
        place(readings)
        times.append(perf_counter() - begun)
    assert min(times) < 0.030


def test_a_misread_tape_bends_the_figure_but_does_not_break_it():
    readings = readings_of(template().points, 45.0) | {"blade_top_to_elbow": 90.0}
    figure = place(readings)
    assert all(np.isfinite(at).all() for at in figure.points.values())
    assert abs(figure.height - 45) < 4


def test_measured_points_are_those_the_readings_reach():
    figure = place({"height_at_withers": 50.0, "tail_length": 20.0, "second_thigh_length": 18.0})
    assert figure.has_measured("withers", "tail_tip", "hock_joint", "rear_toe")
    assert not figure.has_measured("stifle")
    assert not figure.has_measured("brisket")


def test_breadths_and_girths_pass_through():
    figure = place({"chest_girth": 61.0, "weight": 17.0})
    assert figure.readings["chest_girth"] == 61.0
    assert figure.measured == frozenset()


@pytest.mark.parametrize("bad", [0.0, -3.0, float("nan"), float("inf")])
def test_impossible_lengths_are_refused(bad):
    with pytest.raises(GeometryError, match="blade_length"):
        place({"blade_length": bad})


def test_a_template_with_a_wrong_point_is_refused(tmp_path):
    path = tmp_path / "template.toml"
    path.write_text('source = "x"\n[landmarks]\nwithers = [0.1, 1.0]\nnose = [1.0]\n')
    with pytest.raises(DataFileError, match="nose"):
        read_template(path)
    path.write_text('source = "x"\n[landmarks]\nwithers = [0.1, 0.9]\n')
    with pytest.raises(DataFileError, match="withers"):
        read_template(path)


def test_a_long_low_dog_keeps_short_legs_and_a_full_sized_head():
    figure = place(
        {"height_at_withers": 26.0, "body_length_from_prosternum": 45.5, "height_at_brisket": 8.6}
    )
    assert figure["elbow"][1] < 0.42 * figure.height
    head = hypot(*np.subtract(figure["occiput"], figure["nose"]))
    assert head > 0.45 * figure.height
