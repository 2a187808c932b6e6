"""What is said of a population holds against printed data, second opinions and invented truths."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from published_tables import worked_examples
from scipy import stats

from kit.protocol.catalogue import catalogue
from kit.quantities.errors import EstimationError
from kit.quantities.kinds import Kind
from kit.standards.standard import load_standard
from kit.survey.again import Norm, apart, norms_of, to_measure_again, without_doubtful
from kit.survey.clauses import clause_shares
from kit.survey.dogs import SurveyTable
from kit.survey.groups import Grouping, figures_by, gaps, groupings
from kit.survey.program import TraitColumn
from kit.survey.relations import allometry, trends
from kit.survey.robust import biweight, centile_with_interval
from kit.survey.shape import ERROR_ALONE, shape
from kit.survey.summary import by_group, compare_populations, contrast, summarise

PENGUINS = worked_examples("reliability.json")["penguins"]
STANDARD = load_standard("common-practice-terrier")
DEMO = Path(__file__).parents[1] / "data" / "demo_survey.csv.gz"


@pytest.fixture(scope="module")
def demo(whole_survey: SurveyTable) -> SurveyTable:
    return whole_survey


def column_table(key: str, values: Sequence[float], errors: float = 0.0) -> SurveyTable:
    """Return a survey of one trait."""
    n = len(values)
    nothing = ("",) * n
    column = TraitColumn(key, np.asarray(values), np.full(n, errors), np.full(n, 50.0))
    return SurveyTable(tuple(map(str, range(n))), nothing, nothing, nothing,
                       np.full(n, np.nan), {}, {}, {key: column})  # fmt: skip


# ---- printed


def test_penguins_by_species_are_as_printed() -> None:
    # Palmer penguins: 344 birds, two without a mass; means printed to the gram.
    expected, mass = PENGUINS["expected"], PENGUINS["data"]["mass"]
    values = np.array([m for own in mass.values() for m in own], dtype=float)
    labels = tuple(name for name, own in mass.items() for _ in own)
    assert values.size == expected["n"]
    whole = summarise(values)
    assert (whole.count, whole.missing) == (342, 2)
    assert whole.mean == pytest.approx(expected["mass_all"], abs=1e-6)
    for species, own in by_group(values, labels).items():
        assert own.count + own.missing == expected[f"n_{species.lower()}"]
        assert own.mean == pytest.approx(expected[f"mass_{species.lower()}"], abs=0.51)


def _exact(mean: float, sd: float, count: int) -> np.ndarray:  # type: ignore[type-arg]
    """Return values with exactly this mean and standard deviation."""
    z = stats.norm.ppf((np.arange(count) + 0.5) / count)
    return mean + sd * (z - z.mean()) / z.std(ddof=1)


def test_two_published_samples_of_one_breed_are_compared_as_from_their_figures() -> None:
    # Akbash: Urosevic 2020, 96 dogs, 65.22 (SD 3.99); Bitlis Eren 1(2), 59 dogs, 75.3 (SE 0.59).
    sd = 0.59 * math.sqrt(59)
    first, second = _exact(75.3, sd, 59), _exact(65.22, 3.99, 96)
    found = contrast(first, second)
    assert found.first.standard_error == pytest.approx(0.59, rel=1e-9)
    printed = stats.ttest_ind_from_stats(75.3, sd, 59, 65.22, 3.99, 96, equal_var=False)
    assert found.p_value == pytest.approx(printed.pvalue, rel=1e-6)
    assert found.difference == pytest.approx(10.08, abs=1e-9)


# ---- second opinions


@pytest.mark.parametrize("count", [6, 25, 120])
@pytest.mark.parametrize("percent", [5.0, 50.0, 95.0])
def test_the_exact_bootstrap_is_what_drawing_comes_to(count: int, percent: float) -> None:
    values = np.sort(np.random.default_rng(count).normal(0, 1, count))
    drawn = values[np.random.default_rng(1).integers(count, size=(20_000, count))]
    centiles = np.quantile(drawn, percent / 100, axis=1, method="median_unbiased")
    value, low, high = centile_with_interval(values, percent)
    assert value == pytest.approx(np.quantile(values, percent / 100, method="median_unbiased"))
    room = 0.12 * (values[-1] - values[0]) if count < 20 else 0.03 * (values[-1] - values[0])
    assert (low, high) == pytest.approx(np.quantile(centiles, [0.025, 0.975]), abs=room)


def test_one_misread_tape_moves_neither_middle_nor_spread() -> None:
    generator = np.random.default_rng(3)
    clean = generator.normal(10.0, 1.0, (400, 200))
    middle, variance = biweight(clean)
    assert np.mean(middle) == pytest.approx(10.0, abs=0.01)
    assert np.mean(variance) == pytest.approx(1.0, abs=0.02)
    spoiled = clean.copy()
    spoiled[:, 0] *= 2.54
    assert np.abs(biweight(spoiled)[0] - middle).max() < 0.03
    assert biweight(spoiled)[1] == pytest.approx(variance, rel=0.06)


def test_values_that_hardly_differ_have_the_plain_variance() -> None:
    middle, variance = biweight(np.array([[5.0, 5.0, 5.0, 5.0, 6.0]]))
    assert (middle[0], variance[0]) == pytest.approx((5.2, 0.2))


@pytest.mark.parametrize("misread", [0.0, 0.02])
def test_the_interval_of_a_share_holds_the_true_share(misread: float) -> None:
    # True spread 0.03, error 0.02, the limits one true spread either side: 68.3 % truly within.
    generator = np.random.default_rng(77)
    key = "chest_depth_to_height"
    clause = replace(STANDARD.clauses[0], trait=key, low=0.47, high=0.53)
    standard = replace(STANDARD, clauses=(clause,))
    held = 0
    for _ in range(60):
        values = 0.50 + generator.normal(0, 0.03, 250) + generator.normal(0, 0.02, 250)
        wrong = generator.random(250) < misread
        values[wrong] *= 2.54
        (found,) = clause_shares(column_table(key, values, 0.02), standard)
        held += found.low <= 0.6827 <= found.high
    assert held / 60 > 0.86


def test_growth_with_size_is_told_without_the_error_of_measuring() -> None:
    # A part that keeps its proportion exactly, measured five times as badly as the height.
    generator = np.random.default_rng(8)
    height = 40 * np.exp(generator.normal(0, 0.05, 1500))
    read = height + generator.normal(0, 0.4, 1500)
    part = 0.3 * height + generator.normal(0, 0.6, 1500)
    errors = np.full(1500, 0.6), np.full(1500, 0.4)
    plain, without = allometry(part, read), allometry(part, read, *errors)
    assert plain.exponent > 1.2
    assert without.keeps_proportion
    assert without.exponent == pytest.approx(1.0, abs=0.06)
    assert without.correlation > 0.97
    with pytest.raises(EstimationError, match="error of measuring"):
        allometry(12 + generator.normal(0, 0.6, 1500), read, *errors)


def test_a_component_is_of_the_dogs_and_not_of_the_hand() -> None:
    generator = np.random.default_rng(30)
    size, length = generator.normal(0, 0.05, 400), generator.normal(0, 0.03, 400)
    true = {
        "height_at_withers": 40 * np.exp(size), "chest_depth": 20 * np.exp(size),
        "back_length": 28 * np.exp(size + length), "loin_length": 6 * np.exp(size),
        "muzzle_length": np.full(400, 8.0),
    }  # fmt: skip
    hand = {"loin_length": 0.6, "muzzle_length": 0.4}
    read = {k: v + generator.normal(0, hand.get(k, 0.1), 400) for k, v in true.items()}
    errors = {key: np.full(400, hand.get(key, 0.1)) for key in true}
    read["chest_depth"][:150] = np.nan
    found = shape(read, errors, count=2)
    assert found.dogs == 400
    assert dict(found.left_out) == {"muzzle_length": ERROR_ALONE}
    first, second = found.components
    assert first.loadings["loin_length"] == pytest.approx(
        first.loadings["height_at_withers"], rel=0.25
    )
    assert max(second.loadings, key=lambda key: abs(second.loadings[key])) == "back_length"
    assert max(shape(read, count=2).components[1].loadings.items(), key=lambda r: abs(r[1]))[0] in {
        "loin_length", "muzzle_length"
    }  # fmt: skip


def test_trends_are_adjusted_for_how_many_were_asked() -> None:
    generator = np.random.default_rng(4)
    years = np.repeat([2020.0, 2022.0, 2024.0], 60)
    columns = {f"x{n}": generator.normal(0, 1, 180) for n in range(30)}
    columns["rising"] = 0.4 * (years - 2022) + generator.normal(0, 1, 180)
    found = trends(years, columns)
    assert {key for key, one in found.items() if one.p_adjusted < 0.05} == {"rising"}
    assert found["rising"].low < 0.4 < found["rising"].high
    assert trends(np.full(180, 2020.0), columns) == {}


def test_groups_that_differ_are_told_from_those_that_do_not() -> None:
    generator = np.random.default_rng(2)
    labels = tuple("abc"[n % 3] for n in range(180))
    moved = generator.normal(0, 1, 180) + np.where(np.array(labels) == "c", 1.5, 0.0)
    table = replace(column_table("head_to_height", moved), line=labels)
    (one,) = figures_by(table, Grouping("line", labels), ["head_to_height"])
    groups = [moved[np.array(labels) == name] for name in "abc"]
    assert one.p_value == pytest.approx(stats.alexandergovern(*groups).pvalue)
    assert one.p_adjusted < 1e-6
    assert list(one.groups) == ["a", "b", "c"]


def test_dogs_all_alike_are_compared_with_nothing() -> None:
    columns = {"a": np.full(9, 0.3), "b": np.arange(9.0)}
    found = compare_populations(columns, columns)
    assert list(found) == ["b"]
    assert found["b"].overlap == 0.5


# ---- the invented survey


def test_the_missing_scales_are_named_with_their_year(demo: SurveyTable) -> None:
    weight = gaps(demo)[0]
    assert (weight.key, weight.missing, weight.worst) == ("weight", 46, "year 2026")
    assert [one.name for one in groupings(demo)] == ["sex", "age", "line", "year"]


def test_what_was_swapped_and_what_was_pounds_is_named(demo: SurveyTable) -> None:
    reasons = {(a.dog, a.measurement): a.reason for a in to_measure_again(demo, catalogue())}
    assert "chest breadth" in reasons["dog-286", "chest_depth"]
    assert "chest depth" in reasons["dog-286", "chest_breadth"]
    assert "pounds" in reasons["dog-202", "weight"]


def test_doubtful_values_are_set_aside_only_where_it_is_said(demo: SurveyTable) -> None:
    again = to_measure_again(demo, catalogue())
    sound = without_doubtful(demo, again)
    lost = sum(
        int(np.isfinite(demo.values[k]).sum() - np.isfinite(sound.values[k]).sum())
        for k in demo.values
    )
    assert lost == len(again)
    assert np.isfinite(demo.values["head_length"][demo.dogs.index("dog-087")])


def test_dogs_of_another_file_are_held_to_what_these_have(demo: SurveyTable) -> None:
    norms = norms_of(demo, catalogue())
    values = {key: np.array([norm.typical]) for key, norm in norms.items()}
    assert apart(values, norms, ["middling"]) == ()
    values["neck_length"] = np.array([norms["neck_length"].typical * 2.0])
    (found,) = apart(values, norms, ["odd"])
    assert (found.dog, found.measurement) == ("odd", "neck_length")
    nothing = {key: np.array([math.nan]) for key in norms}
    assert apart(nothing, norms, ["unmeasured"]) == ()
    assert isinstance(norms["weight"], Norm)
    assert norms["weight"].kind is Kind.MASS
