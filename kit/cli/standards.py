"""`conformation standards`: list, show and check standard files."""

from __future__ import annotations

import argparse
from pathlib import Path

from kit.quantities.formatting import with_unit
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
        lines = [f"{options.file}: {len(checked.clauses)} clauses, nothing wrong"]
    elif options.toml:
        lines = [(FOLDER / f"{load_standard(options.name).key}.toml").read_text(encoding="utf-8")]
    else:
        lines = _show(load_standard(options.name))
    print("\n".join(lines))  # noqa: T201
    return 0


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
    return head + [line for clause in standard.clauses for line in _clause(clause)]


def _clause(clause: Clause) -> list[str]:
    sex = "" if clause.sex == "both" else f" ({clause.sex})"
    evidence = "" if clause.evidence != "from memory" else ", from memory"
    return [
        f"  {clause.number:2} {clause.trait}{sex}: {limits_in_words(clause)}",
        f'     "{clause.words}" ({clause.wording}; limits: {clause.reading}{evidence})',
        f"     {clause.definition}",
    ]


def limits_in_words(clause: Clause) -> str:
    """Write the limits of a clause, for example ``0.48 to 0.53``."""
    kind = trait(clause.trait).kind
    if clause.low is None:
        return f"at most {with_unit(clause.high or 0.0, kind)}"
    if clause.high is None:
        return f"at least {with_unit(clause.low, kind)}"
    return f"{with_unit(clause.low, kind)} to {with_unit(clause.high, kind)}"
