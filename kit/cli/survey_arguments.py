"""The arguments of `conformation survey`, apart from what it does so that help is quick."""

from __future__ import annotations

import argparse
from typing import TypeAlias

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def add_survey(commands: Commands, epilog: str) -> None:
    """Add `conformation survey` and its options."""
    parser = commands.add_parser(
        "survey",
        help="how a whole population stands, and whether the measurers can be trusted",
        description="Work out a survey and write its report. A CSV (also .csv.gz) has one row a "
        "reading, as for assess, or one row a dog with a column a measurement, and may say of each "
        "dog sex, age_months, line and year. A Parquet file has one row a dog, one column a "
        "measurement, and the same facts; KEY_right is the right side of one that has sides. Dogs "
        "that several measurers measured twice make a measurer study. Of more than 50 000 dogs "
        "findings are counted over all, the rest is described from 20 000 drawn at random.",
        epilog=epilog,
    )
    parser.add_argument("file", metavar="FILE", nargs="?",
                        help=".csv, .csv.gz, .parquet, or the folder of a package")  # fmt: skip
    parser.add_argument("--database", metavar="PATH|URL",
                        help="survey the stored readings instead: a records file "
                        "or SQLAlchemy URL")  # fmt: skip
    parser.add_argument("--standard", metavar="NAME|FILE", help="a standard to hold the dogs to")
    parser.add_argument("--compare", metavar="FILE|FACT=WORD",
                        help="compare with another survey, or a part of this one with the rest, "
                        "such as line=Cragside or year=2026")  # fmt: skip
    parser.add_argument("--out", metavar="DIR", default="report", help="where the report goes")
    parser.add_argument("--json", action="store_true", help="print JSON alone, write no report")
    behind = "readings behind each value of a Parquet file (default 1)"
    parser.add_argument("--readings", type=int, default=1, metavar="N", help=behind)
    parser.add_argument("--errors", metavar="FILE.toml",
                        help="your own measurers' errors instead of the typical ones")  # fmt: skip
    parser.add_argument("--plan", type=float, metavar="PART",
                        help="plan a measurer study whose errors are known to this part, "
                        "such as 0.25, and stop")  # fmt: skip
    _add_outputs(parser)
    parser.set_defaults(module="kit.cli.survey")


def _add_outputs(parser: argparse.ArgumentParser) -> None:
    more = parser.add_argument_group("what else to write")
    more.add_argument("--own-errors", metavar="FILE.toml",
                      help="the errors the measurer study found, for --errors")  # fmt: skip
    ranges = "a draft standard of the ranges found, labelled descriptive"
    more.add_argument("--draft", metavar="FILE.toml", help=ranges)
    more.add_argument("--club", metavar="NAME", default="our club", help="named in those files")
    more.add_argument("--parquet", metavar="FILE", help="the survey, a row a dog")
    more.add_argument("--package", metavar="DIR", help="a Frictionless Data Package")
    more.add_argument("--darwin-core", metavar="DIR", help="MeasurementOrFact with UCUM units")
    more.add_argument("--anonymous", metavar="FILE.csv",
                      help="the readings, naming neither dogs, lines nor measurers")  # fmt: skip
    more.add_argument("--results", metavar="DIR",
                      help="every dog's traits and findings as Parquet parts (of a Parquet "
                      "file); a stopped run goes on where it was")  # fmt: skip
