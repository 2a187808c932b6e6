"""Standard files, conformity and findings."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from kit.protocol.catalogue import catalogue
from kit.protocol.readings import Reading
from kit.quantities.errors import DataFileError, EstimationError
from kit.standards import conformance_probability
from kit.standards.assessment import Assessment, assess
from kit.standards.conformity import Levels, Outcome, Probabilities, decide, probabilities
from kit.standards.findings import Scope
from kit.standards.standard import load_standard, read_standard, shipped_standards

HEAD = """
[standard]
key = "own"
title = "A standard of our own"
kind = "descriptive"
body = "none"
document = "none"
dated = "2026-01-01"
valid_from = "2026-01-01"
status = "draft"
evidence = "measured"
source = "written for this test"
adult_from_months = 12
"""
CLAUSE = """
[[clause]]
trait = "chest_depth_to_height"
words = "deep"
class = "range"
low = 0.45
high = 0.55
unit = "1"
reading = "standard"
evidence = "measured"
definition = "withers to brisket"
"""


def standard_file(folder: Path, *clauses: str, head: str = HEAD) -> Path:
    path = folder / "own.toml"
    path.write_text(head + "".join(clauses), encoding="utf-8")
    return path


def clause(**changes: object) -> str:
    """Return the sample clause with keys replaced (a value of None leaves the key out)."""
    lines = []
    for line in CLAUSE.strip().splitlines():
        key = line.split(" = ")[0]
        if key in changes:
            value = changes.pop(key)
            line = "" if value is None else f"{key} = {value!r}".replace("'", '"')
        lines.append(line)
    lines += [f"{key} = {value!r}".replace("'", '"') for key, value in changes.items()]
    return "\n".join(lines) + "\n"


# --- files ---------------------------------------------------------------------------------


def test_at_least_fifteen_published_standards_ship() -> None:
    loaded = [load_standard(name) for name in shipped_standards()]
    published = [one for one in loaded if one.kind == "published"]
    assert len(published) >= 15
    for one in loaded:
        assert one.clauses
        assert "SUPERSEDED" not in one.status.upper()
        assert one.source


# Figures of printed standards: source beside each (own words; numbers as published).
PRINTED = [
    ("german-shepherd-fci", "chest_depth_to_height", 0.45, 0.48, "FCI 166, 23.12.2010"),
    ("dachshund-fci", "length_to_height_from_prosternum", 1.7, 1.8, "FCI 148, 14.03.2022"),
    ("lagotto-romagnolo-fci", "stifle_angle", 130.0, 135.0, "FCI 298, 11.10.2019"),
    ("maremma-sheepdog-fci", "shoulder_angle", 105.0, 120.0, "FCI 201, 18.01.2024"),
    ("rottweiler-fci", "length_to_height_from_prosternum", None, 1.15, "FCI 147, 24.07.2018"),
    ("beauceron-fci", "girth_to_height", 1.2, None, "FCI 44, 19.09.2023"),
]


@pytest.mark.parametrize(("name", "trait", "low", "high", "source"), PRINTED)
def test_printed_limits_are_kept(
    name: str, trait: str, low: float | None, high: float | None, source: str
) -> None:
    found = [(c.low, c.high) for c in load_standard(name).clauses if c.trait == trait]
    assert (low, high) in found, source


# The trade's rules of thumb for a slightly off-square terrier (common practice, no source).
RULES_OF_THUMB = {
    "neck_to_head": 1.0,
    "shoulder_angle": 90.0,
    "elbow_to_brisket": 0.0,
    "length_to_height_from_prosternum": 1.04,
    "chest_depth_to_height": 0.5,
    "rib_cage_to_underline": 0.667,
    "shoulder_to_hip_breadth": 1.03,
    "loin_to_hip_breadth": 0.9,
    "chest_breadth_to_depth": 0.9,
    "tail_to_hock": 0.9,
    "rear_toe_offset_to_height": 0.02,
    "front_rear_balance": 0.0,
    "front_foot_turnout": 0.0,
    "rear_pastern_slope": 0.0,
    "overbuilt": -0.01,
}


@pytest.mark.parametrize(("trait", "right"), RULES_OF_THUMB.items())
def test_rules_of_thumb_lie_inside_the_terrier_s_limits(trait: str, right: float) -> None:
    clauses = [c for c in load_standard("common-practice-terrier").clauses if c.trait == trait]
    assert clauses
    for one in clauses:
        low = -math.inf if one.low is None else one.low
        high = math.inf if one.high is None else one.high
        assert low <= right <= high


def test_level_and_clearly_long_are_both_wrong_for_the_terrier() -> None:
    # Common practice (no source): slightly longer than tall; level or clearly long are faults.
    (one,) = [c for c in load_standard("common-practice-terrier").clauses
              if c.trait == "length_to_height_from_prosternum"]  # fmt: skip
    assert one.low is not None
    assert one.high is not None
    assert 1.0 < one.low < one.high < 1.15


FAULTS = [
    (clause(trait="chest_deph_to_height"), "trait", "chest_depth_to_height"),
    (clause(low=0.6), "low", "less than high"),
    (clause(high=None), "high", "range"),
    (clause(evidence="hearsay"), "evidence", "one of"),
    (clause(unit="cm"), "unit", "ratio"),
    (clause(definition=None), "definition", "a text"),
    (clause(colour="red"), "colour", "one of"),
    (clause(**{"class": "about", "low": None, "high": None}), "target", "a target"),
    (clause(sex="male"), "sex", "bitch"),
    (clause(target=0.7), "target", "inside the limits"),
    (clause(words="deep " * 40), "words", "a few words of your own"),
    (CLAUSE, "trait", "not there yet"),
]


@pytest.mark.parametrize(
    ("wording", "key"),
    [
        ("[wording.about]\nwidht = 0.1\n", "widht"),
        ("[wording.aboutt]\nratio = 0.1\n", "aboutt"),
        ("[wording.about]\nratio = -0.1\n", "ratio"),
    ],
)
def test_a_faulty_reading_of_a_word_is_named(tmp_path: Path, wording: str, key: str) -> None:
    with pytest.raises(DataFileError, match=f"'{key}'"):
        read_standard(standard_file(tmp_path, CLAUSE, head=HEAD + wording))


def test_what_a_standard_leaves_out_of_a_word_stays_the_kits(tmp_path: Path) -> None:
    angle = clause(trait="shoulder_angle", unit="deg", **{"class": "about", "low": None,
                   "high": None, "target": 100.0})  # fmt: skip
    own = HEAD + "[wording.about]\nratio = 0.02\n"
    (one,) = read_standard(standard_file(tmp_path, angle, head=own)).clauses
    assert (one.low, one.high) == pytest.approx((95.0, 105.0))


@pytest.mark.parametrize(("text", "key", "needed"), FAULTS)
def test_a_faulty_clause_names_file_table_and_key(
    tmp_path: Path, text: str, key: str, needed: str
) -> None:
    with pytest.raises(DataFileError) as fault:
        read_standard(standard_file(tmp_path, CLAUSE, text))
    message = str(fault.value)
    assert "own.toml" in message
    assert "[[clause]] number 2" in message
    assert f"'{key}'" in message
    assert needed in message


def test_units_of_a_clause_are_converted(tmp_path: Path) -> None:
    text = clause(trait="height_at_withers", unit="in", low=16.0, high=18.0)
    (one,) = read_standard(standard_file(tmp_path, text)).clauses
    assert (one.low, one.high) == pytest.approx((40.64, 45.72))


def test_a_standard_may_read_the_words_its_own_way(tmp_path: Path) -> None:
    text = clause(**{"class": "about", "low": None, "high": None, "target": 0.5})
    own = HEAD + "[wording.about]\nratio = 0.02\nlength = 0.02\nmass = 0.05\nangle = 2.0\n"
    (one,) = read_standard(standard_file(tmp_path, text, head=own)).clauses
    assert (one.low, one.high) == pytest.approx((0.49, 0.51))


def test_an_unknown_standard_is_named_with_its_neighbours() -> None:
    with pytest.raises(DataFileError, match="rottweiler-fci"):
        load_standard("rotweiler-fci")


# --- conformity ----------------------------------------------------------------------------


@given(st.floats(-5, 5), st.floats(0.01, 3), st.floats(0, 4), st.floats(1, 200))
def test_probabilities_are_those_of_scipy(value: float, u: float, width: float, dof: float) -> None:
    normal = stats.norm(value, u)
    student = stats.t(dof, value, u)
    assert conformance_probability(value, u, 0.0, width) == pytest.approx(
        normal.cdf(width) - normal.cdf(0.0), abs=1e-12
    )
    assert conformance_probability(value, u, 0.0, width, dof) == pytest.approx(
        student.cdf(width) - student.cdf(0.0), abs=1e-9
    )
    parts = probabilities(value, u, 0.0, width, dof)
    assert parts.below + parts.within + parts.above == pytest.approx(1.0)


def test_without_uncertainty_a_value_is_in_or_out() -> None:
    assert conformance_probability(1.0, 0.0, 1.0, 2.0) == 1.0
    assert conformance_probability(0.999, 0.0, 1.0, 2.0) == 0.0
    assert conformance_probability(2.001, 0.0, high=2.0) == 0.0


@pytest.mark.parametrize(
    "arguments",
    [(1.0, 0.1), (1.0, -0.1, 0.0), (1.0, 0.1, 2.0, 1.0), (math.nan, 0.1, 0.0),
     (1.0, 0.1, 0.0, 1.0, 0.0), (1.0, math.inf, 0.0)],
)  # fmt: skip
def test_unusable_arguments_are_refused(arguments: tuple[float, ...]) -> None:
    with pytest.raises(EstimationError):
        conformance_probability(*arguments)


@pytest.mark.parametrize(
    ("chance", "expected"),
    [
        (Probabilities(0.0, 0.96, 0.04), Outcome.WITHIN),
        (Probabilities(0.95, 0.05, 0.0), Outcome.BELOW),
        (Probabilities(0.0, 0.04, 0.96), Outcome.ABOVE),
        (Probabilities(0.1, 0.85, 0.05), Outcome.PROBABLY_WITHIN),
        (Probabilities(0.8, 0.2, 0.0), Outcome.PROBABLY_BELOW),
        (Probabilities(0.0, 0.15, 0.85), Outcome.PROBABLY_ABOVE),
        (Probabilities(0.3, 0.7, 0.0), Outcome.UNDECIDED),
    ],
)
def test_decisions(chance: Probabilities, expected: Outcome) -> None:
    assert decide(chance, Levels()) is expected


@pytest.mark.parametrize("levels", [(0.8, 0.95), (1.0, 0.8), (0.9, 0.4)])
def test_levels_must_make_sense(levels: tuple[float, float]) -> None:
    with pytest.raises(EstimationError):
        Levels(*levels)


# --- findings ------------------------------------------------------------------------------


def dog(**values: float | list[float]) -> list[Reading]:
    rows = []
    for key, value in values.items():
        side = "left" if catalogue().measurement(key).sided else ""
        for number, one in enumerate(value if isinstance(value, list) else [value]):
            rows.append(Reading("A", key, one, side, stand=str(number)))
    return rows


def assessed(folder: Path, readings: list[Reading], scope: Scope | None = None,
             **changes: object) -> Assessment:  # fmt: skip
    standard = read_standard(standard_file(folder, clause(**changes)))
    return assess(readings, catalogue(), standard, scope)


def outcome(assessment: Assessment) -> Outcome:
    return assessment.findings[0].outcome


def test_a_clear_case_is_decided_from_single_readings(tmp_path: Path) -> None:
    assert outcome(assessed(tmp_path, dog(height_at_withers=50, chest_depth=25))) is Outcome.WITHIN
    assert outcome(assessed(tmp_path, dog(height_at_withers=50, chest_depth=19))) is Outcome.BELOW
    assert outcome(assessed(tmp_path, dog(height_at_withers=50, chest_depth=31))) is Outcome.ABOVE


def test_what_was_not_measured_names_what_is_missing(tmp_path: Path) -> None:
    found = assessed(tmp_path, dog(height_at_withers=50)).findings[0]
    assert found.outcome is Outcome.NOT_MEASURED
    assert found.reason == "chest_depth"


def test_another_definition_is_not_compared(tmp_path: Path) -> None:
    readings = dog(height_at_withers=50, body_length_from_point_of_shoulder=52)
    found = assessed(
        tmp_path, readings, trait="length_to_height_from_prosternum", low=1.0, high=1.1
    ).findings[0]
    assert found.outcome is Outcome.NOT_COMPARABLE
    assert "another definition" in found.reason


def test_adult_clauses_do_not_judge_puppies(tmp_path: Path) -> None:
    readings = dog(height_at_withers=50, chest_depth=25)
    assert outcome(assessed(tmp_path, readings, Scope("", 3))) is Outcome.NOT_COMPARABLE
    assert outcome(assessed(tmp_path, readings, Scope("", 24))) is Outcome.WITHIN


def test_clauses_of_the_other_sex_are_left_out(tmp_path: Path) -> None:
    readings = dog(height_at_withers=50, chest_depth=25)
    assert assessed(tmp_path, readings, Scope("bitch"), sex="dog").findings == ()
    assert outcome(assessed(tmp_path, readings, Scope("dog"), sex="dog")) is Outcome.WITHIN
    unknown = assessed(tmp_path, readings, Scope(), sex="dog").findings[0]
    assert unknown.outcome is Outcome.NOT_COMPARABLE
    assert "sex was not given" in unknown.reason


def test_following_the_advice_decides(tmp_path: Path) -> None:
    """Repeating what the advice says, the value staying the same, yields a decision."""
    readings = dog(height_at_withers=[50.0, 50.0], chest_depth=27.0)
    first = assessed(tmp_path, readings)
    assert outcome(first) is Outcome.UNDECIDED
    advice = first.findings[0].advice
    assert advice is not None
    assert advice.decides
    assert advice.measurement == "chest_depth"
    again = dog(height_at_withers=[50.0, 50.0], chest_depth=[27.0] * (1 + advice.repeats))
    assert outcome(assessed(tmp_path, again)) is not Outcome.UNDECIDED


def test_a_value_on_the_limit_is_said_to_be_undecidable(tmp_path: Path) -> None:
    found = assessed(tmp_path, dog(height_at_withers=50, chest_depth=27.5)).findings[0]
    assert found.outcome is Outcome.UNDECIDED
    assert found.advice is not None
    assert not found.advice.decides
