"""Thresholds, agreement and sessions, held against published figures and eyes that are known."""

from __future__ import annotations

import csv
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from published_tables import FOLDER, toml_rows
from pypdf import PdfReader

from kit.cli.main import main
from kit.drawing.class_grades import class_grades
from kit.drawing.practice import curve, progress
from kit.drawing.slightly import slightly
from kit.drawing.svg import to_svg
from kit.estimation.agreement import fleiss_kappa, gwet_ac1, kendall_w
from kit.panels.eye_practice import EyePractice
from kit.quantities.errors import DataFileError, EstimationError, KitError
from kit.standards.conformity import Outcome, Probabilities
from kit.standards.findings import Finding
from kit.standards.standard import load_standard
from kit.teaching.contrasts import contrast
from kit.teaching.detection import detection, detection_of_counts, two_choice_d_prime
from kit.teaching.eye_tape import Judgement, Standing, compare, read_judgements
from kit.teaching.group import GRADES, agreement, drawing_set, read_grades
from kit.teaching.practice import (
    CONSTANT,
    CONSTANT_LEVELS,
    ONE,
    STAIRCASE,
    TWO,
    Plan,
    Session,
    result,
)
from kit.teaching.progress import Kept, append, read, stages
from kit.teaching.psychometric import Answers, bootstrap, fit
from kit.teaching.simulated import Learner
from kit.teaching.words import in_words

TABLE = "psychophysics.toml"
TERRIER = "common-practice-terrier"


def _named(row: dict[str, object]) -> str:
    return str(row.get("id", ""))


# Published figures


@pytest.mark.parametrize("row", toml_rows(TABLE, "fit"), ids=_named)
def test_published_fits_are_met(row) -> None:
    import tomllib

    with (FOLDER / TABLE).open("rb") as file:
        data = tomllib.load(file)["data"]
    answers = Answers.of(data["levels"], data["over"], data["shown"])
    found = fit(answers, shape=row["shape"], guess=0.0, lapse_limit=0.06 if row["lapses"] else 0.0)
    assert found.cost == pytest.approx(row["cost"], abs=2e-6)
    assert found.location == pytest.approx(row["location"], abs=2e-3)
    assert found.scale == pytest.approx(row["scale"], abs=2e-3)
    assert found.lapse == pytest.approx(row.get("lapse", 0.0), abs=2e-5)


@pytest.mark.parametrize("row", toml_rows(TABLE, "detection"), ids=lambda row: str(row["hit"]))
def test_published_sensitivities(row) -> None:
    found = detection(row["hit"], row["false_alarm"])
    assert found.d_prime == pytest.approx(row["d_prime"], abs=1e-9)
    if "beta" in row:
        assert found.beta == pytest.approx(row["beta"], abs=1e-9)
        assert found.criterion == pytest.approx(row["criterion"], abs=1e-9)


@pytest.mark.parametrize("row", toml_rows(TABLE, "corrected"))
def test_published_corrected_counts(row) -> None:
    found = detection_of_counts(row["hits"], row["over"], row["false_alarms"], row["under"])
    assert found.hit_rate == pytest.approx(row["hit_rate"], abs=1e-7)
    assert found.false_alarm_rate == pytest.approx(row["false_alarm_rate"], abs=1e-6)
    assert found.d_prime == pytest.approx(row["d_prime"], abs=1e-6)


@pytest.mark.parametrize("row", toml_rows(TABLE, "two_choice"))
def test_a_choice_between_two(row) -> None:
    assert two_choice_d_prime(row["part"]) == pytest.approx(row["d_prime"], abs=1e-9)


@pytest.mark.parametrize("rate", [0.0, 1.0])
def test_extreme_rates_are_refused_but_their_counts_are_not(rate) -> None:
    with pytest.raises(EstimationError, match=r"rates"):
        detection(rate, 0.5)
    assert math.isfinite(detection_of_counts(10, 10, 0, 10).d_prime)


def _counts(ratings: list[list[int]]) -> list[list[int]]:
    categories = sorted({value for row in ratings for value in row})
    return [[row.count(category) for category in categories] for row in ratings]


