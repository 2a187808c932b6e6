"""`conformation sheet`: the printable measuring sheet, or the measurement keys."""

from __future__ import annotations

import argparse
from pathlib import Path

from kit.protocol.catalogue import catalogue


def run(options: argparse.Namespace) -> int:
    """Write the sheet; see `conformation sheet --help`."""
    if options.keys:
        for definition in catalogue().measurements.values():
            print(f"{definition.key:38} {definition.kind.unit:4} {definition.title}")  # noqa: T201
        return 0
    from kit.reports.sheet import write_sheet

    path = Path(options.out)
    path.parent.mkdir(parents=True, exist_ok=True)
    write_sheet(path, units=options.units, dog=options.dog)
    print(f"Measuring sheet: {path}")  # noqa: T201
    return 0
