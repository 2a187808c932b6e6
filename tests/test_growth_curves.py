"""Growth curves and their fits, held against certified regressions and identities.

Rat42 and Misra1a: NIST Statistical Reference Datasets, certified to eleven digits. DNase: printed
output of R's nls() help page (from memory). The kit fits the scaled forms of its own curves; where
a reference uses other parameters they are converted with first-order propagation, which is exact
at the optimum.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from published_tables import toml_rows, worked_examples
from scipy import optimize

from kit.estimation.propagation import propagate
from kit.growth import fit
from kit.growth.adult import adult_size
from kit.growth.curves import ADULT, CURVES, MIDPOINT, PACE, curve
from kit.growth.error_models import ErrorModel, error_model
from kit.growth.errors import NotSupportedError
from kit.growth.fitting import compare
from kit.growth.reference import reference
from kit.quantities.errors import DataFileError, EstimationError
from kit.quantities.kinds import Kind

REFERENCES = worked_examples("growth.json")
# Digits to which certified values must be met: NIST certifies eleven.
CERTIFIED = 10


def digits(computed: float, certified: float) -> float:
    """NIST's log relative error: how many digits agree."""
    return -math.log10(max(abs(computed - certified) / abs(certified), 1e-16))


def test_nist_rat42_to_ten_digits() -> None:
    row = REFERENCES["nist_rat42"]
    result = fit("logistic", row["data"]["x"], row["data"]["y"])
    values, covariance = propagate(
        [ADULT + 0, MIDPOINT / PACE, 1 / PACE],
        {ADULT: result.parameters["adult"], MIDPOINT: result.parameters["midpoint"],
         PACE: result.parameters["pace"]},
        result.covariance,
    )  # fmt: skip
    expected = row["expected"]
    for computed, certified in zip(values, expected["params"], strict=True):
        assert digits(computed, certified) > CERTIFIED
    for computed, certified in zip(np.sqrt(np.diag(covariance)), expected["sd"], strict=True):
        assert digits(computed, certified) > 9
    assert digits(result.rss, expected["RSS"]) > CERTIFIED
    assert digits(result.residual_sd, expected["RSD"]) > CERTIFIED


def test_nist_misra1a_to_ten_digits() -> None:
    """The monomolecular curve through the origin; Misra1a is of high difficulty by NIST."""
    row = REFERENCES["nist_misra1a"]
    result = fit("monomolecular", row["data"]["x"], row["data"]["y"], shared={"midpoint": 0.0})
    values, covariance = propagate(
        [ADULT + 0, 1 / PACE],
        {ADULT: result.parameters["adult"], PACE: result.parameters["pace"]},
        result.covariance[np.ix_([0, 2], [0, 2])],
    )
    expected = row["expected"]
    for computed, certified in zip(values, expected["params"], strict=True):
        assert digits(computed, certified) > CERTIFIED
    for computed, certified in zip(np.sqrt(np.diag(covariance)), expected["sd"], strict=True):
        assert digits(computed, certified) > 9
    assert digits(result.rss, expected["RSS"]) > CERTIFIED
    assert result.standard_errors["midpoint"] == 0.0


def test_r_dnase_logistic() -> None:
    """Printed output of R's SSlogis example (from memory, confirmed by another fit)."""
    row = REFERENCES["r_dnase_sslogis"]
    result = fit("logistic", np.log(row["data"]["conc"]), row["data"]["density"])
    expected = row["expected"]
    names = {"adult": "Asym", "midpoint": "xmid", "pace": "scal"}
    for own, other in names.items():
        assert result.parameters[own] == pytest.approx(expected[other], abs=6e-6)
        assert result.standard_errors[own] == pytest.approx(expected[f"se_{other}"], abs=6e-6)
    assert result.residual_sd == pytest.approx(expected["RSE"], abs=6e-6)


@pytest.mark.parametrize("row", toml_rows("growth.toml", "part"), ids=lambda row: row["source"])
def test_parts_of_the_adult_size(row: dict[str, float | str]) -> None:
    family = CURVES[str(row["curve"])]
    age = 60.0 + float(row["paces"]) * 40.0
    assert float(family.value(age, [12.0, 60.0, 40.0])) / 12.0 == pytest.approx(
        float(row["part"]), abs=1e-9
    )
    assert family.age_at(float(row["part"]), [12.0, 60.0, 40.0]) == pytest.approx(age, abs=1e-6)


@pytest.mark.parametrize("shape", [1.0, 1e-6, -1.0 / 3.0])
def test_richards_holds_the_other_curves(shape: float) -> None:
    """Richards 1959: logistic, Gompertz and von Bertalanffy are its shapes 1, 0 and -1/3."""
    other = {1.0: "logistic", 1e-6: "gompertz", -1.0 / 3.0: "von_bertalanffy"}[shape]
    ages = np.linspace(30.0, 300.0, 15)
    own = curve("richards").value(ages, [20.0, 70.0, 40.0, shape])
    assert own == pytest.approx(curve(other).value(ages, [20.0, 70.0, 40.0]), rel=1e-5)