@pytest.mark.parametrize("row", toml_rows(TABLE, "fleiss"), ids=_named)
def test_published_kappas(row) -> None:
    counts = row.get("counts") or _counts(row["ratings"])
    if "totals" in row:
        assert np.sum(counts, axis=0).tolist() == row["totals"]
    found = fleiss_kappa(counts)
    assert found.value == pytest.approx(row["kappa"], abs=1e-9)
    assert found.observed == pytest.approx(row["observed"], abs=1e-9)
    assert found.expected == pytest.approx(row["expected"], abs=1e-9)
    if "null_error" in row:
        assert found.null_error == pytest.approx(row["null_error"], abs=1e-9)
        assert found.statistic == pytest.approx(row["statistic"], abs=1e-5)
        assert gwet_ac1(counts).value == pytest.approx(row["ac1"], abs=1e-9)


@pytest.mark.parametrize("row", toml_rows(TABLE, "pairs"), ids=_named)
def test_published_agreement_of_pairs(row) -> None:
    counts = []
    for one, line in enumerate(row["table"]):
        for other, times in enumerate(line):
            seen = [(one == place) + (other == place) for place in range(len(line))]
            counts += [seen] * times
    found = gwet_ac1(counts)
    assert found.value == pytest.approx(row["ac1"], abs=1e-9)
    # For two raters Fleiss' kappa is Scott's pi (identity).
    assert fleiss_kappa(counts).value == pytest.approx(row["scott_pi"], abs=1e-9)
    if "ac1_error" in row:
        subjects = len(counts)
        as_table = found.standard_error * math.sqrt((subjects - 1) / subjects)
        assert as_table == pytest.approx(row["ac1_error"], abs=1e-7)


@pytest.mark.parametrize("row", toml_rows(TABLE, "kendall"), ids=_named)
def test_published_concordance(row) -> None:
    found = kendall_w(row["ranks"])
    assert found.value == pytest.approx(row["w"], abs=1e-9)
    assert found.statistic == pytest.approx(row["statistic"], abs=1e-8)
    assert found.probability == pytest.approx(row["probability"], abs=1e-9)
    assert found.low95 < found.value < found.high95


def test_full_agreement_is_one_and_faulty_tables_are_refused() -> None:
    assert fleiss_kappa([[4, 0], [0, 4], [4, 0]]).value == pytest.approx(1.0)
    assert kendall_w([[1, 1, 1], [2, 2, 2], [3, 3, 3]]).value == pytest.approx(1.0)
    for wrong in ([[1, 2], [2, 2]], [[3, 0], [3, 0]], [[1.5, 0.5], [1, 1]], [[2, 2]]):
        with pytest.raises(EstimationError):
            fleiss_kappa(wrong)
    with pytest.raises(EstimationError, match="three"):
        kendall_w([[1, 2], [2, 1], [3, 3]])


def test_an_interval_of_kappa_holds_the_truth_as_often_as_it_says() -> None:
    """Simulation: 95 % of intervals, within what 100 samples can tell (binomial, 4 deviations)."""
    generator, inside = np.random.default_rng(5), 0
    truth = fleiss_kappa(_simulated_counts(generator, 20000)).value
    for _ in range(100):
        found = fleiss_kappa(_simulated_counts(generator, 60))
        inside += found.low95 <= truth <= found.high95
    assert inside >= 86


def _simulated_counts(generator: np.random.Generator, subjects: int) -> np.ndarray:
    rates = generator.beta(1.0, 1.0, subjects)
    over = generator.binomial(6, rates)
    return np.stack([over, 6 - over], axis=1)


# Learners whose eye is known


def _answers(session: Session) -> Answers:
    given = session.answers
    return Answers.of([one.trial.level for one in given], [one.over for one in given])


@pytest.mark.parametrize(("choice", "method"), [
    (ONE, STAIRCASE), (TWO, CONSTANT),
    pytest.param(ONE, CONSTANT, marks=pytest.mark.slow),
    pytest.param(TWO, STAIRCASE, marks=pytest.mark.slow),
])  # fmt: skip
@pytest.mark.slow
def test_known_eyes_are_recovered_within_their_intervals(choice, method) -> None:
    """Of ten 95 % intervals eight or more hold the truth, but once in a hundred (binomial)."""
    generator, held = np.random.default_rng(11), [0, 0]
    for number in range(10):
        eye = Learner(generator.uniform(-0.02, 0.02), generator.uniform(0.012, 0.04), 0.02, number)
        session = eye.practise(Plan("length", TERRIER, choice, method, number), 150)
        found = result(session.plan, session.answers).fitted
        held[0] += found.location95[0] <= eye.bias <= found.location95[1]
        held[1] += found.scale95[0] <= eye.scale <= found.scale95[1]
        assert found.function.scale == pytest.approx(eye.scale, rel=0.7)
    assert min(held) >= 8


