"""Network adjustment against printed examples; the dog as a network; the misread tape."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from published_tables import worked_examples
from scipy import optimize

from kit.estimation.components import Component
from kit.estimation.repeats import Estimate
from kit.figure import Observation, adjust
from kit.figure.adjustment import Adjustment
from kit.figure.network import FittedFigure, fit
from kit.figure.observations import observations, reading_at
from kit.figure.placement import place
from kit.figure.sightings import KINDS, sighting
from kit.figure.snooping import critical_value
from kit.figure.template import template
from kit.protocol.catalogue import catalogue
from kit.protocol.slips import explanations
from kit.quantities.errors import GeometryError
from kit.traits.derive import derive

EXAMPLES = worked_examples("networks.json")
GON = math.pi / 200
Figures = dict[str, Any]


def levelling(data: Figures) -> Adjustment:
    seen = [Observation("height_difference", (o["from_"], o["to"]), o["value"], o["sigma"],
                        f"{o['from_']}{o['to']}") for o in data["obs"]]  # fmt: skip
    return adjust(seen, {name: (None, data["heights_approx"][name]) for name in data["fixed"]})


def trilateration(data: Figures) -> Adjustment:
    seen = [Observation("distance", (o["from_"], o["to"]), o["value"], o["sigma"])
            for o in data["obs"]]  # fmt: skip
    fixed = {name: at for name, at in data["points"].items() if name not in data["unknown"]}
    return adjust(seen, fixed, data["points"])


def resection(data: Figures) -> Adjustment:
    seen = [Observation("angle", tuple(o["pts"]), o["value_rad"], o["sigma_rad"])
            for o in data["obs"]]  # fmt: skip
    fixed = {name: at for name, at in data["points"].items() if name != "U"}
    return adjust(seen, fixed, data["points"])


def protocol(data: Figures) -> Adjustment:
    seen = [Observation("distance", (a, b), value, sigma) for a, b, value, sigma
            in data["distances"]]  # fmt: skip
    seen += [Observation("direction", (a, b), value * GON, sigma * GON)
             for a, b, value, sigma in data["directions_gon"]]  # fmt: skip
    start = {"1001": (500.0, 350.0), "1002": (500.0, 560.0), **data["fixed"]}
    return adjust(seen, data["fixed"], start)


def posterior_sd(found: Adjustment, name: str, axis: str) -> float:
    row = found.parameters.index((name, axis))
    return math.sqrt(found.variance_factor * found.covariance[row, row])


def expect(row: Figures, key: str, found: float) -> None:
    given = row["tolerance"]
    tolerance = given[key] if isinstance(given, dict) else given
    assert found == pytest.approx(row["expected"][key], abs=tolerance), f"{row['source']}: {key}"


@pytest.mark.parametrize("name", ["lev_ghilani12_6", "lev_krumm_fix"])
def test_levelling(name: str) -> None:
    row = EXAMPLES[name]
    found = levelling(row["data"])
    for key in row["expected"]:
        if key.startswith("H_"):
            expect(row, key, found.coordinates[key[2:]][1])
        elif key.startswith("sd_mm_"):
            expect(row, key, 1000 * posterior_sd(found, key[6:], "y"))
    if "s0" in row["expected"]:
        expect(row, "s0", math.sqrt(found.variance_factor))
        expect(row, "vtpv", found.variance_factor * found.degrees_of_freedom)
        expect(row, "f", found.degrees_of_freedom)


def test_levelling_residuals() -> None:
    found = levelling(EXAMPLES["lev_ghilani12_6"]["data"])
    row = EXAMPLES["lev_ghilani12_6_resid"]
    for one, residual in zip(found.observations, found.residuals, strict=True):
        expect(row, f"v_{one.key}", 1000 * residual)


@pytest.mark.parametrize("name", ["tri_benning82", "tri_ghilani14_5", "tri_strang_fix"])
def test_trilateration(name: str) -> None:
    row = EXAMPLES[name]
    found = trilateration(row["data"])
    for key in row["expected"]:
        what, point = key.split("_")
        sizes = [100 * posterior_sd(found, point, axis) for axis in "xy"]
        at = found.coordinates[point]
        values = {"x": at[0], "y": at[1], "sx": sizes[0], "sy": sizes[1],
                  "sp": math.hypot(*sizes)}  # fmt: skip
        expect(row, key, values[what])


def test_trilateration_residuals() -> None:
    found = trilateration(EXAMPLES["tri_benning82"]["data"])
    row = EXAMPLES["tri_benning82_resid"]
    tolerance = row["tolerance"]
    assert 100 * found.residuals == pytest.approx(row["expected"]["v_cm"], abs=tolerance)
    assert 10 * math.sqrt(found.variance_factor) == pytest.approx(
        row["expected"]["s0_mm_if_sigma_unit_1cm"], abs=tolerance
    )


def test_resection() -> None:
    row = EXAMPLES["ang_ghilani15_5"]
    found = resection(row["data"])
    expect(row, "x", found.coordinates["U"][0])
    expect(row, "y", found.coordinates["U"][1])
    expect(row, "sx", 100 * posterior_sd(found, "U", "x"))
    expect(row, "sy", 100 * posterior_sd(found, "U", "y"))


def test_redundancy_protocol() -> None:
    row = EXAMPLES["baum1_protocol"]
    found = protocol(row["data"])
    expected, tolerance = row["expected"], row["tolerance"]
    expect(row, "var_factor", found.variance_factor)
    expect(row, "f", found.degrees_of_freedom)
    numbers = found.redundancy_numbers
    assert numbers[:6] == pytest.approx(expected["r_dist"], abs=tolerance["r_dist"])
    assert numbers[6:] == pytest.approx(expected["r_dir"], abs=tolerance["r_dir"])
    assert numbers.sum() == pytest.approx(found.degrees_of_freedom)
    tau = np.abs(found.standardised_residuals) / math.sqrt(found.variance_factor)
    assert tau == pytest.approx(expected["NV"], abs=tolerance["NV"])
    adjusted = [one.value + v for one, v in zip(found.observations, found.residuals, strict=True)]
    assert adjusted[:6] == pytest.approx(expected["dist_adj"], abs=tolerance["dist_adj"])
    assert found.residuals[6:] / GON == pytest.approx(
        expected["v_dir_gon"], abs=tolerance["v_dir_gon"]
    )


def test_every_printed_network_is_worked() -> None:
    assert len(EXAMPLES) == 9


# --- the equations ---------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
@given(at=st.lists(st.floats(-50, 50), min_size=6, max_size=6))
@settings(max_examples=20, deadline=None)
def test_derivatives_are_those_of_finite_differences(kind: str, at: list[float]) -> None:
    declared = sighting(kind)
    point = np.array(at[: 2 * declared.points])
    pairs = point.reshape(-1, 2)
    apart = [np.linalg.norm(a - b) for i, a in enumerate(pairs) for b in pairs[:i]]
    value = float(declared.value(*point))
    if (apart and min(apart) < 5) or (kind == "angle" and not 0.2 < value < 2.9):
        return
    if kind not in {"angle"} and abs(abs(value) - math.pi) < 0.2:
        return
    numeric = optimize.approx_fprime(point, lambda x: float(declared.value(*x)), 1e-6)
    assert np.array(declared.slopes(*point), dtype=float) == pytest.approx(numeric, abs=1e-4)


def test_same_answer_as_general_least_squares() -> None:
    """scipy.optimize.least_squares on the same network, to nine digits."""
    data = EXAMPLES["tri_benning82"]["data"]
    found = trilateration(data)

    def misfit(x: np.ndarray) -> list[float]:
        at = {**data["points"], "3": x[:2], "4": x[2:]}
        return [(math.dist(at[o["from_"]], at[o["to"]]) - o["value"]) / o["sigma"]
                for o in data["obs"]]  # fmt: skip

    other = optimize.least_squares(misfit, [0, 0, 1000, 0], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    ours = [*found.coordinates["3"], *found.coordinates["4"]]
    assert ours == pytest.approx(other.x, abs=1e-6)


def test_a_free_datum_moves_nothing_inside() -> None:
    data = EXAMPLES["tri_benning82"]["data"]
    seen = [Observation("distance", (o["from_"], o["to"]), o["value"], o["sigma"])
            for o in data["obs"]] + [Observation("distance", ("1", "2"), 1000.0, 0.01)]  # fmt: skip
    free = adjust(seen, approximate=data["points"])
    held = adjust(seen, {"1": (0.0, 1000.0), "2": (None, 1000.0)}, data["points"])
    assert free.problems == ()
    assert free.residuals == pytest.approx(held.residuals, abs=1e-7)
    assert free.degrees_of_freedom == held.degrees_of_freedom == 1


def test_what_is_not_determined_is_named() -> None:
    seen = [Observation("height", ("A",), 5.0, 0.1), Observation("distance", ("A", "B"), 3.0, 0.1)]
    found = adjust(seen, {"A": (0.0, None)}, {"A": (0.0, 5.0), "B": (2.0, 7.0)})
    assert [problem.about for problem in found.problems] == [("B",)]
    assert math.isnan(found.coordinates["B"][0])
    assert found.coordinates["A"][1] == pytest.approx(5.0)


@pytest.mark.parametrize(
    "given",
    [
        {"kind": "distance", "points": ("A", "A"), "value": 1.0, "sigma": 0.1},
        {"kind": "distance", "points": ("A", "B"), "value": 1.0, "sigma": 0.0},
        {"kind": "length", "points": ("A", "B"), "value": 1.0, "sigma": 0.1},
        {"kind": "distance", "points": ("A", "B"), "value": math.nan, "sigma": 0.1},
        {"kind": "distance", "value": 1.0, "sigma": 0.1},
        {"kind": "distance", "points": ("A", "B"), "value": -1.0, "sigma": 0.1},
        {"kind": "angle", "points": ("A", "B", "C"), "value": 67.0, "sigma": 0.1},
        {"kind": "distance", "points": "AB", "value": 1.0, "sigma": 0.1},
    ],
)
def test_unusable_observations_are_refused(given: dict[str, Any]) -> None:
    with pytest.raises(GeometryError):
        adjust([given], approximate={"A": (0, 0), "B": (1, 0)})


def test_a_triangle_that_cannot_close_is_a_problem() -> None:
    sides = (("A", "B", 10.0), ("B", "C", 30.0), ("A", "C", 9.0))
    found = adjust(
        [Observation("distance", (a, b), value, 0.1) for a, b, value in sides],
        approximate={"A": (0, 0), "B": (10, 0), "C": (5, 8)},
    )
    assert any("do not fit together" in problem.what for problem in found.problems)


def test_an_undetermined_point_has_no_finite_uncertainty() -> None:
    seen = [Observation("height", ("A",), 5.0, 0.1), Observation("distance", ("A", "B"), 3.0, 0.1)]
    found = adjust(seen, {"A": (0.0, None)}, {"A": (0.0, 5.0), "B": (2.0, 7.0)})
    row = found.parameters.index(("B", "x"))
    assert math.isinf(found.covariance[row, row])


def test_landmarks_of_the_dog_need_no_start_values() -> None:
    found = adjust([Observation("distance", ("blade_top", "elbow"), 25.0, 0.3),
                    Observation("height", ("elbow",), 25.0, 0.3)])  # fmt: skip
    assert found.residuals == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("fixed", "start", "fault"),
    [
        ({"Z": (0, 0)}, {"A": (0, 0), "B": (1, 0)}, "'Z'"),
        (None, {"A": (0, 0), "B": (0, 0)}, "same place"),
        (None, {"A": (0, 0), "B": (math.nan, 0)}, "not usable"),
        (None, {"A": (0, 0), "B": (1,)}, "not usable"),
    ],
)
def test_unusable_places_are_refused(
    fixed: dict[str, Any] | None, start: dict[str, Any], fault: str
) -> None:
    with pytest.raises(GeometryError, match=fault):
        adjust([Observation("distance", ("A", "B"), 1.0, 0.1)], fixed, start)


def test_a_missing_start_value_is_named() -> None:
    with pytest.raises(GeometryError, match="'B' has no start value"):
        adjust([Observation("distance", ("A", "B"), 1.0, 0.1)], approximate={"A": (0, 0)})


# --- the dog ---------------------------------------------------------------------------------

SKIN = {"rib_cage_length", "underline_length", "tail_length"}


def dog(height: float = 50.0, u: float = 0.3, *keys: str) -> dict[tuple[str, str], Estimate]:
    """Return exact readings of the neutral dog."""
    points = place({"height_at_withers": height}).points
    found = {}
    for key, seen in observations().items():
        if key in SKIN or (keys and key not in keys):
            continue
        definition = catalogue().measurement(key)
        side = "left" if definition.sided else ""
        size = u if definition.kind == "length" else 3.0
        value = reading_at(seen, points)
        if key == "chest_depth":
            value = points["withers"][1] - points["brisket"][1]
        found[(key, side)] = Estimate(key, side, value, (Component("repeat", size),))
    return found


def wrong(estimates: dict[tuple[str, str], Estimate], key: str, by: float) -> FittedFigure:
    side = "left" if catalogue().measurement(key).sided else ""
    changed = replace(estimates[(key, side)], value=estimates[(key, side)].value + by)
    return fit({**estimates, (key, side): changed})


def test_exact_readings_give_the_dog_back() -> None:
    fitted = fit(dog())
    truth = place({"height_at_withers": 50.0}).points
    assert fitted.suspects == ()
    assert fitted.adjustment.variance_factor < 1e-3
    shift = truth["withers"][0] - fitted.points["withers"][0]
    for name in ("elbow", "point_of_shoulder", "point_of_buttock", "hock_joint"):
        at = fitted.points[name]
        assert (at[0] + shift, at[1]) == pytest.approx(truth[name], abs=0.3)


@pytest.mark.parametrize("key", ["blade_length", "height_at_point_of_shoulder", "thigh_length"])
def test_a_misread_tape_is_found(key: str) -> None:
    estimates = dog()
    fitted = wrong(estimates, key, 4.0)
    assert key in {fitted.suspects[0].key, *fitted.suspects[0].alternatives}
    first = fitted.suspects[0]
    if first.key == key:
        true = next(e.value for (name, _), e in estimates.items() if name == key)
        assert first.expected == pytest.approx(true, abs=1.5)


def test_without_redundancy_the_figure_changes_nothing() -> None:
    triangle = ("blade_length", "upper_arm_length", "blade_top_to_elbow")
    heights = ("height_at_withers", "height_at_blade_top", "height_at_elbow")
    estimates = dog(50.0, 0.3, *triangle, *heights, "body_length_from_point_of_shoulder")
    fitted = fit(estimates)
    assert fitted.adjustment.degrees_of_freedom == 0
    plain = derive(estimates)
    through = derive(estimates, {"left": fitted.adjusted})
    for key, known in plain.known.items():
        assert through.known[key].value == pytest.approx(known.value, abs=1e-6)
        assert through.known[key].uncertainty == pytest.approx(known.uncertainty, rel=1e-4)


def test_with_redundancy_traits_get_better() -> None:
    estimates = dog()
    plain = derive(estimates).known
    through = derive(estimates, {"left": fit(estimates).adjusted}).known
    better = [key for key in plain if through[key].uncertainty < 0.98 * plain[key].uncertainty]
    assert {"shoulder_angle", "stifle_angle", "blade_slope"} <= set(better)
    assert all(through[key].uncertainty <= plain[key].uncertainty * 1.02 for key in plain)


def test_unchecked_readings_are_listed() -> None:
    fitted = fit(dog(50.0, 0.3, "height_at_withers", "head_length", "blade_length"))
    assert set(fitted.unchecked) == {"height_at_withers", "head_length", "blade_length"}


def test_what_would_place_a_point_is_named() -> None:
    keys = ("height_at_withers", "height_at_point_of_hip", "withers_to_point_of_hip", "back_length")
    fitted = fit(dog(50.0, 0.3, *keys))
    assert "height_at_set_on" in fitted.undetermined["set_on"]


def test_critical_value_shares_the_level() -> None:
    # Sidak: 1 - (1 - 0.05)**(1/1) two-sided gives the usual 1.96.
    assert critical_value(1, 0.05) == pytest.approx(1.959964, abs=1e-6)
    assert critical_value(40) > critical_value(10) > critical_value(1)


@pytest.mark.parametrize(
    ("observed", "expected", "slip"),
    [
        (17.1, 43.4, "inches"),
        (57.0, 75.0, "transposed"),
        (27.1, 17.1, "ten centimetres"),
        (18.1, 17.1, "adjacent mark"),
    ],
)
def test_slips_are_named(observed: float, expected: float, slip: str) -> None:
    assert any(slip in name for name in explanations(observed, expected, 0.3))


def test_the_template_is_untouched_by_mirrors() -> None:
    assert template().points["point_of_shoulder"][0] > template().points["blade_top"][0]
