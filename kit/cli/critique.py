"""`conformation critique`: readings, grades and movement → critiques, and dogs side by side."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any

from kit.cli.critique_records import looked_of, records_of, save
from kit.movement.observations import Observation, read_movement
from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import RowProblem, by_dog, read_csv
from kit.quantities.errors import DataFileError
from kit.records.entries import SavedCritique, Stored
from kit.reports.critique import Critique
from kit.reports.critique_build import Looked, look, write_critique
from kit.reports.critique_class import class_of, pair_of
from kit.reports.critique_edit import (
    as_record,
    as_text,
    edited,
    save_record,
    save_text,
)
from kit.standards.assessment import assess
from kit.standards.findings import Scope
from kit.standards.points import Grade, read_grades
from kit.standards.standard import Standard, load_standard


@dataclass(frozen=True)
class _Dogs:
    """Every dog looked at, those whose critiques are wanted, and rows that could not be used."""

    every: Sequence[Looked]
    chosen: Sequence[Looked]
    problems: tuple[RowProblem, ...]


def run(options: argparse.Namespace) -> int:
    """Write critiques of a file's dogs, or of the records'; see `conformation critique --help`."""
    standard = load_standard(options.standard)
    if options.database or options.save or not options.readings:
        return _from_records(options, standard)
    grades, observations, problems = _beside(options, standard)
    dogs, more = _looked(options, standard, grades, observations)
    chosen = [one for one in dogs if options.dog in {None, one.assessment.dog}]
    if not chosen:
        names = ", ".join(one.assessment.dog for one in dogs) or "no usable reading"
        raise DataFileError(f"no readings of a dog called '{options.dog}'", names,
                            str(options.dog), "check --dog")  # fmt: skip
    found = _Dogs(dogs, chosen, (*more, *problems))
    return _hand_over(_critiques(options, found), found, options)


def _from_records(options: argparse.Namespace, standard: Standard) -> int:
    with records_of(options) as store:
        every, chosen, problems = looked_of(store, options, standard)
        found = _Dogs([one.looked for one in every], [one.looked for one in chosen], problems)
        critiques = _critiques(options, found)
        if options.save:
            for one, critique in zip(chosen, critiques, strict=True):
                _say_saved(*save(store, one, critique, options.by))
    return _hand_over(critiques, found, options)


def _critiques(options: argparse.Namespace, found: _Dogs) -> list[Critique]:
    for problem in found.problems:
        print(problem, file=sys.stderr)  # noqa: T201
    written = _date(options.date)
    critiques = [write_critique(one, options.form, written, options.by) for one in found.chosen]
    return [_edited(critiques, Path(options.edited))] if options.edited else critiques


def _hand_over(critiques: Sequence[Critique], found: _Dogs, options: argparse.Namespace) -> int:
    pair = _pair(found.every, options.pair)
    if options.json:
        print(json.dumps(_document(critiques, found.chosen, pair, found.problems),  # noqa: T201
                         ensure_ascii=False))  # fmt: skip
        return 0
    return _write(critiques, found.chosen, pair, Path(options.out), edited_file=options.edited)


def _say_saved(row: Stored[SavedCritique], new: bool) -> None:
    """Say it beside the output, which may be JSON."""
    state = "saved in the records" if new else "in the records already, word for word"
    print(f"{row.content.dog}: critique {row.id} {state}", file=sys.stderr)  # noqa: T201


def _date(given: str | None) -> str:
    if given is None:
        return date.today().isoformat()  # noqa: DTZ011  (the writer's own day)
    try:
        return date.fromisoformat(given).isoformat()
    except ValueError as fault:
        raise DataFileError("unknown date", "YYYY-MM-DD", given, "correct --date") from fault


def _beside(
    options: argparse.Namespace, standard: Standard
) -> tuple[tuple[Grade, ...], tuple[Observation, ...], tuple[RowProblem, ...]]:
    """Read the grades and the movement, where they are given."""
    grades: tuple[Grade, ...] = ()
    observations: tuple[Observation, ...] = ()
    problems: tuple[RowProblem, ...] = ()
    if options.grades:
        seen = read_grades(Path(options.grades), standard.points)
        grades, problems = seen.rows, problems + seen.problems
    if options.movement:
        moved = read_movement(Path(options.movement))
        observations, problems = moved.rows, problems + moved.problems
    return grades, observations, problems


def _looked(
    options: argparse.Namespace,
    standard: Standard,
    grades: Sequence[Grade],
    observations: Sequence[Observation],
) -> tuple[list[Looked], tuple[RowProblem, ...]]:
    file = read_csv(Path(options.readings), catalogue())
    wanted = {options.dog, *(options.pair or ())} if options.dog else None
    scope = Scope(options.sex or "", options.age)
    dogs = [
        look(assess(group, catalogue(), standard, scope), grades, observations)
        for name, group in by_dog(file.readings)
        if wanted is None or name in wanted
    ]
    if not dogs and wanted is None:
        raise DataFileError(f"no usable reading in {options.readings}", do="see the rows above")
    return dogs, file.problems


def _edited(critiques: Sequence[Critique], path: Path) -> Critique:
    if len(critiques) != 1:
        raise DataFileError("an edited text belongs to one dog", "--dog beside --edited",
                            f"{len(critiques)} dogs")  # fmt: skip
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise DataFileError(f"cannot read {path}", "a text file in UTF-8", str(fault)) from fault
    return edited(critiques[0], text)


def _pair(dogs: Sequence[Looked], names: Sequence[str] | None) -> Any:
    if not names:
        return None
    known = {one.assessment.dog: one for one in dogs}
    for name in names:
        if name not in known:
            raise DataFileError(f"no readings of a dog called '{name}'", ", ".join(known), name,
                                "check --pair")  # fmt: skip
    return pair_of(known[names[0]], known[names[1]])


def _document(
    critiques: Sequence[Critique], dogs: Sequence[Looked], pair: Any, problems: Sequence[RowProblem]
) -> dict[str, Any]:
    return {
        "dogs": [
            {**as_record(one), "movement": _movement(looked), "seen": _seen(looked)}
            for one, looked in zip(critiques, dogs, strict=True)
        ],
        "side_by_side": asdict(class_of(dogs)) if len(dogs) > 1 else None,
        "pair": asdict(pair) if pair else None,
        "problems": [{"file": p.file, "row": p.row, "column": p.column, "message": str(p)}
                     for p in problems],
    }  # fmt: skip


def _seen(looked: Looked) -> list[dict[str, Any]]:
    return [{"point": one.point, "finding": one.seen.value,
             "grades": [asdict(grade) for grade in one.grades]} for one in looked.seen]  # fmt: skip


def _movement(looked: Looked) -> list[dict[str, Any]]:
    """Return every figure of movement with its interval, by pace."""
    movement = looked.movement
    if movement is None:
        return []
    rows = [(pace.pace, key, one) for pace in movement.paces.values()
            for key, one in pace.figures.items()]  # fmt: skip
    rows += [(pace.pace, f"{key} of run {work.run}", one) for pace in movement.paces.values()
             for work in pace.footwork for key, one in work.figures.items()]  # fmt: skip
    rows += [("", key, one) for key, one in movement.tracks.items()]
    return [
        {"pace": pace, "figure": key, "value": one.value, "unit": one.figure.unit,
         "u": one.uncertainty, "low95": one.low95, "high95": one.high95}
        for pace, key, one in rows
    ]  # fmt: skip


def _write(
    critiques: Sequence[Critique],
    dogs: Sequence[Looked],
    pair: Any,
    folder: Path,
    edited_file: str | None,
) -> int:
    from kit.reports.critique_html import save_side_by_side
    from kit.reports.files import folder_name

    for critique in critiques:
        own = folder / folder_name(critique.dog)
        stem = _free_stem(own, critique.written) if edited_file else "critique"
        lines = _files(critique, own, stem)
        if not edited_file:
            lines.append(_text_to_change(critique, own))
        print("\n".join(lines))  # noqa: T201
    if len(dogs) > 1:
        print(f"Side by side: {save_side_by_side(class_of(dogs), folder / 'side-by-side.html')}")  # noqa: T201
    if pair:
        print(f"Pair: {save_side_by_side(pair, folder / 'pair.html')}")  # noqa: T201
    return 0


def _files(critique: Critique, folder: Path, stem: str) -> list[str]:
    from kit.reports.critique_html import save_critique_html
    from kit.reports.critique_pdf import save_critique_pdf

    page = save_critique_html(critique, folder / f"{stem}.html")
    paper = save_critique_pdf(critique, folder / f"{stem}.pdf")
    save_record(critique, folder / f"{stem}.json")
    return [f"{critique.dog}: {page}", f"{' ' * len(critique.dog)}  {paper}"]


def _free_stem(folder: Path, written: str) -> str:
    """Return a name no saved critique bears: what was edited and saved is never overwritten."""
    stem, number = f"critique-{written}", 1
    while (folder / f"{stem}.json").exists():
        number += 1
        stem = f"critique-{written}-{number}"
    return stem


def _text_to_change(critique: Critique, folder: Path) -> str:
    """Write the text to be changed, never over one that a person may have changed."""
    path, number = folder / "critique.txt", 1
    while path.exists() and path.read_text(encoding="utf-8") != as_text(critique):
        number += 1
        path = folder / f"critique-{number}.txt"
    save_text(critique, path)
    return f"To change the wording: {path}, then run again with --edited and its name"
