"""`conformation growth`: litters of a CSV or of the records → litter sheets, or JSON."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from kit.cli.growth_json import litter_json, problem_json
from kit.cli.growth_known import by_whelping, club_centiles, learned, litter_name
from kit.growth.alerts import in_the_past
from kit.growth.litter_files import read_litter
from kit.growth.puppies import GrowthRecord, Puppy, growth_record
from kit.growth.ranking import in_words
from kit.growth.study import Known, LitterStudy, MeasurementStudy, study_litter
from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import RowProblem
from kit.protocol.readings import Reading
from kit.quantities.errors import DataFileError
from kit.standards.standard import load_standard

FULL_DATE = len("2026-03-01")
GROWN_DAYS = 730  # a dog first measured later was not followed as a puppy


@dataclass(frozen=True)
class _Source:
    """Readings and puppies, wherever they came from."""

    name: str
    readings: tuple[Reading, ...]
    puppies: tuple[Puppy, ...]
    problems: tuple[RowProblem, ...]


def run(options: argparse.Namespace) -> int:
    """Work out the litters; see `conformation growth --help`."""
    source = _from_file(options) if options.readings else _from_records(options)
    known = Known(
        model=options.model,
        standard=load_standard(options.standard) if options.standard else None,
        shared=learned(options),
        centiles=club_centiles(options),
    )
    litters = by_whelping(_chosen(source.puppies, options))
    for problem in source.problems:
        _say(str(problem))
    studies = {
        name: study_litter(_record(source, puppies, whole=len(litters) == 1), catalogue(), known)
        for name, puppies in litters.items()
    }
    if options.json:
        print(json.dumps(_document(studies, source.problems), ensure_ascii=False))  # noqa: T201
        return 0
    for name, study in studies.items():
        _report(name, study, source, options)
    return 0


def _document(
    studies: Mapping[str, LitterStudy], problems: Iterable[RowProblem]
) -> dict[str, object]:
    return {
        "litters": [litter_json(name, study) for name, study in studies.items()],
        "problems": [problem_json(problem) for problem in problems],
    }


def _date(text: str | None) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise DataFileError("--born is no date", "YYYY-MM-DD", text) from fault


def _from_file(options: argparse.Namespace) -> _Source:
    path = Path(options.readings)
    file = read_litter(path, catalogue(), _date(options.born))
    return _Source(path.name, file.readings, file.puppies, file.problems)


def _from_records(options: argparse.Namespace) -> _Source:
    from kit.records.connection import file_of, locate
    from kit.records.puppies import followed, has_age
    from kit.records.store import open_store

    target = options.database or None
    path = file_of(locate(target))
    if path is not None and not path.exists():
        raise DataFileError(f"there are no records at {path}", "a records file",
                            do="check --database, or import readings first")  # fmt: skip
    born = _date(options.born)
    with open_store(target) as store:
        dogs = [dog for dog in store.dogs() if has_age(dog) and born in (None, _date(dog.born))]
        if not dogs:
            raise DataFileError("no puppy in the records has that date of birth",
                                "a full date of birth", options.born or "none",
                                "set the date of birth in the litter panel")  # fmt: skip
        readings, puppies = followed(store, dogs)
        where = store.where
    kept = puppies if born else _young(puppies, readings)
    names = {puppy.name for puppy in kept}
    return _Source(where, tuple(one for one in readings if one.dog in names), kept, ())


def _young(puppies: Sequence[Puppy], readings: Iterable[Reading]) -> tuple[Puppy, ...]:
    """Return the dogs without those measured only when grown, who are told."""
    first: dict[str, str] = {}
    for reading in readings:
        if reading.time:
            first[reading.dog] = min(first.get(reading.dog, reading.time), reading.time)
    grown = {
        puppy.name for puppy in puppies if puppy.name in first
        and puppy.age_on(date.fromisoformat(first[puppy.name][:FULL_DATE])) > GROWN_DAYS
    }  # fmt: skip
    if grown:
        _say(f"Measured as grown dogs only, left out: {', '.join(sorted(grown))}")
    young = tuple(puppy for puppy in puppies if puppy.name not in grown)
    if not young:
        raise DataFileError("no dog in the records was measured as a puppy",
                            f"a reading before day {GROWN_DAYS}")  # fmt: skip
    return young


def _chosen(puppies: Sequence[Puppy], options: argparse.Namespace) -> list[Puppy]:
    chosen = [puppy for puppy in puppies if not options.dog or puppy.name in options.dog]
    chosen = [p for p in chosen if not options.litter or litter_name(p) == options.litter]
    if not chosen:
        names = ", ".join(f"{puppy.name} ({litter_name(puppy)})" for puppy in puppies)
        raise DataFileError("no such puppy or litter", names, do="check --dog and --litter")
    return chosen


def _record(source: _Source, puppies: Sequence[Puppy], *, whole: bool) -> GrowthRecord:
    """Order a litter's readings; those of dogs nobody knows are told of once, with one litter."""
    names = {puppy.name for puppy in puppies}
    others = {puppy.name for puppy in source.puppies} - names
    own = [r for r in source.readings if r.dog in names or (whole and r.dog not in others)]
    return growth_record(own, puppies, catalogue())


def _report(name: str, study: LitterStudy, source: _Source, options: argparse.Namespace) -> None:
    from kit.reports.growth_content import doubts_in_words, measured
    from kit.reports.growth_files import write_litter_report

    shown = measured(study, options.measurement)
    out = Path(options.out)
    written = write_litter_report(
        study, out, name, source.name, source.problems, options.measurement
    )
    lines = [name, *(f"  {alert.text}" for alert in study.alerts_now)]
    lines += [f"  earlier: {in_the_past(alert)}" for alert in study.alerts_earlier]
    doubts = doubts_in_words(study)
    lines += ["Look at these readings again:"] if doubts else []
    lines += [f"  {text}" for text in doubts]
    for one in shown:
        lines += _measurement(one, study.record)
    lines.append(f"Sheet: {written.html}\n       {written.pdf}")
    print("\n".join(lines))  # noqa: T201


def _measurement(one: MeasurementStudy, record: GrowthRecord) -> Iterator[str]:
    """Yield what is known of one measurement: each puppy, then their order."""
    from kit.drawing.growth_litter import interval_text
    from kit.reports.growth_content import size_text, title_of

    yield f"{title_of(one.measurement)}:"
    for puppy in record.living:
        series = one.series.get(puppy.name)
        if series is None or not series.points:
            continue
        last = series.points[-1]
        line = f"  {puppy.name}: {size_text(last.value, one.kind)} on day {last.age}"
        if puppy.name in one.adult:
            line += f"; grown {interval_text(one, puppy.name)} (90 %)"
        yield line
    yield from (f"  {dog}: {why}." for dog, why in one.refused.items())
    yield from [f"  {_sentence(one.reason)}"] if one.reason else []
    places, when = (one.grown, "grown") if one.grown else (one.now, f"on day {one.now_age}")
    if len(places) > 1:
        yield f"{title_of(one.measurement)} {when}, in order:"
        yield from (f"  {sentence}" for sentence in in_words(places))


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _say(text: str) -> None:
    print(text, file=sys.stderr)  # noqa: T201
