"""The arguments of `conformation growth`, apart from what it does so that help is quick."""

from __future__ import annotations

import argparse
from typing import TypeAlias

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"
MODELS = ("gompertz", "logistic", "von_bertalanffy", "richards", "monomolecular")


def add_growth(commands: Commands, epilog: str) -> None:
    """Add `conformation growth` and its options."""
    parser = commands.add_parser(
        "growth",
        help="follow litters from whelping to adult size: curves, order, alerts",
        description="Work out every litter of a CSV, or of the stored readings, and write a "
        "litter sheet for each. Columns as for assess, with time needed and, once for each "
        "puppy, born; optionally sex, collar (or any mark), died, litter. From the records the "
        "whelping date is the dog's date of birth; collar and death are noted in the litter panel.",
        epilog="An alert is no diagnosis: weigh again, then call your vet. " + epilog,
    )
    where = parser.add_mutually_exclusive_group(required=True)
    where.add_argument("readings", metavar="FILE.csv", nargs="?", help="the readings")
    where.add_argument("--database", metavar="PATH|URL", nargs="?", const="",
                       help="the stored readings: your own, or those given")  # fmt: skip
    parser.add_argument("--born", metavar="DATE",
                        help="whelping date: of all puppies that have none in the file, or "
                        "which litter of the records")  # fmt: skip
    parser.add_argument("--litter", metavar="NAME", help="only this litter")
    parser.add_argument("--dog", metavar="NAME", action="append",
                        help="only this puppy (may be repeated)")  # fmt: skip
    parser.add_argument("--measurement", metavar="KEY", action="append", default=[],
                        help="show this one (may be repeated; default: weight and height at "
                        "the withers)")  # fmt: skip
    parser.add_argument("--standard", metavar="NAME|FILE",
                        help="fade in what it asks of the grown dog")  # fmt: skip
    parser.add_argument(
        "--model",
        choices=MODELS,
        default="richards",
        help="which curve (default: richards, whose shape is learned too)",
    )
    parser.add_argument("--grown", metavar="FILE.csv",
                        help="grown litters of the same breed to learn from")  # fmt: skip
    parser.add_argument("--centiles", metavar="FILE.csv",
                        help="the club's own weights to fit centiles from, by sex")  # fmt: skip
    parser.add_argument("--out", metavar="DIR", default="report", help="where the sheets go")
    parser.add_argument("--json", action="store_true", help="print JSON alone, write no sheet")
    parser.set_defaults(module="kit.cli.growth")
