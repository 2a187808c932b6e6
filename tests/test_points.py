"""Points graded by eye: the catalogue, what a standard says of them, and two graders' agreement."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from scipy.stats import binomtest

from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import by_dog, read_csv
from kit.quantities.errors import DataFileError, EstimationError
from kit.reports.critique_build import look
from kit.standards.assessment import assess
from kit.standards.own import standard_from_text, standard_text
from kit.standards.points import Grade, point, points, read_grades
from kit.standards.seen import Seen, agreement, cohen_kappa, see
from kit.standards.standard import load_standard, shipped_standards

DATA = Path(__file__).parents[1] / "data"
STANDARD = load_standard("common-practice-terrier")
TERRIER = standard_text("common-practice-terrier")
# What the issue of the catalogue asks to be in it (common practice, no source).
ASKED_FOR = {"head", "expression", "neck_arch", "neck_skin", "bone", "feet", "muscle", "coat",
             "colour", "pigment", "dewclaws", "tail_carriage", "temperament"}  # fmt: skip


def grade(key: str, step: int, grader: str = "A", sure: str = "sure", dog: str = "Dog",
          time: str = "") -> Grade:  # fmt: skip
    return Grade(dog, key, point(key).scale[step], sure, grader, time)


def test_the_catalogue_has_every_point_with_a_scale_of_words() -> None:
    assert set(points()) >= ASKED_FOR
    for one in points().values():
        assert 2 <= len(one.scale) <= 5
        assert not any(character.isdigit() for word in one.scale for character in word)
        assert one.how
        assert one.source


def test_the_terrier_names_what_the_rules_of_thumb_leave_to_the_eye() -> None:
    named = {clause.point for clause in STANDARD.points}
    # domain knowledge, section on rules of thumb: coat, colour, pigment, expression, arch of neck,
    # loose skin, muscle, temperament, and movement (common practice, no source).
    assert named >= {"coat", "colour", "pigment", "expression", "neck_arch", "neck_skin", "muscle",
                     "temperament", "front_action", "rear_action", "reach"}  # fmt: skip
    assert {clause.figure for clause in STANDARD.movement} >= {"front_convergence", "front_toeing"}


def test_standards_without_points_are_as_they_were() -> None:
    others = [load_standard(name) for name in shipped_standards() if "terrier" not in name]
    assert others
    assert all(not one.points and not one.movement for one in others)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (('point = "head"', 'point = "halo"'), r"\[\[point\]\] number 1, key 'point'"),
        (('asked = ["in balance and well finished"]', 'asked = ["grand"]'), "key 'asked'"),
        (('asked = ["in balance and well finished"]', "asked = []"), "at least one grade"),
        (('faults = ["a little plain"', 'faults = ["in balance and well finished"'),
         "each grade in one list only"),
        (('point = "expression"', 'point = "head"'), "one of: in balance"),
        (('figure = "front_convergence"', 'figure = "elegance"'), "key 'figure'"),
        (("low = -8.0\nhigh = 8.0", "low = 9.0\nhigh = 8.0"), "less than high"),
    ],
)  # fmt: skip
def test_a_fault_in_a_standard_names_table_and_key(change: tuple[str, str], told: str) -> None:
    assert change[0] in TERRIER
    with pytest.raises(DataFileError, match=told):
        standard_from_text(TERRIER.replace(change[0], change[1], 1))


def test_a_point_cannot_be_asked_twice() -> None:
    block = TERRIER[
        TERRIER.index('[[point]]\npoint = "head"') : TERRIER.index('[[point]]\npoint = "exp')
    ]
    with pytest.raises(DataFileError, match="each point once"):
        standard_from_text(TERRIER + "\n" + block)


def test_a_standard_may_name_its_own_categories() -> None:
    own = TERRIER.replace(
        'asked = ["self", "self with small white marks"]\nfaults = ["marked with white"]\n'
        'not_accepted = ["not among those named"]',
        'categories = ["fawn", "brindle", "any other"]\nasked = ["fawn", "brindle"]\nfaults = []\n'
        'not_accepted = ["any other"]',
    )  # fmt: skip
    clause = next(c for c in standard_from_text(own).points if c.point == "colour")
    assert clause.scale == ("fawn", "brindle", "any other")
    seen = see("Dog", [Grade("Dog", "colour", "any other", "sure", "A")], (clause,))
    assert seen[1 if seen[0].point != "colour" else 0].seen is Seen.NOT_ACCEPTED


def found(*grades: Grade) -> dict[str, Seen]:
    return {one.point: one.seen for one in see("Dog", grades, STANDARD.points)}


def test_a_grade_is_held_against_the_standard() -> None:
    assert found(grade("feet", 0))["feet"] is Seen.AS_ASKED
    assert found(grade("feet", 1))["feet"] is Seen.FAULT
    assert found(grade("colour", 3))["colour"] is Seen.NOT_ACCEPTED
    assert found(grade("dewclaws", 1))["dewclaws"] is Seen.DESCRIBED
    assert found()["feet"] is Seen.NOT_GRADED
    assert found(grade("feet", 0, dog="Other"))["feet"] is Seen.NOT_GRADED


def test_doubt_and_disagreement_leave_a_point_undecided() -> None:
    assert found(grade("feet", 1, sure="unsure"))["feet"] is Seen.UNDECIDED
    assert found(grade("feet", 0), grade("feet", 1, "B"))["feet"] is Seen.UNDECIDED
    assert found(grade("feet", 1), grade("feet", 2, "B"))["feet"] is Seen.FAULT


def test_the_last_grade_of_a_grader_counts_and_none_is_changed() -> None:
    first, later = grade("feet", 1, time="2025-05-01"), grade("feet", 0, time="2025-06-01")
    for order in ((first, later), (later, first)):
        assert found(*order)["feet"] is Seen.AS_ASKED


# Agreement ------------------------------------------------------------------------------------

# Tables of two raters and Cohen's kappa. SAS: as in a test of statsmodels (found). Gwet: vignette
# of the package irrCAC (found). The 2 x 2: a common textbook example (from memory).
KAPPA = [
    ([[0, 4, 1], [0, 8, 0], [0, 1, 5]], 0.4841628959),
    ([[13, 0, 0], [0, 20, 7], [0, 4, 56]], 0.7964094022),
    ([[20, 5], [10, 15]], 0.4),
    ([[118, 5], [2, 0]], -0.0233918129),
]


@pytest.mark.parametrize(("counts", "kappa"), KAPPA)
def test_kappa_of_published_tables(counts: list[list[int]], kappa: float) -> None:
    pairs = [(str(row), str(column)) for row, line in enumerate(counts)
             for column, count in enumerate(line) for _ in range(count)]  # fmt: skip
    assert cohen_kappa(pairs) == pytest.approx(kappa, abs=5e-10)


def test_kappa_is_refused_where_it_means_nothing() -> None:
    with pytest.raises(EstimationError, match="not defined"):
        cohen_kappa([("a", "a"), ("a", "a")])
    with pytest.raises(EstimationError, match="without grades"):
        cohen_kappa([])


def test_agreement_of_two_graders() -> None:
    grades = read_grades(DATA / "demo_grades.csv", STANDARD.points).rows
    found = agreement(grades, "K.T.", "M.O.")
    with (DATA / "demo_grades.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    table = {(r["dog"], r["point"], r["grader"]): r["grade"] for r in rows}
    both = [(d, p) for d, p, g in table if g == "K.T." and (d, p, "M.O.") in table]
    same = sum(table[(d, p, "K.T.")] == table[(d, p, "M.O.")] for d, p in both)
    assert (found.same, found.pairs) == (same, len(both))
    interval = binomtest(same, len(both)).proportion_ci(method="wilson")
    assert (found.low95, found.high95) == pytest.approx((interval.low, interval.high), abs=1e-12)
    with pytest.raises(EstimationError, match="nothing in common"):
        agreement(grades, "K.T.", "nobody")


# Files, and keeping grades apart from figures ---------------------------------------------------


def test_bad_rows_are_named_and_the_rest_counts(tmp_path: Path) -> None:
    path = tmp_path / "grades.csv"
    path.write_text(
        "dog;point;grade;sure\nA;feet;compact, with firm pads;sure\nA;foot;x;sure\n"
        "A;feet;excellent;sure\n;feet;compact, with firm pads;sure\nA;coat;"
        "of the texture asked and in good order;perhaps\n",
        encoding="utf-8",
    )  # fmt: skip
    sheet = read_grades(path)
    assert [one.grade for one in sheet.rows] == ["compact, with firm pads"]
    assert [(p.row, p.column) for p in sheet.problems] == [
        (3, "point"), (4, "grade"), (5, "dog"), (6, "sure"),
    ]  # fmt: skip
    path.write_text("dog,point\nA,feet\n", encoding="utf-8")
    with pytest.raises(DataFileError, match="lacks the column grade"):
        read_grades(path)


def test_grades_never_enter_a_figure() -> None:
    readings = dict(by_dog(read_csv(DATA / "demo_readings.csv", catalogue()).readings))["Alder"]
    case = assess(readings, catalogue(), STANDARD)
    grades = read_grades(DATA / "demo_grades.csv", STANDARD.points).rows
    without, given = look(case), look(case, grades)
    assert given.assessment.findings == without.assessment.findings
    numbers = [item for item in given.items if not item.key.startswith("seen:")]
    assert numbers == [item for item in without.items if not item.key.startswith("seen:")]
    assert all(not item.amount for item in given.items if item.key.startswith("seen:"))
