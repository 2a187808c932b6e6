"""`conformation survey`: a file of many dogs → report, JSON, and files for others."""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kit.protocol.catalogue import Catalogue, catalogue
from kit.quantities.errors import DataFileError
from kit.reliability.design import designs_for
from kit.reliability.own_errors import own_errors, own_errors_text, with_own_errors
from kit.standards.conformity import Outcome
from kit.standards.standard import Standard, load_standard
from kit.survey.decide import tally
from kit.survey.dogs import SurveyTable, read_survey
from kit.survey.draft import draft_standard
from kit.survey.evaluate import evaluate, plan
from kit.survey.exchange import anonymised, write_darwin_core, write_parquet, write_readings
from kit.survey.parquet import SurveyFile
from kit.survey.results import write_results
from kit.survey.summary import FEWEST, summarise

if TYPE_CHECKING:
    from kit.reports.survey_content import SurveyReport

USABLE = 0
LARGE = 50_000
"""Dogs from which a Parquet file is worked out in a stream, without a report."""
WIDTH_OF_ICC = 0.2


def run(options: argparse.Namespace) -> int:
    """Work out one survey; see `conformation survey --help`."""
    if options.plan is not None:
        return _plan(options.plan)
    if not options.file:
        raise DataFileError("no survey is named", "a .csv, .csv.gz or .parquet file")
    known = catalogue()
    if options.errors:
        known = with_own_errors(known, Path(options.errors))
    standard = load_standard(options.standard) if options.standard else None
    path = Path(options.file)
    if path.suffix == ".parquet":
        file = SurveyFile(path, known)
        if options.results or file.rows > LARGE:
            return _stream(file, known, standard, options)
    return _survey(path, known, standard, options)


def _plan(precision: float) -> int:
    for one in designs_for(precision, WIDTH_OF_ICC):
        _say(
            f"{one.dogs} dogs, {one.measurers} measurers, {one.repeats} repeats: {one.readings} "
            f"readings of each measurement, each dog measured {one.handlings} times; error of one "
            f"hand known to {100 * (one.tem_low - 1):+.0f}/{100 * (one.tem_high - 1):+.0f} %, "
            f"spread between hands to {100 * (one.between_low - 1):+.0f}/"
            f"{100 * (one.between_high - 1):+.0f} %"
        )
    _say("Few measurers tell little about all others; repeats tire the dog: let it rest between.")
    return USABLE


def _survey(
    path: Path, known: Catalogue, standard: Standard | None, options: argparse.Namespace
) -> int:
    from kit.reports.survey_content import survey_report

    table = read_survey(path, known, options.readings)
    for problem in table.problems:
        _tell(problem)
    report = survey_report(table, known, standard, file=path.name)
    _write_others(table, report, known, options)
    if options.json:
        _say(json.dumps(_document(table, report), ensure_ascii=False))
        return USABLE
    from kit.reports.survey_files import write_survey_report

    written = write_survey_report(report, Path(options.out))
    for one in report.again[:5]:
        _say(f"Measure again: {one}")
    if len(report.again) > 5:
        _say(f"and {len(report.again) - 5} more in the report")
    _say(f"Report: {written.html}\n        {written.pdf}")
    return USABLE


def _write_others(
    table: SurveyTable, report: SurveyReport, known: Catalogue, options: argparse.Namespace
) -> None:
    today = datetime.now(UTC).date().isoformat()
    if options.own_errors:
        found = own_errors(report.studied, known)
        if not found:
            raise DataFileError("the survey holds no measurer study",
                                "dogs that several hands measured twice")  # fmt: skip
        _put(Path(options.own_errors), own_errors_text(found, options.club, today))
    if options.draft:
        title = f"Draft of {options.club}"
        key = Path(options.draft).stem
        _put(Path(options.draft), draft_standard(table, key, title, options.club, today))
    if options.parquet:
        write_parquet(table, Path(options.parquet), known)
    if options.darwin_core:
        write_darwin_core(table, Path(options.darwin_core), known)
    if options.anonymous:
        _anonymous(table, Path(options.anonymous))


def _anonymous(table: SurveyTable, path: Path) -> None:
    if not table.readings:
        raise DataFileError("an anonymous copy is made of readings", "a CSV of readings")
    found = anonymised(table)
    write_readings(found.table, path)
    _tell(f"{len(found.rare)} rare combinations were blanked in {path.name}")


