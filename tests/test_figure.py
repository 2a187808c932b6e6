"""The placed figure: it reads back what went in, stays a dog, and refuses nonsense."""

from math import cos, degrees, hypot, isclose, radians, sqrt

import numpy as np
import pytest
from plausible_dogs import random_readings
from scipy.optimize import approx_fprime
from yardstick import in_yards

from kit.estimation.repeats import estimates_of
from kit.figure.network import fit
from kit.figure.observations import observations, reading_at
from kit.figure.placement import DEFAULT_HEIGHT, _linear, _sights, place, scales
from kit.figure.residuals import Residuals
from kit.figure.seen import seen_by
from kit.figure.template import read_template, template
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import Reading
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
    assert in_yards(lambda: place(readings)) < 3.0


def test_a_misread_tape_bends_the_figure_but_does_not_break_it():
    readings = readings_of(template().points, 45.0) | {"blade_top_to_elbow": 90.0}
    figure = place(readings)
    assert all(np.isfinite(at).all() for at in figure.points.values())
    assert abs(figure.height - 45) < 4


def is_a_dog(figure):
    """Check the order of the main points and that no leg stands away from the body."""
    at, size = figure.points, figure.size
    assert at["nose"][0] > at["withers"][0] > at["set_on"][0] > at["tail_tip"][0]
    assert abs(at["elbow"][0] - at["withers"][0]) < 0.25 * size
    assert at["point_of_shoulder"][0] > at["elbow"][0] - 0.05 * size
    assert abs(at["brisket"][0] - at["elbow"][0]) < 0.25 * size
    assert abs(at["hock_joint"][0] - at["point_of_buttock"][0]) < 0.45 * size
    assert abs(at["withers"][1] / figure.height - 1) < 1e-9


SPOILS = [
    key
    for key, seen in observations().items()
    if seen.kind in ("vertical", "straight", "skin") and key != "height_at_withers"
]


@pytest.mark.parametrize("factor", [0.1, 1 / 2.54, 2.54, 10.0])
def test_no_misread_length_tears_the_dog_apart(factor):
    # Inches for centimetres and a decimal point too far: on a dog of many readings, one spoilt.
    full = readings_of(crooked_points(4, 0.012), 45.0)
    for number, key in enumerate(SPOILS):
        rng = np.random.default_rng(number)
        some = {name: one for name, one in full.items() if rng.uniform() < 0.5}
        some |= {"height_at_withers": full["height_at_withers"], key: full[key] * factor}
        is_a_dog(place(some))


def test_no_two_misread_lengths_tear_the_dog_apart():
    full = readings_of(crooked_points(9, 0.012), 45.0)
    for seed in range(60):
        rng = np.random.default_rng(seed)
        some = {name: one for name, one in full.items() if rng.uniform() < 0.6}
        some["height_at_withers"] = full["height_at_withers"]
        for key in rng.choice(SPOILS, 2, replace=False):
            some[key] = full[key] * rng.choice([0.4, 0.6, 1.6, 2.5])
        is_a_dog(place(some))


def test_the_reading_that_closes_no_triangle_is_named():
    readings = readings_of(template().points, 45.0)
    some = {key: readings[key] for key in (
        "height_at_withers", "blade_length", "upper_arm_length", "body_length_from_prosternum"
    )}  # fmt: skip
    assert place(some).set_aside == ()
    figure = place(some | {"blade_top_to_elbow": 42.0})
    assert figure.set_aside == ("blade_top_to_elbow",)
    assert "blade_top_to_elbow" not in figure.readings
    assert not figure.has_measured("elbow")


def test_a_height_in_inches_is_outvoted():
    readings = readings_of(template().points, 45.0) | {"height_at_withers": 45 / 2.54}
    figure = place(readings)
    assert figure.set_aside == ("height_at_withers",)
    assert figure.height == pytest.approx(45, abs=0.5)


def test_plausible_dogs_keep_all_their_readings():
    for seed in range(150):
        assert place(random_readings(seed)).set_aside == (), seed


def estimates(values):
    known = catalogue()
    readings = [
        Reading("Moss", key, value, side="left" if known.measurement(key).sided else "")
        for key, value in values.items()
    ]
    return estimates_of(readings, known)


def test_whatever_is_said_to_place_a_point_places_it():
    claims = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        full = {
            key: one
            for key, one in readings_of(crooked_points(seed, 0.012), rng.uniform(25, 75)).items()
            if seen_by(key) is not None and key != "chest_depth"
        }
        share = rng.uniform(0.15, 0.7)
        some = {key: one for key, one in full.items() if rng.uniform() < share}
        some["height_at_withers"] = full["height_at_withers"]
        for name, fixing in fit(estimates(some)).undetermined.items():
            for key in fixing:
                claims += 1
                assert name in fit(estimates(some | {key: full[key]})).points, (seed, name, key)
    assert claims > 40


def test_a_height_places_no_point_that_is_free_along():
    # Two heights and one tape between their points leave the second free along only where its
    # height is unknown; a tape to a third point of unknown height leaves that one two unknowns.
    full = readings_of(template().points, 45.0)
    some = {key: full[key] for key in (
        "height_at_withers", "height_at_point_of_hip", "withers_to_point_of_hip", "croup_length"
    )}  # fmt: skip
    fitted = fit(estimates(some))
    assert "height_at_point_of_buttock" in fitted.undetermined["point_of_buttock"]
    del some["croup_length"]
    some["body_length_from_prosternum"] = full["body_length_from_prosternum"]
    apart = fit(estimates(some)).undetermined
    assert "height_at_prosternum" not in apart["prosternum"]


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
