"""Centiles by LMS: evaluated against WHO's printed lines, fitted against Box-Cox of SciPy."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_tables import toml_rows, worked_examples
from scipy import stats

from kit.growth.errors import NotSupportedError
from kit.growth.lms import (
    NINE_NAMES,
    NINE_SCORES,
    Centiles,
    centile_of,
    score_of,
    score_of_centile,
    size_at,
)
from kit.growth.lms_fitting import Smoothness, fit_lms
from kit.quantities.errors import EstimationError

REFERENCES = worked_examples("growth.json")


def who(key: str) -> tuple[dict[str, Any], np.ndarray, Centiles]:
    """Return a row of WHO 2006, its ages in days, and its L, M and S as a reference."""
    row = REFERENCES[key]
    data = {name: np.array(row["data"][name]) for name in ("month", "L", "M", "S")}
    days = data["month"] * 30.4375
    return row, days, Centiles("WHO", row["source"], days, data["L"], data["M"], data["S"])


@pytest.mark.parametrize("key", ["who_lhfa_girls", "who_lhfa_boys"])
def test_who_standard_deviation_lines(key: str) -> None:
    """WHO 2006, length for age: lines printed to 0.1 cm, so half of that and rounding."""
    row, days, table = who(key)
    lines = table.lines(days, row["data"]["z"]).T
    assert np.max(np.abs(lines - np.array(row["expected"]["SD_lines"]))) <= row["tolerance"]
    assert table.scores(days, lines[:, 4]) == pytest.approx(np.ones(days.size), abs=1e-9)


@pytest.mark.parametrize("key", ["who_lhfa_girls", "who_lhfa_boys"])
def test_who_scores_of_the_printed_lines(key: str) -> None:
    """The other way: lines printed to 0.1 cm have their z-scores, as near as rounding lets them."""
    row, days, table = who(key)
    printed = np.array(row["expected"]["SD_lines"])
    _, median, variation = table.at(days)
    rounding = row["tolerance"] / (median * variation)
    for at, score in enumerate(row["data"]["z"]):
        assert np.all(np.abs(table.scores(days, printed[:, at]) - score) <= rounding * 1.001)


@pytest.mark.slow
def test_who_lengths_are_found_again_by_a_fit() -> None:
    """3,000 lengths drawn from WHO's L, M and S of girls: M within 0.5 %, S within 8 % of it."""
    _, days, table = who("who_lhfa_girls")
    rng = np.random.default_rng(12)
    ages = rng.uniform(30.0**0.5, days[-1] ** 0.5, 3000) ** 2
    sizes = size_at(rng.standard_normal(3000), *table.at(ages))
    own = fit_lms(ages, sizes, np.arange(3000), "girls", "drawn from WHO 2006", Smoothness(1, 9, 3))
    at = days[(days > 60.0) & (days < days[-1])]
    _, median, variation = own.at(at)
    _, true_median, true_variation = table.at(at)
    assert median == pytest.approx(true_median, rel=0.005)
    assert variation == pytest.approx(true_variation, rel=0.08)


def test_who_score_of_one_boy() -> None:
    """Formula identity only: the source prints no number (see its note)."""
    row = REFERENCES["who_z_lfa"]
    data = row["data"]
    score = score_of(data["x"], data["L"], data["M"], data["S"])
    assert float(score) == pytest.approx(row["expected"]["z"], abs=row["tolerance"])


@pytest.mark.parametrize("row", toml_rows("growth.toml", "lms"), ids=lambda r: r["source"])
def test_sizes_at_scores(row: dict[str, float]) -> None:
    size = size_at(row["score"], row["skew"], row["median"], row["variation"])
    assert float(size) == pytest.approx(row["size"], abs=1e-9)


@pytest.mark.parametrize("row", toml_rows("growth.toml", "centile"), ids=lambda r: r["centile"])
def test_scores_of_centiles(row: dict[str, float]) -> None:
    assert score_of_centile(row["centile"]) == pytest.approx(row["score"], abs=1e-4)