def _put(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as fault:
        raise DataFileError(f"cannot write {path}", given=str(fault.strerror)) from fault


def _stream(
    file: SurveyFile, known: Catalogue, standard: Standard | None, options: argparse.Namespace
) -> int:
    work = plan(file, known, standard, readings=options.readings)
    told = _Progress()
    findings: dict[int, dict[Outcome, int]] = {}
    try:
        if options.results:
            done = write_results(file, work, Path(options.results), told)
            findings = done.findings
            _tell(f"{done.dogs} dogs in {done.parts} parts, {done.resumed} from an earlier run")
        else:
            for chunk in evaluate(file, work, progress=told):
                for number, codes in chunk.findings.items():
                    own = findings.setdefault(number, {})
                    for outcome, count in tally(codes):
                        own[outcome] = own.get(outcome, 0) + count
    except KeyboardInterrupt:
        _tell("Stopped. The parts that are written stay; the same command goes on from there."
              if options.results else "Stopped.")  # fmt: skip
        return 130
    _print_findings(file.rows, standard, findings, as_json=options.json)
    return USABLE


class _Progress:
    """Says on one line how far it is, from the second second on."""

    def __init__(self) -> None:
        self.started = self.last = time.monotonic()

    def __call__(self, done: int, total: int) -> None:
        now = time.monotonic()
        if now - self.started > 1.0 and (now - self.last > 0.5 or done == total):
            self.last = now
            end = "\n" if done == total else ""
            print(f"\r{done} of {total} dogs", end=end, file=sys.stderr, flush=True)  # noqa: T201


def _print_findings(
    dogs: int,
    standard: Standard | None,
    findings: dict[int, dict[Outcome, int]],
    *,
    as_json: bool,
) -> None:
    clauses = standard.clauses if standard else ()
    rows = [(c, {o.value: n for o, n in findings.get(c.number, {}).items() if n}) for c in clauses]
    if as_json:
        listed = [{"clause": c.number, "trait": c.trait, "findings": found} for c, found in rows]
        _say(json.dumps({"dogs": dogs, "clauses": listed}))
        return
    _say(f"{dogs} dogs")
    for clause, found in rows:
        said = ", ".join(f"{count} {word}" for word, count in found.items())
        _say(f"{clause.trait}: {said}")


def _document(table: SurveyTable, report: SurveyReport) -> dict[str, Any]:
    """Return what `--json` prints."""
    return {
        "dogs": len(table),
        "traits": {key: _summary(table, key) for key in (*table.traits, *table.values)},
        "clauses": [
            {
                "trait": one.clause.trait, "sex": one.clause.sex, "low": one.clause.low,
                "high": one.clause.high, "dogs": one.count, "missing": one.missing,
                "as_read": _plain(one.as_read), "within": _plain(one.within),
                "within_low": _plain(one.low), "within_high": _plain(one.high),
                "observed_sd": _plain(one.observed_sd), "error_sd": _plain(one.error_sd),
                "true_sd": _plain(one.true_sd),
                "findings": {outcome.value: count for outcome, count in one.findings.items()},
            }
            for one in report.shares
        ],
        "measure_again": [
            {"dog": one.dog, "measurement": one.measurement, "value": one.value,
             "expected": one.expected, "distance": one.distance, "reason": one.reason}
            for one in report.again
        ],
        "measurers": [
            {"measurement": one.key, "tem": one.within.tem, "percent": _plain(one.within.percent),
             "reliability": _plain(one.within.reliability), "tem_between": one.between_error,
             "components": {part.name: part.sd for part in one.components.parts},
             "bias": dict(one.bias)}
            for one in report.studied
        ],
        "problems": list(table.problems),
    }  # fmt: skip


def _summary(table: SurveyTable, key: str) -> dict[str, Any]:
    values = table.column(key)
    known = sum(1 for value in values.tolist() if math.isfinite(value))
    if known < FEWEST:
        return {"dogs": known}
    one = summarise(values, key)
    centiles = [
        {"percent": c.percent, "value": c.value, "low95": c.low, "high95": c.high}
        for c in one.centiles
    ]
    return {"dogs": one.count, "missing": one.missing, "mean": one.mean, "sd": one.sd,
            "mean_low95": one.mean_low, "mean_high95": one.mean_high,
            "centiles": centiles}  # fmt: skip


def _plain(value: float) -> float | None:
    return None if math.isnan(value) else value


def _say(text: str) -> None:
    print(text)  # noqa: T201


def _tell(text: str) -> None:
    print(text, file=sys.stderr)  # noqa: T201
