"""`conformation assess`: a CSV of readings → findings, as JSON or as reports."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from kit.cli.as_json import as_json
from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import ReadingFile, RowProblem, by_dog, read_csv
from kit.protocol.readings import Reading
from kit.quantities.errors import DataFileError
from kit.standards.assessment import Assessment, assess
from kit.standards.conformity import Levels
from kit.standards.findings import Scope
from kit.standards.standard import load_standard


def run(options: argparse.Namespace) -> int:
    """Assess the dogs of one file; see `conformation assess --help`."""
    standard = load_standard(options.standard) if options.standard else None
    levels = Levels(options.decide, options.probable)
    scope = Scope(options.sex or "", options.age)
    file = read_csv(Path(options.readings), catalogue())
    dogs = _chosen(file, options.dog)
    for problem in file.problems:
        _say(str(problem))
    if not dogs:
        raise DataFileError(f"no usable reading in {options.readings}", do="see the rows above")
    assessments = [assess(group, catalogue(), standard, scope, levels) for _, group in dogs]
    if options.json:
        print(json.dumps(as_json(assessments, file.problems), ensure_ascii=False))  # noqa: T201
        return 0
    return _report(assessments, file.problems, options)


def _chosen(file: ReadingFile, dog: str | None) -> list[tuple[str, tuple[Reading, ...]]]:
    dogs = list(by_dog(file.readings))
    if dog is None:
        return dogs
    chosen = [row for row in dogs if row[0].casefold() == dog.strip().casefold()]
    if not chosen:
        names = ", ".join(name for name, _ in dogs) or "no usable reading"
        raise DataFileError(f"no readings of a dog called '{dog}'", names, dog, "check --dog")
    return chosen


def _report(
    assessments: Sequence[Assessment],
    problems: Iterable[RowProblem],
    options: argparse.Namespace,
) -> int:
    from kit.reports.files import write_report

    folder = Path(options.out)
    for number, assessment in enumerate(assessments, start=1):
        if len(assessments) > 1:
            _say(f"{number} of {len(assessments)}: {assessment.dog}")
        written = write_report(assessment, folder, Path(options.readings).name, problems)
        _print_summary(assessment)
        print(f"Report: {written.html}\n        {written.pdf}")  # noqa: T201
    return 0


def _print_summary(assessment: Assessment) -> None:
    from kit.reports.sentences import summary_lines

    print("\n".join(summary_lines(assessment)))  # noqa: T201


def _say(text: str) -> None:
    print(text, file=sys.stderr)  # noqa: T201