def test_the_nine_lines_round_to_their_published_names() -> None:
    """Lines two thirds of a standard deviation apart; the names are their centiles rounded."""
    assert np.diff(NINE_SCORES) == pytest.approx(np.full(8, 2 / 3))
    for name, centile in zip(NINE_NAMES, centile_of(NINE_SCORES), strict=True):
        decimals = 1 if "." in name else 0
        assert float(name) == pytest.approx(round(float(centile), decimals))


@given(
    score=st.floats(-3, 3), skew=st.floats(-1.5, 1.5), median=st.floats(0.2, 60),
    variation=st.floats(0.03, 0.2),
)  # fmt: skip
def test_a_score_and_its_size_belong_together(
    score: float, skew: float, median: float, variation: float
) -> None:
    size = size_at(score, skew, median, variation)
    assert float(score_of(size, skew, median, variation)) == pytest.approx(score, abs=1e-6)


def test_a_reference_is_not_extended() -> None:
    table = Centiles("T", "S", np.array([10.0, 20.0]), np.ones(2), np.array([5.0, 6.0]),
                     np.full(2, 0.1))  # fmt: skip
    assert not table.covers(25.0)
    with pytest.raises(EstimationError, match="does not cover"):
        table.scores([25.0], [6.0])
    with pytest.raises(EstimationError, match="no reference"):
        Centiles("T", "S", np.array([10.0, 5.0]), np.ones(2), np.ones(2), np.ones(2))


def test_with_constant_curves_the_fit_is_box_cox() -> None:
    """Second opinion: scipy.stats.boxcox finds the same power by the same likelihood."""
    rng = np.random.default_rng(8)
    sizes = 12.0 * np.exp(0.15 * rng.standard_normal(400)) ** 1.3 + 3.0
    ages = np.full(400, 200.0) + rng.uniform(0, 1e-6, 400)
    own = fit_lms(ages, sizes, np.arange(400), "T", "S", Smoothness(1, 1, 1))
    _, power = stats.boxcox(sizes)
    assert own.skew[0] == pytest.approx(power, abs=0.01)
    transformed = (sizes / own.median[0]) ** own.skew[0]
    assert transformed.mean() == pytest.approx(1.0, abs=1e-4)
    spread = ((transformed - 1.0) / own.skew[0]).std()
    assert own.variation[0] == pytest.approx(spread, rel=1e-3)


def test_a_known_reference_is_found_again() -> None:
    """400 dogs drawn from known L, M and S: each line within four of its standard errors or 3 %."""
    rng = np.random.default_rng(4)
    ages = rng.uniform(30.0, 365.0, 1600)
    median = 20.0 * np.exp(-np.exp(-(ages - 80.0) / 55.0))
    sizes = size_at(rng.standard_normal(1600), -0.3, median, 0.12)
    own = fit_lms(ages, sizes, np.arange(1600) // 4, "T", "S")
    at = np.array([60.0, 120.0, 240.0, 340.0])
    _, middle, variation = own.at(at)
    assert middle == pytest.approx(20.0 * np.exp(-np.exp(-(at - 80.0) / 55.0)), rel=0.03)
    assert variation == pytest.approx(np.full(4, 0.12), rel=0.12)
    below = np.mean(own.scores(ages, sizes) < score_of_centile(9.0))
    assert below == pytest.approx(0.09, abs=0.02)


def test_ages_before_birth_make_no_centiles() -> None:
    ages = np.linspace(-5.0, 300.0, 120)
    with pytest.raises(EstimationError, match="ages from birth on"):
        fit_lms(ages, ages + 10.0, np.arange(120), "T", "S")


def test_too_few_dogs_make_no_centiles() -> None:
    ages = np.linspace(30.0, 300.0, 120)
    with pytest.raises(NotSupportedError, match="120 readings of 6 dogs"):
        fit_lms(ages, ages, np.arange(120) % 6, "T", "S")