@pytest.mark.slow
def test_the_quick_bootstrap_agrees_with_fitting_one_by_one() -> None:
    """Second opinion: scipy's bounded optimiser on the same drawn answers."""
    eye = Learner(0.01, 0.03, 0.02, 4)
    session = eye.practise(Plan("length", TERRIER), 200)
    answers = Answers.of(
        [a.trial.level for a in session.answers], [a.over for a in session.answers]
    )
    best = bootstrap(answers, draws=60, seed=3)
    generator = np.random.default_rng(3)
    drawn = generator.binomial(answers.shown.astype(int), best.function(answers.levels),
                               (60, len(answers.levels)))  # fmt: skip
    slowly = [fit(replace(answers, over=row.astype(float))) for row in drawn[:12]]
    from kit.teaching.resampling import fit_many

    quick = fit_many(answers.levels, drawn[:12].astype(float), answers.shown, "normal", None, 0.06,
                     (best.function.location, best.function.scale))  # fmt: skip
    assert quick.cost == pytest.approx([one.cost for one in slowly], abs=0.12)
    assert quick.location == pytest.approx([one.location for one in slowly], abs=0.003)


def test_the_staircase_stays_near_what_the_eye_can_just_see() -> None:
    eye = Learner(0.0, 0.01, 0.0, 2)
    session = eye.practise(Plan("length", TERRIER), 150)
    late = np.abs([a.trial.level for a in session.answers[60:]])
    assert np.median(late) < 0.02
    even = Learner(0.0, 0.01, 0.0, 2).practise(Plan("length", TERRIER, ONE, CONSTANT), 100)
    levels = {round(abs(a.trial.level) / 0.08, 3) for a in even.answers}
    assert levels == set(CONSTANT_LEVELS)


def test_the_same_seed_asks_the_same() -> None:
    eye = Learner(0.0, 0.02)
    asked = [[a.trial for a in eye.practise(Plan("croup", TERRIER, TWO, seed=s), 40).answers]
             for s in (3, 3, 4)]  # fmt: skip
    assert asked[0] == asked[1] != asked[2]


def test_a_session_lasts_five_minutes() -> None:
    session = Session(Plan("length", TERRIER))
    assert not session.is_over(299.0)
    assert session.is_over(300.0)


def test_the_learner_is_told_in_words() -> None:
    """A steady eye of known spread: 75 % are right at 0.6745 of it (normal distribution)."""
    session = Learner(-0.02, 0.0519, 0.01, 3).practise(Plan("length", TERRIER), 1500)
    found = result(session.plan, session.answers)
    assert found.fitted.function.reliable == pytest.approx(0.6745 * 0.0519, rel=0.15)
    threshold, leaning = in_words(found, ONE)
    assert threshold.startswith("You reliably see 3.")
    assert "lean towards calling dogs long" in leaning
    assert "short" in leaning
    level = Learner(0.0, 0.03, 0.01, 5).practise(Plan("length", TERRIER), 80)
    assert "No leaning" in in_words(result(level.plan, level.answers), ONE)[1]


def test_an_eye_that_sees_nothing_is_not_given_a_threshold_it_was_never_shown() -> None:
    session = Learner(0.0, 2.0).practise(Plan("length", TERRIER), 40)
    found = result(session.plan, session.answers)
    assert in_words(found, ONE)[0].startswith("Even 8\u00a0% of the height in length of body")


def test_too_few_answers_are_said() -> None:
    session = Learner(0.0, 0.03).practise(Plan("length", TERRIER), 1)
    with pytest.raises(EstimationError, match=r"go on practising"):
        result(session.plan, session.answers)


# Kept over weeks


def _kept(week: int, answers: int = 80) -> Kept:
    plan = Plan("length", TERRIER, seed=week)
    session = Learner(0.0, 0.05 / (1 + week), 0.02, week).practise(plan, answers)
    return Kept("Ines", f"2026-10-{6 + 7 * week:02d}T18:00:00+02:00", plan, tuple(session.answers))


def test_sessions_come_back_as_they_were(tmp_path: Path) -> None:
    path = tmp_path / "new" / "practice.jsonl"
    sessions = tuple(_kept(week) for week in range(3))
    for one in sessions:
        append(path, one)
    back = read(path)
    assert [one.plan for one in back] == [one.plan for one in sessions]
    assert back[1].answers == sessions[1].answers
    way = stages(back, "Ines", "length", ONE)
    assert [one.result.fitted.function.reliable for one in way] == sorted(
        (one.result.fitted.function.reliable for one in way), reverse=True
    )
    assert "3 sessions" in to_svg(progress(way, contrast("length")))
    assert stages(back, "Otto", "length", ONE) == ()


