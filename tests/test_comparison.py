"""Two dogs in one trait: differences, and whether they can be told."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from kit.estimation.simulation import Simulation
from kit.quantities.errors import EstimationError
from kit.standards.comparison import compare, compare_all, expected_by_chance
from kit.traits.declarations import trait
from kit.traits.estimates import TraitEstimate
from kit.traits.three_tapes import angle_from_tapes

SOME = angle_from_tapes((3, 4, 5), (0.1, 0.1, 0.1))
KEY = "length_to_height_from_prosternum"


def _estimate(
    value: float, u: float, dof: float = math.inf, draws: np.ndarray | None = None,
    key: str = KEY,
) -> TraitEstimate:  # fmt: skip
    drawn = None if draws is None else Simulation(np.sort(draws), 0.0)
    return replace(SOME, trait=trait(key), value=value, uncertainty=u, dof=dof, simulation=drawn)


@pytest.mark.parametrize(
    ("means", "deviations", "counts"),
    [((1.08, 1.22), (0.03, 0.05), (6, 9)), ((5.0, 4.0), (1.0, 2.5), (4, 12)),
     ((0.5, 0.5), (0.1, 0.1), (3, 3))],
)  # fmt: skip
def test_two_means_compare_as_scipys_welch_test(
    means: tuple[float, float], deviations: tuple[float, float], counts: tuple[int, int]
) -> None:
    """Outside check: scipy.stats.ttest_ind_from_stats with unequal variances."""
    first, second = (
        _estimate(mean, deviation / math.sqrt(count), count - 1)
        for mean, deviation, count in zip(means, deviations, counts, strict=True)
    )
    outside = stats.ttest_ind_from_stats(
        means[0], deviations[0], counts[0], means[1], deviations[1], counts[1], equal_var=False
    )
    one_sided = outside.pvalue / 2
    found = compare(first, second)
    chance_less = min(found.chance_more, 1 - found.chance_more)
    assert chance_less == pytest.approx(one_sided, rel=1e-9)
    assert found.can_be_told == (outside.pvalue < 0.05)
    # The interval and the test are one thing: its half-width is t(0.975) times the error.
    dof = _welch_dof(deviations, counts)
    error = math.hypot(*(d / math.sqrt(n) for d, n in zip(deviations, counts, strict=True)))
    half = stats.t.ppf(0.975, dof) * error
    assert found.high95 - found.value == pytest.approx(half, rel=1e-9)
    assert found.value - found.low95 == pytest.approx(half, rel=1e-9)


def _welch_dof(deviations: tuple[float, float], counts: tuple[int, int]) -> float:
    """Welch 1947, as printed in JCGM 100:2008, G.4.1."""
    parts = [d**2 / n for d, n in zip(deviations, counts, strict=True)]
    return sum(parts) ** 2 / sum(p**2 / (n - 1) for p, n in zip(parts, counts, strict=True))


def test_simulated_figures_compare_as_exponential_waiting_times_do() -> None:
    """Outside check: P(X > Y) = b / (a + b) for exponentials of rates a, b (identity)."""
    generator = np.random.default_rng(1)
    first = _estimate(1.0, 1.0, draws=generator.exponential(1 / 1.0, 20_000))
    second = _estimate(1 / 3, 1 / 3, draws=generator.exponential(1 / 3.0, 20_000))
    # Three standard errors of 20 000 draws, and as much for the draws drawn from.
    assert compare(first, second).chance_more == pytest.approx(0.75, abs=0.02)


def test_a_simulated_normal_compares_like_a_linear_one() -> None:
    generator = np.random.default_rng(2)
    drawn = _estimate(100.0, 3.0, draws=generator.normal(100.0, 3.0, 20_000), key="shoulder_angle")
    linear = _estimate(104.0, 4.0, key="shoulder_angle")
    found = compare(drawn, linear)
    # The difference of two normals: mean −4, deviation 5, so 1.96 × 5 = 9.8 to either side.
    assert found.value == -4.0
    assert found.uncertainty == pytest.approx(5.0, rel=0.03)
    assert (found.low95, found.high95) == pytest.approx((-13.8, 5.8), abs=0.35)
    assert not found.can_be_told


def test_the_same_dog_twice_cannot_be_told_apart() -> None:
    dog = _estimate(1.08, 0.02)
    found = compare(dog, dog)
    assert found.chance_more == pytest.approx(0.5)
    assert not found.can_be_told


def test_a_difference_turns_round_with_its_dogs() -> None:
    one, other = _estimate(1.08, 0.02, 8), _estimate(1.20, 0.03, 5)
    there, back = compare(one, other), compare(other, one)
    assert there.value == -back.value
    assert there.chance_more == pytest.approx(1 - back.chance_more)
    assert (there.low95, there.high95) == pytest.approx((-back.high95, -back.low95))


def test_figures_without_any_error_compare_as_numbers() -> None:
    assert compare(_estimate(2.0, 0.0), _estimate(1.0, 0.0)).chance_more == 1.0
    assert compare(_estimate(1.0, 0.0), _estimate(1.0, 0.0)).chance_more == 0.5


def test_two_traits_are_not_compared() -> None:
    with pytest.raises(EstimationError, match="one trait"):
        compare(_estimate(1.0, 0.1), _estimate(90.0, 3.0, key="shoulder_angle"))


def test_every_pair_stands_once_with_more_first_and_the_clearest_on_top() -> None:
    dogs = {name: _estimate(value, 0.02) for name, value in
            (("A", 1.0), ("B", 1.2), ("C", 1.05), ("D", 1.05))}  # fmt: skip
    pairs = compare_all(dogs)
    assert len(pairs) == 6
    assert (pairs[0].first, pairs[0].second) == ("B", "A")
    assert all(pair.value >= 0 for pair in pairs)
    chances = [pair.chance_more for pair in pairs]
    assert chances == sorted(chances, reverse=True)


def test_one_pair_in_twenty_looks_different_by_chance() -> None:
    """Dogs that are alike: the share of pairs told apart is the 5 % the interval allows."""
    generator = np.random.default_rng(3)
    u = 0.03
    pairs = [
        compare(_estimate(one, u), _estimate(other, u))
        for one, other in generator.normal(1.08, u, (4000, 2))
    ]
    told = sum(pair.can_be_told for pair in pairs)
    # Four standard errors of a binomial count.
    assert told == pytest.approx(expected_by_chance(pairs), abs=4 * math.sqrt(4000 * 0.05 * 0.95))
