"""Every trait against figures worked by hand, its dimension, three routes to its uncertainty."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import uncertainties
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from published_tables import toml_rows
from test_identities import front, table_of
from uncertainties import umath

from kit.estimation.components import Component
from kit.estimation.propagation import compile_model
from kit.estimation.repeats import Estimate
from kit.estimation.simulation import simulate
from kit.protocol.catalogue import catalogue
from kit.quantities.errors import UnitError
from kit.quantities.kinds import Kind
from kit.traits.declarations import check_dimension, trait, traits
from kit.traits.derive import derive
from kit.traits.estimates import MONTE_CARLO
from kit.traits.inputs import DEGREES
from kit.traits.trait import Trait, measured

ROWS = toml_rows("trait_formulas.toml")
# The whole dog, each reading from the first row that has it: enough to derive every trait.
WHOLE = {key: value for row in reversed(ROWS) for key, value in row["readings"].items()}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["trait"])
def test_formula(row: dict[str, Any]) -> None:
    known = table_of(row["readings"]).known[row["trait"]]
    assert known.value == pytest.approx(row["expected"], abs=1e-9)


def test_every_trait_has_a_row() -> None:
    assert {row["trait"] for row in ROWS} == set(traits())


@pytest.mark.parametrize("key", traits())
def test_dimension(key: str) -> None:
    check_dimension(trait(key))


def test_a_wrong_kind_is_found() -> None:
    wrong = Trait("x", "x", Kind.RATIO, measured("chest_depth"), "x", "x", "x")
    with pytest.raises(UnitError, match="is no ratio"):
        check_dimension(wrong)
    mixed = measured("shoulder_angle") + measured("chest_depth") / measured("head_length")
    with pytest.raises(UnitError, match="mixes kinds"):
        check_dimension(Trait("x", "x", Kind.ANGLE, mixed, "x", "x", "x"))


@pytest.mark.parametrize("key", traits())
def test_latex(key: str) -> None:
    assert trait(key).latex.startswith(r"\mathrm{")


LENGTHS = [key for key in WHOLE if catalogue().measurement(key).kind is Kind.LENGTH]


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.floats(0.3, 2.5))
def test_scaling_all_lengths_leaves_ratios_and_angles_alone(scale: float) -> None:
    before = _plain(WHOLE)
    after = _plain({k: v * scale if k in LENGTHS else v for k, v in WHOLE.items()})
    for key, value in before.items():
        if trait(key).kind in {Kind.RATIO, Kind.ANGLE}:
            assert after[key] == pytest.approx(value, abs=1e-9), key


def _plain(readings: dict[str, float]) -> dict[str, float]:
    """Evaluate every declaration whose symbols are all readings, without uncertainty."""
    values = {}
    for key, declared in traits().items():
        model = compile_model(declared.expression)
        if set(model.names) <= set(readings):
            at = [readings[n] / (DEGREES if _is_angle(n) else 1) for n in model.names]
            values[key] = model.value(at)
    assert len(values) > 40
    return values


def _is_angle(name: str) -> bool:
    return catalogue().measurement(name).kind is Kind.ANGLE


@settings(max_examples=15, deadline=None)
@given(st.floats(35, 60), st.floats(35, 60), st.floats(0.05, 0.2))
def test_three_routes_to_an_uncertainty_agree(blade: float, arm: float, u: float) -> None:
    """Linear by SymPy, linear by the uncertainties library, and Monte Carlo."""
    readings = front(blade, arm)
    names = ("blade_length", "upper_arm_length", "blade_top_to_elbow")
    a, b, c = (uncertainties.ufloat(readings[name], u) for name in names)
    library = umath.acos((a**2 + b**2 - c**2) / (2 * a * b)) * DEGREES
    known = table_of({name: readings[name] for name in names}, u).known["shoulder_angle"]
    linear = math.sqrt(sum(part.uncertainty**2 for part in known.budget))
    drawn = simulate(
        trait("shoulder_angle").expression,
        {name: Estimate(name, "", readings[name], (Component("u", u),)) for name in names},
    )
    assert known.value == pytest.approx(library.nominal_value, abs=1e-9)
    assert linear == pytest.approx(library.std_dev, rel=1e-9)
    assert drawn.uncertainty * DEGREES == pytest.approx(linear, rel=0.04)


def test_two_ratios_over_one_height_are_correlated() -> None:
    keys = ["length_to_height_from_prosternum", "chest_depth_to_height"]
    readings = {"body_length_from_prosternum": 55.0, "chest_depth": 24.0, "height_at_withers": 50.0}
    found = table_of(readings, 1.0).covariance(keys)
    length, depth, height = (uncertainties.ufloat(value, 1.0) for value in readings.values())
    expected = uncertainties.covariance_matrix([length / height, depth / height])
    assert np.allclose(found, expected, rtol=1e-9)
    assert found[0, 1] > 0


def test_a_nearly_straight_angle_is_simulated_and_says_so() -> None:
    readings = {"thigh_length": 20.0, "second_thigh_length": 21.0, "hip_joint_to_hock_joint": 40.5}
    known = table_of(readings, 0.5).known["stifle_angle"]
    assert known.method == MONTE_CARLO
    assert known.high95 <= 180.0
    assert "nearly straight" in known.note


def test_an_impossible_triangle_names_its_three_readings() -> None:
    readings = {"blade_length": 12.0, "upper_arm_length": 10.0, "blade_top_to_elbow": 28.0}
    table = table_of(readings)
    assert "shoulder_angle" not in table.known
    for name in readings:
        assert name in table.faults["shoulder_angle"]
    assert "cannot close" in table.faults["shoulder_angle"]


def test_a_trait_takes_its_readings_from_one_side() -> None:
    def one(key: str, side: str, value: float) -> Estimate:
        return Estimate(key, side, value, (Component("repeat", 0.2),))

    mixed = [one("blade_length", "left", 16.0), one("upper_arm_length", "left", 12.0),
             one("blade_top_to_elbow", "right", 20.0)]  # fmt: skip
    assert "shoulder_angle" not in derive({(e.measurement, e.side): e for e in mixed}).known
    right = [one(e.measurement, "right", e.value) for e in mixed]
    known = derive({(e.measurement, e.side): e for e in right}).known["shoulder_angle"]
    assert known.side == "right"


def test_what_is_still_needed_is_named() -> None:
    needs = table_of({"blade_length": 16.0}).needs
    assert needs["shoulder_angle"] == ("upper_arm_length", "blade_top_to_elbow")


@pytest.mark.parametrize("key", sorted(traits()))
def test_a_trait_asked_for_alone_is_what_it_is_among_all(key: str) -> None:
    """And whatever cannot belong together is told, asked for or not (one answer: mathematics)."""
    torn = WHOLE | {"blade_top_to_elbow": WHOLE["blade_length"] + WHOLE["upper_arm_length"] + 9.0}
    estimates = {(name, ""): Estimate(name, "", value, (Component("repeat", 0.2),))
                 for name, value in torn.items()}  # fmt: skip
    whole, alone = derive(estimates), derive(estimates, asked=[key])
    assert alone.known == {name: one for name, one in whole.known.items() if name == key}
    assert alone.needs == {name: one for name, one in whole.needs.items() if name == key}
    assert "shoulder_angle" in alone.faults
    assert alone.faults == whole.faults