@pytest.mark.parametrize("key", ["gompertz", "logistic", "von_bertalanffy", "richards"])
def test_growth_is_fastest_at_the_midpoint(key: str) -> None:
    parameters = [20.0, 70.0, 40.0] + ([0.4] if key == "richards" else [])
    ages = np.linspace(55.0, 85.0, 301)
    assert ages[np.argmax(curve(key).rate(ages, parameters))] == pytest.approx(70.0, abs=0.11)
    if key != "richards":
        middle = float(curve(key).value(70.0, parameters)) / 20.0
        assert middle == pytest.approx(curve(key).at_midpoint, rel=1e-9)


@pytest.mark.parametrize("key", sorted(CURVES))
def test_slopes_agree_with_differences(key: str) -> None:
    """Second opinion: central differences (scipy.optimize.approx_fprime)."""
    family = CURVES[key]
    parameters = np.array([20.0, 70.0, 40.0] + ([0.4] if key == "richards" else []))
    for age in (30.0, 75.0, 200.0):
        numeric = optimize.approx_fprime(
            parameters, lambda p, age=age: float(family.value(age, p)), 1e-6
        )
        assert family.gradient([age], parameters)[0] == pytest.approx(numeric, rel=1e-3, abs=1e-5)
    assert family.latex.startswith("y = ")


@pytest.mark.parametrize("key", ["gompertz", "logistic", "von_bertalanffy", "monomolecular"])
def test_a_fit_agrees_with_curve_fit(key: str) -> None:
    """Second opinion: scipy.optimize.curve_fit with numerical derivatives."""
    family, rng = CURVES[key], np.random.default_rng(3)
    ages = np.arange(21.0, 300.0, 14.0)
    values = family.value(ages, [14.0, 60.0, 45.0]) + 0.2 * rng.standard_normal(ages.size)
    weights = rng.uniform(0.5, 2.0, ages.size)
    own = fit(key, ages, values, weights)
    other, covariance = optimize.curve_fit(
        lambda t, a, c, b: family.value(t, [a, c, b]), ages, values, [14.0, 60.0, 45.0],
        sigma=weights**-0.5, absolute_sigma=False, xtol=1e-12, ftol=1e-12,
    )  # fmt: skip
    assert own.estimates == pytest.approx(other, rel=1e-4)
    assert own.covariance == pytest.approx(covariance, rel=2e-2)


@settings(max_examples=25, deadline=None)
@given(
    adult=st.floats(2.0, 70.0), midpoint=st.floats(45.0, 120.0), pace=st.floats(30.0, 80.0),
    key=st.sampled_from(["gompertz", "logistic", "von_bertalanffy"]),
)  # fmt: skip
def test_an_exact_curve_is_found_again(
    adult: float, midpoint: float, pace: float, key: str
) -> None:
    ages = np.arange(21.0, midpoint + 4.0 * pace, 14.0)
    values = CURVES[key].value(ages, [adult, midpoint, pace])
    found = fit(key, ages[values > 0], values[values > 0])
    assert found.estimates == pytest.approx([adult, midpoint, pace], rel=1e-5)


def test_order_and_unit_do_not_matter() -> None:
    ages = np.arange(21.0, 200.0, 10.0)
    values = CURVES["gompertz"].value(ages, [12.0, 65.0, 45.0]) * (1 + 0.02 * np.sin(ages))
    one = fit("gompertz", ages, values, ErrorModel(0.0, 0.02))
    shuffled = np.random.default_rng(1).permutation(ages.size)
    two = fit("gompertz", ages[shuffled], 1000.0 * values[shuffled], ErrorModel(0.0, 0.02))
    assert two.estimates == pytest.approx(one.estimates * [1000.0, 1.0, 1.0], rel=1e-7)


def test_bands_widen_beyond_the_readings_and_hold_further_readings() -> None:
    ages = np.arange(21.0, 150.0, 7.0)
    values = CURVES["gompertz"].value(ages, [12.0, 65.0, 45.0]) * (1 + 0.02 * np.sin(3 * ages))
    own = fit("gompertz", ages, values, error_model(Kind.MASS))
    curve_band = own.band([100.0, 300.0], 0.9)
    reading = own.band([100.0, 300.0], 0.9, of="reading")
    relative = (curve_band.high - curve_band.low) / curve_band.value
    assert relative[1] > 2.0 * relative[0]
    assert np.all(reading.low < curve_band.low)
    assert np.all(reading.high > curve_band.high)
    assert np.all(own.band([1.0, 5.0]).low > 0)


