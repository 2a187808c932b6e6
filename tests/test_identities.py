"""Angle identities: the kit's declarations, and the figures printed standards give.

Identities: shoulder = blade slope + upper arm slope; elbow = 90 + upper arm slope;
stifle = thigh slope + second thigh slope; hock = 90 + second thigh slope (plane geometry).
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_tables import toml_rows

from kit.estimation.components import Component
from kit.estimation.repeats import Estimate
from kit.protocol.catalogue import catalogue
from kit.traits.derive import derive
from kit.traits.estimates import TraitTable

ROWS = toml_rows("angle_identities.toml")


def table_of(values: dict[str, float], u: float = 0.01) -> TraitTable:
    found = [
        Estimate(
            key,
            "left" if catalogue().measurement(key).sided else "",
            value,
            (Component("repeat", u),),
        )
        for key, value in values.items()
    ]
    return derive({(one.measurement, one.side): one for one in found})


def front(blade_slope: float, arm_slope: float) -> dict[str, float]:
    """Return readings of a forequarter built with these slopes: blade 17 cm, arm 16 cm."""
    blade, arm = math.radians(blade_slope), math.radians(arm_slope)
    shoulder = 20.0 + 16.0 * math.sin(arm)
    across = 17.0 * math.cos(blade) - 16.0 * math.cos(arm)
    top = shoulder + 17.0 * math.sin(blade)
    return {
        "blade_length": 17.0,
        "upper_arm_length": 16.0,
        "height_at_elbow": 20.0,
        "height_at_point_of_shoulder": shoulder,
        "height_at_blade_top": top,
        "blade_top_to_elbow": math.hypot(across, top - 20.0),
    }


@given(st.floats(20, 75), st.floats(20, 75))
def test_the_two_routes_to_a_shoulder_angle_agree(blade: float, arm: float) -> None:
    known = table_of(front(blade, arm)).known
    assert known["shoulder_angle_by_heights"].value == pytest.approx(blade + arm, abs=1e-6)
    assert known["shoulder_angle"].value == pytest.approx(blade + arm, abs=1e-6)
    assert known["elbow_angle"].value == pytest.approx(90 + arm, abs=1e-6)
    assert known["blade_layback"].value == pytest.approx(90 - blade, abs=1e-6)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_printed_standards(row: dict[str, Any]) -> None:
    for end in ("low", "high"):
        total = sum(row[f"parts_{end}"])
        deviation = row.get(f"deviation_{end}", 0.0)
        assert row[f"expected_{end}"] - total == pytest.approx(deviation, abs=row["tolerance"])
        if row["holds"]:
            assert abs(deviation) <= row["tolerance"], row["source"]


@pytest.mark.parametrize("row", [r for r in ROWS if "shoulder" in r["identity"]],
                         ids=lambda row: row["id"])  # fmt: skip
def test_a_dog_built_to_a_printed_standard_gives_its_printed_shoulder(row: dict[str, Any]) -> None:
    for end in ("low", "high"):
        blade, arm = row[f"parts_{end}"]
        known = table_of(front(blade, arm)).known
        assert known["shoulder_angle"].value == pytest.approx(
            row[f"expected_{end}"], abs=row["tolerance"] + 1e-6
        ), row["source"]


def test_triangle_rows() -> None:
    for row in toml_rows("triangles.toml"):
        a, b, c = row["lengths"]
        values = {"blade_length": a, "upper_arm_length": b, "blade_top_to_elbow": c}
        known = table_of(values, row.get("sd", 0.01)).known["shoulder_angle"]
        assert known.value == pytest.approx(row["angle"], abs=row["tolerance"]), row["source"]
        if "sd" in row:
            linear = math.sqrt(sum(part.uncertainty**2 for part in known.budget))
            assert linear == pytest.approx(row["sd_angle"], abs=row["sd_tolerance"]), row["source"]


def test_slope_rows() -> None:
    for row in toml_rows("triangles.toml", "slope"):
        values = {"blade_length": row["length"], "height_at_point_of_shoulder": 40.0}
        read = table_of(values | {"height_at_blade_top": 40.0 + row["rise"]}).known
        assert read["blade_layback"].value == pytest.approx(
            row["from_vertical"], abs=row["tolerance"]
        )
        exact = 40.0 + row["length"] * math.cos(math.radians(row["at"]))
        slope = table_of(values | {"height_at_blade_top": exact}).known["blade_layback"]
        assert abs(slope.sensitivities["height_at_blade_top"]) / 2 == pytest.approx(
            row["degrees_per_half_centimetre"], abs=1e-8
        ), row["source"]
