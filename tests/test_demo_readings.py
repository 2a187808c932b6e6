"""The demo readings: complete, readable, plausible, and consistent by plane geometry.

Checks by the cosine rule and the definition of the sine are identities; the shares of outliers
follow from the errors the measurement catalogue states.
"""

from __future__ import annotations

import math
from collections import defaultdict
from pathlib import Path
from statistics import fmean, median

import pytest

from kit.protocol.catalogue import catalogue
from kit.protocol.plausibility import height_of, question
from kit.protocol.reading_files import ReadingFile, read_csv
from kit.protocol.readings import Reading

DATA = Path(__file__).parent.parent / "data" / "demo_readings.csv"
MAIN = "Alder"
MISREAD = ("Elsin", "blade_length")


@pytest.fixture(scope="module")
def demo() -> ReadingFile:
    return read_csv(DATA, catalogue())


def means(demo: ReadingFile, dog: str) -> dict[str, float]:
    values = defaultdict(list)
    for reading in demo.readings:
        if reading.dog == dog and reading.side != "right":
            values[reading.measurement].append(reading.value)
    return {key: fmean(found) for key, found in values.items()}


def far_off(reading: Reading, readings: tuple[Reading, ...]) -> float:
    """Return how far a reading lies from the middle of its repeats, in catalogue errors."""
    like = [
        other.value
        for other in readings
        if (other.dog, other.measurement, other.side)
        == (reading.dog, reading.measurement, reading.side)
    ]
    definition = catalogue().measurement(reading.measurement)
    error = math.hypot(definition.repeat_error, definition.posture_error)
    return abs(reading.value - median(like)) / error


def test_every_row_can_be_read(demo: ReadingFile) -> None:
    assert demo.problems == ()
    assert 600 <= len(demo.readings) <= 900


def test_the_main_dog_is_measured_on_every_key_in_two_stands_by_two_hands(
    demo: ReadingFile,
) -> None:
    main = [reading for reading in demo.readings if reading.dog == MAIN]
    assert {reading.measurement for reading in main} == set(catalogue().measurements)
    assert {reading.stand for reading in main} == {"1", "2"}
    assert len({reading.measurer for reading in main}) == 2


def test_nothing_is_out_of_range(demo: ReadingFile) -> None:
    heights = {
        dog: height_of(r for r in demo.readings if r.dog == dog)
        for dog in {reading.dog for reading in demo.readings}
    }
    for reading in demo.readings:
        definition = catalogue().measurement(reading.measurement)
        assert question(definition, reading.value, heights[reading.dog]) == ""


def test_exactly_one_reading_is_misread(demo: ReadingFile) -> None:
    suspects = {
        (reading.dog, reading.measurement)
        for reading in demo.readings
        if far_off(reading, demo.readings) > 4.5
    }
    assert suspects == {MISREAD}


def test_some_entries_carry_their_unit_as_a_hand_writes_it(demo: ReadingFile) -> None:
    written = [reading.raw for reading in demo.readings if not reading.unit]
    assert any(entry.endswith("in") and "/" in entry for entry in written)
    assert any("," in entry and entry.endswith("cm") for entry in written)
    assert any(entry.endswith("°") for entry in written)


@pytest.mark.parametrize(
    ("angle", "sides"),
    [
        ("shoulder_angle", ("blade_length", "upper_arm_length", "blade_top_to_elbow")),
        ("stifle_angle", ("thigh_length", "second_thigh_length", "hip_joint_to_hock_joint")),
        ("hip_angle", ("point_of_hip_to_hip_joint", "thigh_length", "point_of_hip_to_stifle")),
    ],
)
def test_read_angles_agree_with_the_cosine_rule(
    demo: ReadingFile, angle: str, sides: tuple[str, str, str]
) -> None:
    known = means(demo, MAIN)
    a, b, c = (known[side] for side in sides)
    cosine = (a * a + b * b - c * c) / (2 * a * b)
    # Four readings leave each side about 0.4 cm and the read angle about 3 deg uncertain; for
    # triangles of 7 to 25 cm that is up to 5 deg together (delta method), and 95 % is twice that.
    assert math.degrees(math.acos(cosine)) == pytest.approx(known[angle], abs=10)


def test_heights_lengths_and_slopes_fit_each_other(demo: ReadingFile) -> None:
    known = means(demo, MAIN)
    rise = known["height_at_blade_top"] - known["height_at_point_of_shoulder"]
    slope = math.degrees(math.asin(rise / known["blade_length"]))
    assert slope == pytest.approx(known["blade_slope"], abs=10)
    assert known["blade_slope"] + known["blade_layback"] == pytest.approx(90, abs=6)
    assert known["body_length_from_prosternum"] > known["body_length_from_point_of_shoulder"]