def test_the_right_curve_wins_the_comparison() -> None:
    ages = np.arange(21.0, 400.0, 7.0)
    rng = np.random.default_rng(5)
    values = CURVES["logistic"].value(ages, [12.0, 90.0, 30.0]) + 0.1 * rng.standard_normal(
        ages.size
    )
    rows = compare(ages, values)
    assert rows[0].model in ("logistic", "richards")
    assert sum(row.weight for row in rows) == pytest.approx(1.0)
    behind = {row.model: row.behind for row in rows}
    assert behind["gompertz"] > 10.0


def test_aicc_by_hand() -> None:
    """AICc = n ln(RSS/n) + n (ln 2 pi + 1) + 2k + 2k(k+1)/(n-k-1), with k = 4 (normal errors)."""
    ages = np.arange(21.0, 150.0, 10.0)
    values = CURVES["gompertz"].value(ages, [12.0, 65.0, 45.0]) + 0.1 * np.sin(ages)
    own = fit("gompertz", ages, values)
    size, count = ages.size, 4
    expected = size * (math.log(own.rss / size) + math.log(2 * math.pi) + 1) + 2 * count
    expected += 2 * count * (count + 1) / (size - count - 1)
    assert own.aicc == pytest.approx(expected, rel=1e-12)


BAD = [
    ([1, 2, 3], [1, 2], EstimationError, "two lists"),
    ([1, 2, 3, float("nan")], [1, 2, 3, 4], EstimationError, "finite"),
    ([1, 2, 3, 4, 5], [1, 2, 3, float("inf"), 5], EstimationError, "finite"),
    ([30, 40, 50, 60, 70], [0, 0, 0, 0, 0], NotSupportedError, "rises through"),
    ([30, 40, 50, 60, 70], [-1, -2, -3, -4, -5], NotSupportedError, "rises through"),
    ([30, 40, 50, 60, 70], [5, 4, 3, 2, 1], NotSupportedError, "rises through"),
    ([30, 40, 50], [1, 2, 3], NotSupportedError, "too few"),
    ([30, 30, 30, 30, 30], [1, 2, 3, 4, 5], NotSupportedError, "too few"),
    ([30, 40, 50, 60, 70, 80], [6, 5, 4, 3, 2, 1], NotSupportedError, "no Gompertz curve rises"),
]


@pytest.mark.parametrize(("age", "value", "fault", "words"), BAD)
def test_readings_that_bear_no_curve_are_refused(
    age: list[float], value: list[float], fault: type[Exception], words: str
) -> None:
    with pytest.raises(fault, match=words):
        fit("gompertz", age, value)


def test_unknown_names_are_refused() -> None:
    with pytest.raises(DataFileError, match="no growth curve"):
        fit("brody", [1, 2, 3], [1, 2, 3])
    with pytest.raises(EstimationError, match="no parameter 'width'"):
        fit("gompertz", [1, 2, 3, 4, 5], [1, 2, 3, 4, 5], shared={"width": 1.0})
    with pytest.raises(EstimationError, match="unusable weights"):
        fit("gompertz", [1, 2, 3, 4, 5], [1, 2, 3, 4, 5], weights=[1, 1, 1, 1, 0])


def test_an_adult_size_is_refused_early_and_says_what_would_help() -> None:
    ages = np.arange(21.0, 64.0, 7.0)
    rng = np.random.default_rng(2)
    values = CURVES["gompertz"].value(ages, [12.0, 68.0, 47.0])
    values = values * (1 + 0.03 * rng.standard_normal(ages.size))
    own = fit("gompertz", ages, values, error_model(Kind.MASS))
    with pytest.raises(NotSupportedError, match="measure weekly until about") as told:
        adult_size(own)
    until = float(str(told.value.do).split("about ")[1].split(" weeks")[0])
    assert 10 < until < 40


@pytest.mark.parametrize(
    "row", toml_rows("growth.toml", "fastest"), ids=lambda r: f"day {r['day']}"
)
def test_the_fastest_growth_seen(row: dict[str, float]) -> None:
    assert float(reference().fastest.factor(row["day"])) == pytest.approx(row["factor"], abs=1e-4)


@pytest.mark.parametrize("row", toml_rows("growth.toml", "printed_age"), ids=lambda r: r["source"])
def test_shipped_curves_pass_the_printed_ages(row: dict[str, float | str]) -> None:
    shipped = {one.key: one for one in reference().curves}[str(row["key"])]
    days = shipped.curve.age_at(float(row["part"]), shipped.parameters)
    assert days == pytest.approx(float(row["days"]), abs=float(row["within"]))


def test_every_published_figure_says_how_it_was_had() -> None:
    known = reference()
    assert len(known.waypoints) >= 10
    for one in (*known.curves, *known.waypoints, known.fastest):
        assert one.source
        assert one.status in ("read in a copy", "derived", "from memory")
    for shipped in known.curves:
        assert np.isnan(shipped.at(shipped.to_days + 1.0))
        assert np.isnan(shipped.at(shipped.from_days - 1.0))
