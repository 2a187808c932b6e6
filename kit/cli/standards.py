"""`conformation standards`: list, show and check standard files."""

from __future__ import annotations

import argparse
from pathlib import Path

from kit.quantities.formatting import with_unit
from kit.standards.points import MovementClause, PointClause
from kit.standards.standard import (
    FOLDER,
    Clause,
    Standard,
    load_standard,
    read_standard,
    shipped_standards,
)
from kit.traits.declarations import trait


def run(options: argparse.Namespace) -> int:
    """Run one action; see `conformation standards --help`."""
    if options.action == "list":
        lines = [_line(load_standard(name)) for name in shipped_standards()]
    elif options.action == "check":
        checked = read_standard(Path(options.file))
        lines = [f"{options.file}: {_counted(checked)}, nothing wrong"]
    elif options.toml:
        lines = [(FOLDER / f"{load_standard(options.name).key}.toml").read_text(encoding="utf-8")]
    else:
        lines = _show(load_standard(options.name))
    print("\n".join(lines))  # noqa: T201
    return 0


def _counted(standard: Standard) -> str:
    """Count what a file asks: clauses, and the points and figures of movement where it has any."""
    counts = [f"{len(standard.clauses)} clauses"]
    if standard.points:
        counts.append(f"{len(standard.points)} points graded by eye")
    if standard.movement:
        counts.append(f"{len(standard.movement)} figures of movement")
    return ", ".join(counts)


def _line(standard: Standard) -> str:
    memory = sum(clause.evidence == "from memory" for clause in standard.clauses)
    suffix = f", {memory} of them from memory" if memory else ""
    return (
        f"{standard.key:26} {standard.title}: {len(standard.clauses)} clauses{suffix}; "
        f"{standard.evidence}"
    )


def _show(standard: Standard) -> list[str]:
    head = [
        standard.title,
        f"  source: {standard.source}; dated {standard.dated}, valid from {standard.valid_from}",
        f"  status: {standard.status}; {standard.evidence}",
    ]
    if standard.note:
        head.append(f"  note: {standard.note}")
    seen = [line for clause in standard.points for line in _point(clause)]
    moving = [line for clause in standard.movement for line in _movement(clause)]
    return [
        *head,
        *(line for clause in standard.clauses for line in _clause(clause)),
        *(["Points graded by eye", *seen] if seen else []),
        *(["In movement", *moving] if moving else []),
    ]


def _clause(clause: Clause) -> list[str]:
    sex = "" if clause.sex == "both" else f" ({clause.sex})"
    evidence = "" if clause.evidence != "from memory" else ", from memory"
    return [
        f"  {clause.number:2} {clause.trait}{sex}: {limits_in_words(clause)}",
        f'     "{clause.words}" ({clause.wording}; limits: {clause.reading}{evidence})',
        f"     {clause.definition}",
    ]


def _point(clause: PointClause) -> list[str]:
    groups = (("asked", clause.asked), ("fault", clause.faults),
              ("not accepted", clause.not_accepted))  # fmt: skip
    said = (f"{name}: {' or '.join(grades)}" for name, grades in groups if grades)
    return [
        f"  {clause.point}: {'; '.join(said)}",
        f'     "{clause.words}" ({clause.section}; {clause.evidence})',
    ]


def _movement(clause: MovementClause) -> list[str]:
    unit = "°" if clause.figure.endswith("toeing") else ""  # the others are ratios
    return [
        f"  {clause.figure}: {_between(clause.low, clause.high)}{unit}",
        f'     "{clause.words}" ({clause.section}; limits: {clause.reading}; {clause.evidence})',
        f"     {clause.definition}",
    ]


def _between(low: float | None, high: float | None) -> str:
    if low is None:
        return f"at most {high:g}"
    return f"at least {low:g}" if high is None else f"{low:g} to {high:g}"


def limits_in_words(clause: Clause) -> str:
    """Write the limits of a clause, for example ``0.48 to 0.53``."""
    kind = trait(clause.trait).kind
    if clause.low is None:
        return f"at most {with_unit(clause.high or 0.0, kind)}"
    if clause.high is None:
        return f"at least {with_unit(clause.low, kind)}"
    return f"{with_unit(clause.low, kind)} to {with_unit(clause.high, kind)}"
