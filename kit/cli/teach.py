"""`conformation teach`: contrasts, worksheets, a class's agreement, the eye against the tape."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from kit.quantities.errors import DataFileError

if TYPE_CHECKING:
    from kit.figure.model import Figure


def run(options: argparse.Namespace) -> int:
    """Do one action; see `conformation teach --help`."""
    _ACTIONS[options.action](options)
    return 0


def _contrast(options: argparse.Namespace) -> None:
    from kit.quantities.kinds import Kind
    from kit.teaching.contrasts import contrast, contrasts

    if options.list:
        for one in contrasts().values():
            print(f"{one.key:12} {one.trait:34} {one.under} … {one.over}")  # noqa: T201
        return
    one = contrast(options.name)
    scale = 1.0 if one.kind is Kind.ANGLE else 100.0
    amount = one.step if options.by is None else options.by / scale
    path = _made(options.out)
    _draw(options, one.key, amount, path)
    print(f"{one.title}: {path}")  # noqa: T201


def _draw(options: argparse.Namespace, key: str, amount: float, path: Path) -> None:
    from kit.drawing.canvas import save
    from kit.drawing.contrast import contrast_overlaid, contrast_pair, contrast_strip

    figure, start = _figure(options), "as measured" if options.readings else "as asked"
    labels, bones = not options.hide, options.bones
    if options.form == "strip":
        scene = contrast_strip(figure, key, options.count, labels=labels, bones=bones, start=start)
    elif options.form == "pair":
        scene = contrast_pair(figure, key, amount, labels=labels, bones=bones, start=start)
    else:
        scene = contrast_overlaid(figure, key, amount, labels=labels, bones=bones, start=start)
    save(scene, path)


def _figure(options: argparse.Namespace) -> Figure:
    from kit.standards.standard import load_standard
    from kit.standards.target import own_height, target_figure

    if not options.readings:
        standard = load_standard(options.standard)
        return target_figure(standard, own_height(standard))
    from kit.figure.placement import place

    dogs = _estimates(Path(options.readings))
    name = options.dog or next(iter(dogs))
    if name not in dogs:
        raise DataFileError(f"no dog is called '{name}'", ", ".join(dogs), name)
    return place(dogs[name])


def _estimates(path: Path) -> dict[str, dict[str, float]]:
    """Return every dog's best values, the left side where there are two."""
    from kit.protocol.catalogue import catalogue
    from kit.protocol.reading_files import by_dog, read_csv
    from kit.standards.assessment import assess

    found: dict[str, dict[str, float]] = {}
    for dog, readings in by_dog(read_csv(path, catalogue()).readings):
        values = found.setdefault(dog, {})
        for (key, side), one in assess(readings, catalogue()).estimates.items():
            if key not in values or side == "left":
                values[key] = one.value
    return found


def _worksheet(options: argparse.Namespace) -> None:
    from kit.reports.worksheet import write_worksheet
    from kit.standards.standard import load_standard

    sheet, answers = _made(options.out), _made(options.answers)
    write_worksheet(sheet, answers, load_standard(options.standard), options.name,
                    seed=options.seed, count=options.count)  # fmt: skip
    print(f"Worksheet: {sheet}\nAnswers:   {answers}")  # noqa: T201


def _group(options: argparse.Namespace) -> None:
    from kit.drawing.canvas import save
    from kit.drawing.class_grades import class_grades
    from kit.teaching.contrasts import contrast
    from kit.teaching.group import agreement, read_grades

    found = agreement(read_grades(Path(options.grades)))
    print(f"{len(found.learners)} learners, {len(found.drawings)} drawings")  # noqa: T201
    for one in (found.kappa, found.ac1, found.concordance):
        print(f"{one.name:14} {one.value:6.2f}  95 % {one.low95:.2f} to {one.high95:.2f}")  # noqa: T201
    for drawing in found.drawings:
        print(f"drawing {drawing.name:>3}: {drawing.agreement:4.0%} of pairs agree, "  # noqa: T201
              f"grades -2 to 2: {' '.join(map(str, drawing.counts))}")  # fmt: skip
    if options.picture:
        save(class_grades(found, contrast(options.contrast)), _made(options.picture))


def _eye(options: argparse.Namespace) -> None:
    from kit.protocol.catalogue import catalogue
    from kit.protocol.reading_files import by_dog, read_csv
    from kit.standards.assessment import assess
    from kit.standards.standard import load_standard
    from kit.teaching.eye_tape import compare, read_judgements

    standard = load_standard(options.standard)
    dogs = dict(by_dog(read_csv(Path(options.readings), catalogue()).readings))
    judged = read_judgements(Path(options.judgements))
    findings = {dog: assess(dogs[dog], catalogue(), standard).findings
                for dog in dict.fromkeys(one.dog for one in judged) if dog in dogs}  # fmt: skip
    found = compare(judged, findings)
    for line in (*found.sentences, "", *(row.sentence for row in found.rows)):
        print(line)  # noqa: T201


def _made(name: str) -> Path:
    path = Path(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    return path


_ACTIONS: Mapping[str, Callable[[argparse.Namespace], None]] = {
    "contrast": _contrast,
    "worksheet": _worksheet,
    "group": _group,
    "eye": _eye,
}
