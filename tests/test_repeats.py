"""Repeats → estimates. Rules: JCGM 100:2008 clauses named beside each check."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from scipy import stats

from kit.estimation.repeats import CRITICAL_RANGE, disagreement, estimate, estimates_of
from kit.protocol.catalogue import Definition, catalogue
from kit.protocol.readings import Reading
from kit.quantities.errors import DataFileError, EstimationError

HEIGHT = catalogue().measurement("height_at_withers")
STAND = catalogue().instruments[HEIGHT.instrument]


def readings(*rows: tuple[float, str]) -> list[Reading]:
    return [Reading("A", HEIGHT.key, value, stand=stand) for value, stand in rows]


def part(values: list[Reading], name: str) -> float:
    parts = {c.name: c.uncertainty for c in estimate(values, HEIGHT, STAND).components}
    return parts[name]


def test_a_single_reading_has_the_catalogue_s_errors() -> None:
    single = readings((56.5, "1"))
    assert part(single, "repeat") == pytest.approx(HEIGHT.repeat_error)
    assert part(single, "posture") == pytest.approx(HEIGHT.posture_error)
    # JCGM 100:2008 F.2.2.1: resolution d gives d / sqrt(12).
    assert part(single, "resolution") == pytest.approx(STAND.resolution / math.sqrt(12))


def test_repeating_in_one_stand_does_not_average_posture_away() -> None:
    one = readings((56.0, "1"))
    four = readings(*((value, "1") for value in (56.0, 56.4, 55.8, 56.2)))
    assert part(four, "repeat") < 0.6 * part(one, "repeat")
    assert part(four, "posture") == pytest.approx(part(one, "posture"))


def test_standing_the_dog_again_does() -> None:
    four = readings(*((56.0 + 0.1 * n, str(n)) for n in range(4)))
    assert part(four, "posture") < 0.6 * HEIGHT.posture_error
    assert part(four, "repeat") < 0.6 * HEIGHT.repeat_error


def test_many_repeats_speak_for_themselves() -> None:
    # JCGM 100:2008 4.4.3, Table 1: twenty readings, s = 1.489, s of the mean 0.333.
    values = [96.9, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33,
              100.42, 100.68, 100.95, 101.11, 101.2, 101.57, 101.84, 102.36, 102.72]  # fmt: skip
    found = estimate(readings(*((value, "1") for value in values)), HEIGHT, STAND)
    assert found.repeat_sd == pytest.approx(1.489, abs=6e-4)
    assert found.components[0].uncertainty == pytest.approx(0.333, abs=6e-4)
    assert found.components[0].dof == 19


def test_few_repeats_are_pooled_with_the_catalogue() -> None:
    found = estimate(readings((56.0, "1"), (58.0, "1")), HEIGHT, STAND)
    assert HEIGHT.repeat_error < found.repeat_sd < math.sqrt(2.0)
    # JCGM 100:2008 G.3: pooled degrees of freedom add.
    assert found.components[0].dof == 9


def test_sides_are_kept_apart() -> None:
    both = [Reading("A", "blade_length", 13.0, side="left"),
            Reading("A", "blade_length", 13.6, side="right")]  # fmt: skip
    found = estimates_of(both, catalogue())
    assert {key: round(e.value, 1) for key, e in found.items()} == {
        ("blade_length", "left"): 13.0,
        ("blade_length", "right"): 13.6,
    }


def test_no_reading_is_an_error() -> None:
    with pytest.raises(EstimationError, match="no reading"):
        estimate([], HEIGHT, STAND)


@pytest.mark.parametrize("count", CRITICAL_RANGE)
def test_critical_ranges_are_those_of_the_studentised_range(count: int) -> None:
    expected = stats.studentized_range.ppf(0.999, count, math.inf)
    assert CRITICAL_RANGE[count] == pytest.approx(expected, abs=0.01)


def test_a_misread_tape_is_named() -> None:
    message = disagreement(readings((56.0, "1"), (56.3, "1"), (65.3, "2")), HEIGHT, STAND)
    assert "65.3 cm stands apart" in message
    assert disagreement(readings((56.0, "1"), (56.4, "1")), HEIGHT, STAND) == ""


@pytest.mark.parametrize("field", ["source", "error_source", "how"])
def test_a_definition_without_a_source_cannot_be_constructed(field: str) -> None:
    with pytest.raises(DataFileError):
        replace(HEIGHT, **{field: " "})


def test_every_definition_is_complete() -> None:
    for definition in catalogue().measurements.values():
        assert isinstance(definition, Definition)
        assert definition.low < definition.high
        assert definition.repeat_error > 0


def test_a_restless_dog_does_not_borrow_a_calm_ones_errors() -> None:
    # F test at 97.5 % with 4 and 8 degrees of freedom: own scatter far beyond the catalogue's.
    scattered = [50.0, 54.0, 47.0, 52.5, 46.5]
    found = estimate(readings(*((value, "1") for value in scattered)), HEIGHT, STAND)
    assert found.components[0].dof == 4
    assert found.repeat_sd == pytest.approx(stats.tstd(scattered))
