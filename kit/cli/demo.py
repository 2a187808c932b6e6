"""`conformation demo`: the main job on the invented dog that ships with the kit."""

from __future__ import annotations

import argparse

from kit.cli import assess
from kit.protocol.shipped import shipped


def run(options: argparse.Namespace) -> int:
    """Assess the demo dog and write its report."""
    asked = argparse.Namespace(
        readings=str(shipped("data", "demo_readings.csv")),
        standard="common-practice-terrier",
        dog="Alder",
        sex="dog",
        age=None,
        decide=0.95,
        probable=0.80,
        out=options.out,
        json=False,
    )
    return assess.run(asked)
