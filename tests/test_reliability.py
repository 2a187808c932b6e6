"""Agreement between hands and repeats, against printed examples and certified values."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from published_tables import worked_examples

from kit import reliability
from kit.protocol.catalogue import catalogue
from kit.quantities.errors import DataFileError, EstimationError
from kit.reliability.design import design, designs_for
from kit.reliability.mean_squares import mean_squares
from kit.reliability.own_errors import own_errors, own_errors_text, with_own_errors
from kit.reliability.study import Taken, study
from kit.reliability.variance import variance_components
from kit.standards.seen import cohen_kappa

PUBLISHED = worked_examples("reliability.json")
SHROUT_FLEISS = PUBLISHED["shrout_fleiss"]
METERS = PUBLISHED["bland_altman_1986"]["data"]


# ---- intraclass correlation


@pytest.mark.parametrize("form", ["1,1", "2,1", "3,1", "1,k", "2,k", "3,k"])
def test_every_form_and_its_interval_are_as_published(form: str) -> None:
    one = reliability.icc(SHROUT_FLEISS["data"])[form]
    assert (one.value, one.low, one.high) == pytest.approx(
        SHROUT_FLEISS["expected"][form], abs=5e-9
    )


def test_the_interval_in_circulation_is_not_what_we_give() -> None:
    # A public test file prints 0.078-0.740 for form 2,1; the printed equations give 0.019-0.761.
    one = reliability.icc(SHROUT_FLEISS["data"])["2,1"]
    assert (one.low, one.high) != pytest.approx((0.0781413, 0.7398028), abs=0.01)


def test_mean_squares_are_as_published() -> None:
    s = mean_squares(SHROUT_FLEISS["data"])
    assert (s.between, s.within, s.measurers, s.residual) == pytest.approx(
        SHROUT_FLEISS["squares"], abs=1e-9
    )
    assert reliability.icc(SHROUT_FLEISS["data"]).satterthwaite == pytest.approx(
        SHROUT_FLEISS["satterthwaite"], abs=1e-8
    )


def test_a_form_is_found_by_its_number_of_readings() -> None:
    found = reliability.icc(SHROUT_FLEISS["data"])
    assert found["2,4"] == found["2,k"]
    with pytest.raises(EstimationError, match="no such form"):
        found["4,1"]


@pytest.mark.parametrize(
    ("name", "tolerance"),
    [("nist_anova_sirstv", 1e-10), ("nist_anova_atmwtag", 1e-6), ("nist_anova_smls01", 1e-12)],
)
def test_one_way_analysis_meets_the_certified_values(name: str, tolerance: float) -> None:
    # AtmWtAg: seven equal leading digits leave about nine of sixteen for what differs.
    row = PUBLISHED[name]
    groups = np.array(list(row["data"].values()))
    found = mean_squares(groups)
    dogs, readings = groups.shape
    assert found.between * (dogs - 1) == pytest.approx(row["expected"]["SSB"], rel=tolerance)
    assert found.within * dogs * (readings - 1) == pytest.approx(
        row["expected"]["SSW"], rel=tolerance
    )
    assert found.between / found.within == pytest.approx(row["expected"]["F"], rel=tolerance)


def test_a_table_with_a_hole_is_refused_and_says_so() -> None:
    with pytest.raises(EstimationError, match="1 cells"):
        reliability.icc([[1.0, 2.0], [3.0, float("nan")], [1.0, 1.5]])


# ---- technical error


@pytest.mark.parametrize(("meter", "columns"), [("wright", 2), ("mini", 2)])
def test_technical_error_of_two_readings(meter: str, columns: int) -> None:
    table = np.array([METERS[f"{meter}{i + 1}"] for i in range(columns)]).T
    found = reliability.tem(table)
    expected = PUBLISHED["technical_error"]["expected"][meter]
    assert (found.tem, found.percent, found.reliability) == pytest.approx(expected, rel=1e-9)
    assert found.low < found.tem < found.high


def test_technical_error_of_four_readings_is_the_root_of_the_mean_square_within() -> None:
    assert reliability.tem(SHROUT_FLEISS["data"]).tem == pytest.approx(
        SHROUT_FLEISS["tem"], abs=5e-10
    )


def test_coefficients_of_repeatability_are_as_printed_in_1986() -> None:
    # Two standard deviations about zero; the paper rounded the deviation before doubling it.
    printed = PUBLISHED["bland_altman_repeat"]["expected"]
    for meter in ("wright", "mini"):
        found = reliability.tem(np.array([METERS[f"{meter}{i}"] for i in (1, 2)]).T)
        assert found.tem == pytest.approx(printed[f"sw_{meter}"], abs=0.05)
        assert 2.0 * np.sqrt(2.0) * found.tem == pytest.approx(printed[f"rc_{meter}"], abs=0.1)
        assert found.repeatability == pytest.approx(1.96 * np.sqrt(2.0) * found.tem, rel=1e-4)


def test_dogs_read_once_are_counted_and_tell_nothing() -> None:
    table = np.array([[10.0, 11.0], [20.0, np.nan], [30.0, 29.0]])
    found = reliability.tem(table)
    assert (found.dogs, found.left_out) == (2, 1)
    assert found.tem == pytest.approx(np.sqrt((1.0 + 1.0) / 4.0))


def test_the_interval_of_the_technical_error_covers_it() -> None:
    # Second opinion by simulation: 95 % of intervals hold the true error of 0.4.
    generator = np.random.default_rng(11)
    held = 0
    for _ in range(2000):
        found = reliability.tem(50 + generator.normal(0, 0.4, (20, 2)))
        held += found.low <= 0.4 <= found.high
    assert held / 2000 == pytest.approx(0.95, abs=0.015)


# ---- Bland and Altman


def test_limits_of_agreement_are_as_published() -> None:
    row = PUBLISHED["bland_altman_1986"]
    expected = row["expected"]
    found = reliability.bland_altman(METERS["wright1"], METERS["mini1"])
    assert found.bias.value == pytest.approx(expected["bias"], abs=1e-9)
    assert found.sd == pytest.approx(expected["sd"], abs=1e-9)
    # These two were computed with the factor written out to 1.959964.
    assert found.lower.value == pytest.approx(expected["lower_196"], abs=1e-6)
    assert found.upper.value == pytest.approx(expected["upper_196"], abs=1e-6)
    assert (found.bias.low, found.bias.high) == pytest.approx(expected["bias_ci"], abs=1e-9)
    assert found.concordance == pytest.approx(expected["concordance"], abs=1e-9)


def test_limits_with_two_deviations_are_as_printed_in_1986() -> None:
    row = PUBLISHED["bland_altman_1986"]
    found = reliability.bland_altman(METERS["wright1"], METERS["mini1"], multiplier=2.0)
    for name, level in (("lower", found.lower), ("upper", found.upper)):
        exact = row["expected"]
        assert level.value == pytest.approx(exact[f"{name}_2sd"], abs=1e-9)
        assert (level.low, level.high) == pytest.approx(exact[f"{name}_ci"], abs=1e-9)
        # The paper rounded its inputs: mean -2.1 and SD 38.8.
        assert level.value == pytest.approx(row["printed"][f"{name}_2sd"], abs=0.1)
        assert (level.low, level.high) == pytest.approx(row["printed"][f"{name}_ci"], abs=0.2)


def test_repeats_are_averaged_and_put_back_to_single_readings() -> None:
    tables = [np.array([METERS[f"{name}{i}"] for i in (1, 2)]).T for name in ("wright", "mini")]
    found = reliability.bland_altman(*tables)
    expected = PUBLISHED["bland_altman_1986"]["expected"]
    assert found.bias.value == pytest.approx(expected["means_bias"], abs=1e-9)
    # The paper takes the repeats' own mean difference as zero, we do not: hence 1 %.
    assert found.sd == pytest.approx(expected["corrected_sd"], rel=0.01)


def test_dogs_measured_one_way_only_are_counted() -> None:
    found = reliability.bland_altman([1.0, 2.0, 3.0, np.nan], [1.1, 2.1, 2.9, 4.0])
    assert found.left_out == 1


# ---- variance components


def test_components_of_the_printed_table_are_those_of_its_analysis_of_variance() -> None:
    # Balanced: dogs (BMS - EMS)/k, measurers (JMS - EMS)/n, the rest EMS (Shrout and Fleiss).
    table = np.array(SHROUT_FLEISS["data"])
    dogs, measurers = np.indices(table.shape)
    found = variance_components(
        table.ravel(), {"dog": dogs.ravel().tolist(), "measurer": measurers.ravel().tolist()}
    )
    between, _, judges, rest = SHROUT_FLEISS["squares"]
    assert found.variance("dog") == pytest.approx((between - rest) / 4, rel=1e-6)
    assert found.variance("measurer") == pytest.approx((judges - rest) / 6, rel=1e-6)
    assert found.variance("repeat") == pytest.approx(rest, rel=1e-6)


def test_components_of_certified_groups() -> None:
    row = PUBLISHED["nist_anova_atmwtag"]
    values = [value for group in row["data"].values() for value in group]
    labels = [name for name, group in row["data"].items() for _ in group]
    found = variance_components(values, {"group": labels})
    within = row["expected"]["SSW"] / 46
    between = (row["expected"]["SSB"] - within) / 24
    assert found.variance("repeat") == pytest.approx(within, rel=1e-5)
    assert found.variance("group") == pytest.approx(between, rel=1e-5)


def test_components_come_back_from_a_study_with_holes() -> None:
    generator = np.random.default_rng(5)
    rows, truth = [], {"dog": 2.0, "measurer": 0.5, "repeat": 0.3}
    dogs = generator.normal(40, truth["dog"], 120)
    hands = generator.normal(0, truth["measurer"], 24)
    for dog in range(120):
        for hand in generator.choice(24, 3, replace=False):
            for _ in range(generator.integers(1, 3)):
                value = dogs[dog] + hands[hand] + generator.normal(0, 0.3)
                rows.append((dog, hand, value))
    found = variance_components(
        [row[2] for row in rows],
        {"dog": [row[0] for row in rows], "measurer": [row[1] for row in rows]},
    )
    for part in found.parts:
        assert abs(part.variance - truth[part.name] ** 2) < 3.5 * part.uncertainty


def test_what_a_design_cannot_tell_apart_is_said() -> None:
    found = variance_components(
        [1.0, 2.0, 3.0, 4.5], {"dog": "aabb", "place": "ccdd", "measurer": "eeee", "each": "fghi"}
    )
    assert set(found.left_out) == {"place", "measurer", "each"}
    assert "as dog does" in found.left_out["place"]


# ---- design


def test_the_width_a_design_promises_is_what_studies_then_have() -> None:
    # Simulation of 400 studies of 40 dogs by 3 measurers with a true correlation of 0.8.
    promised = design(40, 3, 2, expected=0.8).correlation_width
    generator = np.random.default_rng(3)
    widths = []
    for _ in range(400):
        dogs = generator.normal(0, 2.0, (40, 1))
        one = reliability.icc(dogs + generator.normal(0, 1.0, (40, 3)))["1,1"]
        widths.append(one.high - one.low)
    assert np.mean(widths) == pytest.approx(promised, rel=0.08)


def test_the_fewest_dogs_meet_the_wish_and_one_fewer_does_not() -> None:
    for one in designs_for(0.15, 0.10, expected=0.9):
        assert one.tem_high <= 1.15
        assert one.correlation_width <= 0.10
        fewer = design(one.dogs - 1, one.measurers, one.repeats, 0.9)
        assert fewer.tem_high > 1.15 or fewer.correlation_width > 0.10


# ---- a study, and its errors in the protocol


def _invented_study(dogs: int = 24) -> list[Taken]:
    generator = np.random.default_rng(8)
    lean = {"A.B.": 0.0, "C.D.": 0.6, "E.F.": -0.6}
    truth = generator.normal(40, 1.5, dogs)
    return [
        Taken(f"dog {dog}", who, f"{repeat}.1", truth[dog] + off + generator.normal(0, 0.25))
        for dog in range(dogs)
        for who, off in lean.items()
        for repeat in range(2)
    ]


def test_a_study_finds_the_hand_that_reads_high() -> None:
    found = study("height_at_withers", _invented_study())
    assert found.within.tem == pytest.approx(0.25, abs=0.06)
    assert found.bias["C.D."] == pytest.approx(0.6, abs=0.1)
    assert found.pairs["C.D.", "E.F."].bias.value == pytest.approx(1.2, abs=0.15)
    assert found.between_error > 1.7 * found.within.tem
    assert found.between is not None
    assert found.between["3,1"].value > found.between["2,1"].value


def test_own_errors_replace_the_typical_ones_of_the_catalogue(tmp_path: Path) -> None:
    found = study("height_at_withers", _invented_study())
    path = tmp_path / "own.toml"
    path.write_text(own_errors_text(own_errors([found], catalogue()), 'The "Tarn" club', "2026"))
    changed = with_own_errors(catalogue(), path)
    height = changed.measurement("height_at_withers")
    assert height.repeat_error == pytest.approx(found.within.tem, rel=0.05)
    # Three hands that lie 0.6 apart: what they add replaces the typical error of posture.
    assert height.posture_error == pytest.approx(0.6, rel=0.15)
    assert changed.sources[height.error_source].citation.startswith('measurer study of The "Tarn"')
    assert changed.measurement("weight") == catalogue().measurement("weight")


def test_a_fault_in_own_errors_names_file_table_and_key(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(
        '[study]\nclub = "x"\nwhen = "2026"\n[measurements.weight]\nrepeat_error = -1.0\n'
    )
    with pytest.raises(DataFileError, match=r"own\.toml.*weight.*repeat_error"):
        with_own_errors(catalogue(), path)


# ---- agreement of graders, from the core


def test_agreement_of_graders_is_at_hand_here_too() -> None:
    fleiss = reliability.fleiss_kappa(PUBLISHED["fleiss_wiki"]["data"]["counts"])
    assert fleiss.value == pytest.approx(PUBLISHED["fleiss_wiki"]["expected"]["kappa"], abs=6e-4)
    # Gwet 2014 (irrCAC vignette): AC1 0.8493305, standard error 0.04321747.
    table = np.array(PUBLISHED["gwet_cont3x3"]["data"]["table"])
    one = np.eye(3)
    pairs = [one[i] + one[j] for i, j in np.ndindex(3, 3) for _ in range(table[i, j])]
    gwet = reliability.gwet_ac1(np.array(pairs))
    assert gwet.value == pytest.approx(0.8493305, abs=5e-8)
    # The vignette's error divides by n where the general formula divides by n - 1.
    assert gwet.standard_error == pytest.approx(0.04321747 * np.sqrt(100 / 99), abs=5e-8)
    # The same vignette: with two raters Fleiss' kappa is Scott's pi.
    expected = PUBLISHED["gwet_cont3x3"]["expected"]
    assert reliability.fleiss_kappa(np.array(pairs)).value == pytest.approx(
        expected["scott_pi"], abs=6e-8
    )
    kendall = reliability.kendall_w(PUBLISHED["kendall_w"]["data"]["ranks"])
    assert kendall.value == pytest.approx(0.7939393939, abs=5e-3)


@pytest.mark.parametrize("name", ["cohen_2x2", "gwet_cont3x3"])
def test_kappa_of_two_graders_is_as_published(name: str) -> None:
    # cohen_2x2: standard textbook example, from memory. Gwet 2014: irrCAC vignette, found.
    table = np.array(PUBLISHED[name]["data"]["table"])
    pairs = [(f"{i}", f"{j}") for i, j in np.ndindex(table.shape) for _ in range(table[i, j])]
    assert cohen_kappa(pairs) == pytest.approx(PUBLISHED[name]["expected"]["kappa"], abs=6e-8)


# ---- input that is none

NAN = float("nan")
NO_TABLES = ([], [[]], 3.0, None, [["a", "b"], ["c", "d"]], [[1.0, 2.0], [3.0]],
             np.zeros((2, 2, 2)), [[NAN, NAN], [NAN, NAN]], [[1.0], [2.0]])  # fmt: skip
TAKE_A_TABLE = (reliability.icc, reliability.tem, reliability.fleiss_kappa, reliability.gwet_ac1,
                reliability.kendall_w)  # fmt: skip


@pytest.mark.parametrize("function", TAKE_A_TABLE)
@pytest.mark.parametrize("table", NO_TABLES, ids=range(len(NO_TABLES)))
def test_what_is_no_table_is_refused_in_words(function: Callable[..., object], table: Any) -> None:
    with pytest.raises(EstimationError):
        function(table)


@pytest.mark.parametrize(
    "refused",
    [
        lambda: reliability.bland_altman(1.0, 2.0),
        lambda: reliability.bland_altman(["a"], ["b"]),
        lambda: reliability.bland_altman([1.0, 2.0], [1.0, 2.0, 3.0]),
        lambda: reliability.bland_altman([1.0, 2.0, 3.0], [1.0, 2.0, 4.0], multiplier=NAN),
        lambda: reliability.icc([[1.0, 2.0], [2.0, 2.5], [4.0, 3.0]], coverage=2.0),
        lambda: reliability.icc([[1.0, 1.0], [2.0, 2.0], [3.0, 3.0]]),
        lambda: variance_components([1.0, 2.0, 3.0], {"dog": "ab"}),
        lambda: variance_components([1.0, 1.0, 1.0], {"dog": "aab"}),
        lambda: study("weight", []),
        lambda: design(20, 2, 1),
        lambda: design(20.5, 2, 2),  # type: ignore[arg-type]
        lambda: designs_for(NAN, 0.2),
    ],
)
def test_what_cannot_be_worked_out_is_refused_in_words(refused: Callable[[], object]) -> None:
    with pytest.raises(EstimationError):
        refused()


def test_hands_that_differ_by_the_same_on_every_dog_leave_no_error() -> None:
    with pytest.raises(EstimationError, match="nothing is left as error"):
        reliability.icc([[1.0, 2.0], [2.0, 3.0], [3.0, 4.0]])


def test_dogs_that_all_read_alike_agree_without_a_concordance() -> None:
    found = reliability.bland_altman([1.0, 1.0, 1.0], [1.0, 1.0, 1.0])
    assert found.bias.value == found.sd == 0.0
    assert np.isnan(found.concordance)


def test_repeats_that_never_differ_leave_all_of_it_to_the_dogs() -> None:
    # By hand: dogs at 1 and 2, so their variance is 0.5, and nothing is left for repeats.
    found = variance_components([1.0, 1.0, 2.0, 2.0], {"dog": "aabb"})
    assert found.variance("dog") == pytest.approx(0.5, rel=1e-5)
    assert found.variance("repeat") < 1e-6


def test_sides_are_told_from_dogs_and_repeats() -> None:
    generator = np.random.default_rng(14)
    rows = []
    for dog in range(60):
        level = generator.normal(13, 1.0)
        for side in ("left", "right"):
            own = level + generator.normal(0, 0.5)
            rows += [
                Taken(f"{dog}", who, f"{again}.1", own + generator.normal(0, 0.2), side)
                for who in ("A.B.", "C.D.") for again in range(2)
            ]  # fmt: skip
    parts = {part.name: part for part in study("forearm_length", rows).components.parts}
    for name, sd in (("dog", 1.0), ("side", 0.5), ("repeat", 0.2)):
        assert abs(parts[name].variance - sd**2) < 3.5 * parts[name].uncertainty


def test_several_hands_never_seem_better_than_one() -> None:
    found = study("height_at_withers", _invented_study())
    assert found.between_error >= found.within.tem
