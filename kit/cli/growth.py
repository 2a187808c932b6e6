"""`conformation growth`: litters of a CSV or of the records → litter sheets, or JSON."""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from kit.cli.growth_json import litter_json, problem_json
from kit.cli.growth_known import by_whelping, club_centiles, learned, litter_name
from kit.growth.alerts import in_the_past
from kit.growth.litter_files import read_litter
from kit.growth.puppies import GrowthRecord, Puppy, growth_record
from kit.growth.ranking import in_words
from kit.growth.study import Known, LitterStudy, study_litter
from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import RowProblem
from kit.protocol.readings import Reading
from kit.quantities.errors import DataFileError
from kit.records.values import Dog
from kit.standards.standard import load_standard

_NOTED = re.compile(r"\b(collar|died|litter): *([^;,\n]+)", re.IGNORECASE)
FULL_DATE = len("2026-03-01")


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
        _report(name, study, source, Path(options.out))
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
    from kit.records.store import open_store

    target = options.database or None
    path = file_of(locate(target))
    if path is not None and not path.exists():
        raise DataFileError(f"there are no records at {path}", "a records file",
                            do="check --database, or import readings first")  # fmt: skip
    with open_store(target) as store:
        born = _date(options.born)
        dogs = [dog for dog in store.dogs() if len(dog.born) == FULL_DATE]
        wanted = [dog for dog in dogs if born is None or dog.born == str(born)]
        if not wanted:
            raise DataFileError("no puppy in the records has that date of birth",
                                "a full date of birth", options.born or "none",
                                "set the date of birth in the panel")  # fmt: skip
        readings = tuple(row.reading for dog in wanted for row in store.readings(dog.id))
        return _Source(store.where, readings, tuple(puppy_of(dog) for dog in wanted), ())


def puppy_of(dog: Dog) -> Puppy:
    """Return a stored dog as a puppy; its note may say ``collar: red`` and ``died: 2026-03-10``."""
    noted = {name.lower(): text.strip() for name, text in _NOTED.findall(dog.note)}
    died = noted.get("died", "")
    return Puppy(
        name=dog.name,
        born=date.fromisoformat(dog.born),
        sex=dog.sex,
        mark=noted.get("collar", ""),
        died=_date(died),
        litter=noted.get("litter", ""),
    )


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


def _report(name: str, study: LitterStudy, source: _Source, out: Path) -> None:
    from kit.reports.growth_files import write_litter_report

    written = write_litter_report(study, out, name, source.name, source.problems)
    lines = [name, *(f"  {alert.text}" for alert in study.alerts_now)]
    lines += [f"  earlier: {in_the_past(alert)}" for alert in study.alerts_earlier]
    for one in study.measurements:
        if one.measurement in ("weight", "height_at_withers"):
            places = one.grown or one.now
            when = "grown" if one.grown else f"on day {one.now_age}"
            lines.append(f"{catalogue().measurement(one.measurement).title} {when}:")
            lines += [f"  {sentence}" for sentence in in_words(places)]
            lines += [f"  {dog}: {why}" for dog, why in one.refused.items()]
            lines += [f"  {one.reason}"] if one.reason else []
    lines.append(f"Sheet: {written.html}\n       {written.pdf}")
    print("\n".join(lines))  # noqa: T201


def _say(text: str) -> None:
    print(text, file=sys.stderr)  # noqa: T201