def test_a_torn_line_loses_no_later_session(tmp_path: Path) -> None:
    path = tmp_path / "practice.jsonl"
    append(path, _kept(0))
    path.write_text(path.read_text(encoding="utf-8") + '{"form": 1, "lear', encoding="utf-8")
    append(path, _kept(1))
    lines = path.read_text(encoding="utf-8").splitlines()
    assert json.loads(lines[2])["began"].startswith("2026-10-13")
    with pytest.raises(DataFileError, match="line 2"):
        read(path)


# Groups


def _class(count: int = 30) -> dict[str, dict[str, int]]:
    chosen = drawing_set("length", 7)
    return {
        f"L{n}": {str(i): grade for i, grade in enumerate(
            Learner(0.0, 0.015, seed=n).grades(chosen.amounts, 0.08), 1)}
        for n in range(count)
    }  # fmt: skip


def test_a_class_of_thirty_agrees_and_its_disputes_come_first(tmp_path: Path) -> None:
    grades = _class()
    grades["L0"] = dict(grades["L1"])
    found = agreement(grades)
    assert len(found.learners) == 30
    parts = [one.agreement for one in found.drawings]
    assert parts == sorted(parts)
    assert all(sum(one.counts) == 30 and len(one.counts) == len(GRADES) for one in found.drawings)
    assert 0.2 < found.kappa.value < 0.9 < found.concordance.value
    path = tmp_path / "grades.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["learner", "drawing", "grade"])
        writer.writerows([one, key, value] for one, given in grades.items()
                         for key, value in given.items())  # fmt: skip
    back = agreement(read_grades(path))
    assert (back.drawings, back.ac1.value) == (found.drawings, found.ac1.value)
    shown = re.findall(r"drawing (\d+)<", to_svg(class_grades(found, contrast("length"))))
    assert shown == [one.name for one in found.drawings]


def test_pairs_that_agree_are_counted_as_by_hand() -> None:
    """By hand: of 3 learners two agree on one drawing: 1 of 3 pairs; all on another: 3 of 3."""
    grades = {"a": {"1": 0, "2": 1, "3": -1}, "b": {"1": 0, "2": 1, "3": -2},
              "c": {"1": 1, "2": 1, "3": -1}}  # fmt: skip
    by_name = {one.name: one.agreement for one in agreement(grades).drawings}
    assert by_name == pytest.approx({"1": 1 / 3, "2": 1.0, "3": 1 / 3})


def test_a_missing_grade_is_named() -> None:
    grades = _class(4)
    del grades["L2"]["5"]
    with pytest.raises(EstimationError, match=r"L2.*5"):
        agreement(grades)


# The eye against the tape


def _finding(trait: str, outcome: Outcome) -> Finding:
    clause = next(c for c in load_standard(TERRIER).clauses if c.trait == trait)
    return Finding(clause, outcome, Probabilities(0.2, 0.4, 0.4))


def test_the_eye_is_held_beside_the_tape(tmp_path: Path) -> None:
    outcomes = (Outcome.ABOVE, Outcome.WITHIN, Outcome.PROBABLY_BELOW, Outcome.UNDECIDED,
                Outcome.NOT_MEASURED)  # fmt: skip
    length = "length_to_height_from_prosternum"
    findings = {f"D{n}": [_finding(length, one)] for n, one in enumerate(outcomes)}
    said = ("over", "over", "under", "as asked", "under")
    found = compare([Judgement(f"D{n}", length, one) for n, one in enumerate(said)], findings)
    assert [row.standing for row in found.rows] == [
        Standing.AGREE, Standing.DIFFER, Standing.AGREE, Standing.EYE_ALONE, Standing.TAPE_ALONE
    ]  # fmt: skip
    assert (found.same, found.decided, found.over, found.under) == (2, 3, 1, 0)
    # Clopper and Pearson by hand for 1 of 1: (0.025, 1).
    assert found.leaning95 == pytest.approx((0.025, 1.0))
    assert "eye is better than the tape" in found.rows[3].sentence
    assert any("eye alone decides" in line for line in found.sentences)
    many = [Judgement("D1", length, "over")] * 8
    assert "leans towards too much" in " ".join(compare(many, findings).sentences)
    path = tmp_path / "judged.csv"
    path.write_text("dog,trait,judgement\nD0,lenght,over\n", encoding="utf-8")
    with pytest.raises(DataFileError, match="row 2"):
        read_judgements(path)
    with pytest.raises(EstimationError, match="not measured"):
        compare([Judgement("Nobody", length, "over")], findings)


