"""Which readings are asked about: what no dog of the size has, and not what a rare one has."""

from __future__ import annotations

import math

import pytest
from plausible_dogs import random_readings

from kit.protocol.catalogue import catalogue
from kit.protocol.plausibility import length_of, plausible_range, question
from kit.protocol.readings import Reading


def asked(key: str, value: float, height: float, length: float = math.nan) -> str:
    return question(catalogue().measurement(key), value, height, length)


@pytest.mark.parametrize(
    ("key", "value"),
    [("head_length", 44.5), ("blade_top_to_elbow", 41.0), ("skull_breadth", 30.0),
     ("thigh_length", 26.0)],
)  # fmt: skip
def test_a_length_no_dog_of_this_height_has_is_asked_about(key: str, value: float) -> None:
    assert "unusual" in asked(key, value, 41.0)


def test_heads_of_long_low_dogs_are_not_asked_about() -> None:
    # Common practice (no source): heads of long dogs on short legs reach three quarters of the
    # height.
    assert asked("head_length", 0.75 * 24.0, 24.0) == ""


@pytest.mark.parametrize(
    ("height", "length", "weight"),
    [(25.0, 43.0, 10.0), (35.0, 60.0, 27.0), (73.0, 73.0, 32.0), (41.0, 43.0, 9.0),
     (62.0, 66.0, 32.0), (20.0, 21.0, 2.0)],
)  # fmt: skip
def test_usual_weights_of_dogs_of_every_shape_are_believed(
    height: float, length: float, weight: float
) -> None:
    # From memory: usual sizes of long low dogs, sighthounds, terriers, shepherds and toys.
    assert asked("weight", weight, height) == ""
    assert asked("weight", weight, height, length) == ""


def test_pounds_for_kilograms_are_asked_about() -> None:
    # 0.45359237 kg: the international pound, 1959.
    told = asked("weight", 28.0, 41.3, 46.5)
    assert "pounds" in told
    assert "12.70 kg" in told
    assert asked("weight", 28.0, math.nan) == ""
    assert "unusual" in asked("weight", 90.0, 41.3)
    assert "unusual" in asked("weight", 1.0, 41.3)


def test_the_length_is_taken_from_the_prosternum_first() -> None:
    lengths = [Reading("Moss", "body_length_from_point_of_shoulder", 43.0)]
    assert math.isnan(length_of([]))
    assert length_of(lengths) == 43.0
    assert length_of([*lengths, Reading("Moss", "body_length_from_prosternum", 46.5)]) == 46.5


@pytest.mark.parametrize("start", range(0, 200, 50))
def test_plausible_dogs_are_not_asked_about(start: int) -> None:
    for seed in range(start, start + 50):
        readings = random_readings(seed)
        for key, value in readings.items():
            low, high = plausible_range(catalogue().measurement(key), readings["height_at_withers"])
            # The dogs are crooked at random: two points close together may come to lie closer.
            assert 0.85 * low <= value <= 1.05 * high or low < 0 <= high, (seed, key)
