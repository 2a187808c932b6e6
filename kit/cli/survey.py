"""`conformation survey`: a file of many dogs → report, JSON, and files for others."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from kit.cli.survey_progress import Progress
from kit.protocol.catalogue import Catalogue, catalogue
from kit.quantities.errors import DataFileError
from kit.reliability.design import Design, designs_for
from kit.reliability.own_errors import own_errors, own_errors_text, with_own_errors
from kit.reports.survey_figures import Population, SurveyFigures, survey_figures
from kit.standards.conformity import Outcome
from kit.standards.standard import Standard, load_standard
from kit.survey.again import without_doubtful
from kit.survey.anonymous import anonymised
from kit.survey.dogs import SurveyTable, read_survey, subset, with_traits
from kit.survey.draft import draft_standard
from kit.survey.evaluate import plan
from kit.survey.exchange import write_darwin_core, write_parquet, write_readings
from kit.survey.groups import groupings
from kit.survey.parquet import SurveyFile
from kit.survey.results import write_results
from kit.survey.sample import Findings, Whole, sampled, survey_whole

USABLE, STOPPED = 0, 130
LARGE = 50_000
"""Dogs from which a Parquet file is described from some of them, drawn at random."""
WIDTH_OF_ICC = 0.2
RARE_SHOWN = 10


def run(options: argparse.Namespace) -> int:
    """Work out one survey; see `conformation survey --help`."""
    if options.plan is not None:
        return _plan(options.plan)
    if bool(options.file) == bool(options.database):
        raise DataFileError("no survey is named" if not options.file else "two surveys are named",
                            "a .csv, .csv.gz or .parquet file, or --database")  # fmt: skip
    try:
        with Progress() as progress:
            return _survey(options, progress)
    except KeyboardInterrupt:
        _tell("Stopped. What was measured is untouched" + (
            "; the parts that are written stay, and the same command goes on from there."
            if options.results else "; no report was finished."))  # fmt: skip
        return STOPPED


def _plan(precision: float) -> int:
    designs = designs_for(precision, WIDTH_OF_ICC)
    _say(f"To know the error of one hand to {100 * precision:.0f} % (upper end of its 95 % "
         f"interval) and the correlation between hands to ±{WIDTH_OF_ICC / 2:.2f}:\n")  # fmt: skip
    _say(f"{'dogs':>5} {'measurers':>10} {'repeats':>8} {'readings':>9} {'a dog':>6}   "
         f"{'one hand':<14} spread between hands")  # fmt: skip
    for one in designs:
        _say(_planned(one))
    _say("\nReadings are those of each measurement; 'a dog' is how often one dog is measured "
         "through.\nThe last column: the true spread between all possible hands may be so many "
         "times what the study\nfinds. With few measurers it stays unknown: let everybody take "
         "part who will measure.\nEvery repeat is a new stand, by someone who does not see the "
         "first reading. Repeats tire the dog:\nlet it rest, and stop when it shows that it has "
         "had enough.")  # fmt: skip
    return USABLE


def _planned(one: Design) -> str:
    hand = f"{100 * (one.tem_low - 1):+.0f} to {100 * (one.tem_high - 1):+.0f} %"
    between = f"{one.between_low:.1f} to {one.between_high:.1f} times"
    return (f"{one.dogs:>5} {one.measurers:>10} {one.repeats:>8} {one.readings:>9} "
            f"{one.handlings:>6}   {hand.replace('-', '−'):<14} {between}")  # fmt: skip


def _survey(options: argparse.Namespace, progress: Progress) -> int:
    known = with_own_errors(catalogue(), Path(options.errors)) if options.errors else catalogue()
    standard = load_standard(options.standard) if options.standard else None
    progress.tell("reading")
    table, whole = _read(options, known, standard, progress)
    beside = _beside(options.compare, table, known, options.readings) if options.compare else None
    figures = survey_figures(table, known, standard, beside=beside, whole=whole, tell=progress.tell)
    progress.clear()
    _write_others(figures, options)
    if options.json:
        from kit.cli.survey_json import document

        progress.tell("every figure")
        text = json.dumps(document(figures), ensure_ascii=False)
        progress.clear()
        _say(text)
        return USABLE
    return _report(figures, options, progress)


def _read(
    options: argparse.Namespace, known: Catalogue, standard: Standard | None, progress: Progress
) -> tuple[SurveyTable, Whole | None]:
    path = Path(options.file or "")
    if options.results and path.suffix != ".parquet":
        raise DataFileError("results are written of a Parquet file", "a .parquet file",
                            path.name, "write one with --parquet first")  # fmt: skip
    if options.database:
        table = _from_records(options.database, known)
    elif path.suffix == ".parquet":
        file = SurveyFile(path, known)
        if file.rows > LARGE or options.results:
            return _large(file, known, standard, options, progress)
        table = read_survey(path, known, options.readings)
    else:
        table = read_survey(path, known, options.readings)
    progress.clear()
    for problem in table.problems:
        _tell(problem)
    return table, None


def _from_records(where: str, known: Catalogue) -> SurveyTable:
    from kit.records.store import open_store
    from kit.records.surveys import survey_of_records

    with open_store(where) as store:
        return survey_of_records(store, known)


def _large(
    file: SurveyFile,
    known: Catalogue,
    standard: Standard | None,
    options: argparse.Namespace,
    progress: Progress,
) -> tuple[SurveyTable, Whole | None]:
    """Write results if asked; describe a large survey from some of its dogs."""
    work = plan(file, known, standard, readings=options.readings)
    findings: Findings | None = None
    if options.results:
        done = write_results(file, work, Path(options.results), progress.tell("every dog"))
        findings = done.findings
        progress.clear()
        _tell(f"{done.dogs} dogs in {done.parts} parts, {done.resumed} from an earlier run")
    if file.rows <= LARGE:
        return read_survey(file.path, known, options.readings), None
    progress.tell("dogs drawn at random")
    drawn = sampled(file, known, options.readings)
    return drawn, survey_whole(file, work, drawn, known, findings, progress.tell)


def _beside(
    asked: str, table: SurveyTable, known: Catalogue, readings: int
) -> tuple[Population, Population]:
    """Return the two populations that ``--compare`` names."""
    name, _, word = asked.partition("=")
    labels = {one.name: one.labels for one in groupings(table)}
    if word and name in labels:
        chosen = [label == word for label in labels[name]]
        if not any(chosen):
            raise DataFileError(f"no dog has {name} '{word}'",
                                ", ".join(sorted(set(labels[name]) - {""})), word)  # fmt: skip
        other = [bool(label) and label != word for label in labels[name]]
        return (Population(f"{name} {word}", subset(table, chosen)),
                Population("the others", subset(table, other)))  # fmt: skip
    path = Path(asked)
    if word and not path.exists():
        raise DataFileError(f"nothing to compare with is called '{asked}'",
                            "a survey file, or " + (" or ".join(f"{one}=…" for one in labels)
                                                    or "facts in this one"))  # fmt: skip
    if path.suffix == ".parquet":
        other_table = sampled(SurveyFile(path, known), known, readings)
    else:
        other_table = read_survey(path, known, readings)
    return (Population("this survey", table),
            Population(path.name.partition(".")[0], other_table))  # fmt: skip


def _report(figures: SurveyFigures, options: argparse.Namespace, progress: Progress) -> int:
    from kit.reports.survey_content import survey_report
    from kit.reports.survey_files import write_survey_report

    name = Path(options.file).name if options.file else "stored records"
    report = survey_report(figures, name, progress.tell)
    progress.tell("the report")
    written = write_survey_report(report, Path(options.out))
    progress.clear()
    for one in figures.again[:5]:
        _say(f"Measure again: {one}")
    if len(figures.again) > 5:
        _say(f"and {len(figures.again) - 5} more in the report")
    if figures.whole:
        _print_findings(figures.standard, figures.whole.findings)
    _say(f"Report: {written.html}\n        {written.pdf}")
    return USABLE


def _print_findings(
    standard: Standard | None, findings: Mapping[int, Mapping[Outcome, int]]
) -> None:
    silent = 0
    for clause in standard.clauses if standard else ():
        found = {outcome: n for outcome, n in findings.get(clause.number, {}).items() if n}
        if found.keys() <= {Outcome.NOT_MEASURED, Outcome.NOT_COMPARABLE}:
            silent += 1
        else:
            said = ", ".join(f"{count} {outcome.value}" for outcome, count in found.items())
            _say(f"{clause.trait}: {said}")
    if silent:
        _say(f"{silent} clauses ask what was not measured, or not on the same points")


def _write_others(figures: SurveyFigures, options: argparse.Namespace) -> None:
    table, known = figures.table, figures.catalogue
    today = datetime.now(UTC).date().isoformat()
    if options.own_errors:
        found = own_errors(figures.studied, known)
        if not found:
            raise DataFileError("the survey holds no measurer study",
                                "dogs that several hands measured twice")  # fmt: skip
        _put(Path(options.own_errors), own_errors_text(found, options.club, today))
    if options.draft:
        sound = with_traits(without_doubtful(table, figures.again), known)
        _put(Path(options.draft),
             draft_standard(sound, Path(options.draft).stem, f"Draft of {options.club}",
                            options.club, today, left_out=len(figures.again)))  # fmt: skip
    if figures.whole and (options.parquet or options.darwin_core or options.anonymous
                          or options.package):  # fmt: skip
        raise DataFileError(f"a survey of more than {LARGE} dogs is not written anew",
                            "--results, which writes every dog")  # fmt: skip
    if options.parquet:
        write_parquet(table, Path(options.parquet), known)
    if options.darwin_core:
        write_darwin_core(table, Path(options.darwin_core), known)
    if options.package:
        from kit.records.surveys import export_survey

        export_survey(table, Path(options.package), known)
    if options.anonymous:
        _anonymous(table, Path(options.anonymous))


def _anonymous(table: SurveyTable, path: Path) -> None:
    found = anonymised(table)
    write_readings(found.table, path)
    _tell(f"{path.name}: dogs, lines and measurers have new names, which are kept nowhere.")
    if found.rare:
        _tell(f"{len(found.rare)} combinations were shared by too few dogs and were blanked:")
    for facts, count in found.rare[:RARE_SHOWN]:
        _tell(f"  {facts} ({count})")
    if len(found.rare) > RARE_SHOWN:
        _tell(f"  and {len(found.rare) - RARE_SHOWN} more")
    for facts, count in found.still_rare:
        _tell(f"Still rare: {facts} ({count} dogs)")
    _tell("Figures are left as they are: a dog far from all others may be known by them.")


def _put(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as fault:
        raise DataFileError(f"cannot write {path}", given=str(fault.strerror)) from fault


def _say(text: str) -> None:
    print(text)  # noqa: T201


def _tell(text: str) -> None:
    print(text, file=sys.stderr)  # noqa: T201