# Sheets, command, panel, pictures


@pytest.mark.slow
def test_sheets_are_the_same_for_the_same_seed(tmp_path: Path) -> None:
    from kit.reports.worksheet import write_worksheet

    made = []
    for name, seed in (("a", 3), ("b", 3)):
        sheet, answers = tmp_path / f"{name}.pdf", tmp_path / f"{name}-answers.pdf"
        write_worksheet(sheet, answers, load_standard(TERRIER), "length", seed=seed, count=3)
        made.append((sheet.read_bytes(), answers.read_bytes()))
    assert made[0] == made[1]
    assert drawing_set("length", 3, 3) != drawing_set("length", 4, 3)
    told = PdfReader(tmp_path / "a-answers.pdf").pages[0].extract_text()
    asked = PdfReader(tmp_path / "a.pdf").pages[0].extract_text()
    amounts = drawing_set("length", 3, 3).amounts
    for amount in amounts:
        assert contrast("length").grade(amount) in told
    assert "Tick one box" in asked
    assert "1.0" not in asked.replace("sheet", "")


def test_the_command_teaches(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "new" / "c.svg"
    assert main(["teach", "contrast", "croup", "--as", "pair", "--by", "6", "--out", str(out)]) == 0
    # 1600 by 900 px at 96 px an inch, in the points of an SVG by Matplotlib: 72 to the inch.
    assert 'viewBox="0 0 1200 675"' in out.read_text(encoding="utf-8")[:2000]
    assert main(["teach", "contrast", "--list"]) == 0
    assert "stifle_angle" in capsys.readouterr().out
    assert main(["teach", "contrast", "nothing", "--out", str(out)]) == 2


def test_the_panel_asks_and_keeps(tmp_path: Path) -> None:
    file = tmp_path / "practice.jsonl"
    panel = EyePractice(file, seed=3)
    assert panel.act({"op": "hello"})["op"] == "setup"
    start = {"op": "start", "learner": "Ines", "contrast": "length", "standard": TERRIER,
             "choice": "one", "method": "staircase", "tell": False}  # fmt: skip
    shown = panel.act(start)
    eye = np.random.default_rng(3)
    for number in range(40):
        assert (shown["op"], shown["number"], shown["told"]) == ("trial", number, "")
        assert panel.session is not None
        over = bool(panel.session.trial.level + eye.normal(0, 0.02) > 0)
        sent = {"op": "answer", "number": number, "over": over, "at": 5.0 * number}
        shown = panel.act(sent)
        assert panel.act(sent)["number"] == number + 1  # sent twice, taken once
    shown = panel.act({"op": "answer", "number": 40, "over": True, "at": 301.0})
    assert shown["op"] == "result"
    assert "You reliably see" in shown["sentences"][0]
    assert len(shown["pictures"]) == 2
    assert len(read(file)[0].answers) == 41
    assert panel.act({"op": "hello"})["learners"] == ["Ines"]
    with pytest.raises(KitError, match="start one"):
        panel.act({"op": "finish"})


def test_only_who_asks_is_told_during_the_session(tmp_path: Path) -> None:
    panel = EyePractice(tmp_path / "practice.jsonl", seed=1)
    panel.act({"op": "start", "learner": "", "contrast": "length", "standard": TERRIER,
               "choice": "one", "method": "staircase", "tell": True})  # fmt: skip
    assert panel.session is not None
    level = panel.session.trial.level
    told = panel.act({"op": "answer", "number": 0, "over": level > 0, "at": 1.0})["told"]
    assert told.startswith("Right: ")


def test_the_curve_and_the_words_are_drawn() -> None:
    session = Learner(0.01, 0.03).practise(Plan("length", TERRIER), 80)
    found = result(session.plan, session.answers)
    answers = Answers.of(
        [a.trial.level for a in session.answers], [a.over for a in session.answers]
    )
    assert "80 answers" in to_svg(curve(found, answers))
    assert "nan" not in to_svg(curve(found, answers, TWO))
    # Half of a normal distribution lies on either side of its middle.
    assert "“slightly long” 50\u00a0%" in to_svg(slightly(1.08, 0.01, 1.01, 1.08))
