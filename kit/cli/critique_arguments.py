"""The arguments of `conformation critique`, apart from what it does so that help is quick."""

from __future__ import annotations

import argparse
from typing import TypeAlias

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def add_critique(commands: Commands, epilog: str) -> None:
    """Add `conformation critique`."""
    parser = commands.add_parser(
        "critique",
        help="write a critique from readings, grades by eye and movement",
        description="Write a critique of every dog of a CSV of readings: strengths first, what "
        "departs and by how much, what is undecided and why, what could not be judged. Every "
        "sentence names the figures it rests on. With several dogs they are also put side by side. "
        "Without a CSV, readings, grades and movement come from the records.",
        epilog="There is no total score and no placing. " + epilog,
    )
    parser.add_argument("readings", metavar="READINGS.csv", nargs="?",
                        help="the readings; without it those of the records")  # fmt: skip
    parser.add_argument("--database", metavar="PATH|URL",
                        help="other records than your own: a file or SQLAlchemy URL")  # fmt: skip
    parser.add_argument("--save", action="store_true",
                        help="keep the critique in the records, beside earlier ones")  # fmt: skip
    parser.add_argument("--standard", metavar="NAME|FILE", required=True,
                        help="a shipped standard or a .toml file")  # fmt: skip
    parser.add_argument("--grades", metavar="FILE.csv",
                        help="points graded by eye: dog, point, grade, sure, grader")  # fmt: skip
    parser.add_argument(
        "--movement",
        metavar="FILE.csv",
        help="the dog in movement: dog, run, pace, what, value, unit, foot",
    )
    parser.add_argument("--dog", metavar="NAME|ID", help="only this dog")
    parser.add_argument("--sex", choices=("dog", "bitch"), help="for clauses that ask it")
    parser.add_argument("--age", type=float, metavar="MONTHS",
                        help="age; adult clauses skip puppies")  # fmt: skip
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--short", dest="form", action="store_const", const="short", default="long",
                      help="a few lines for the ringside")  # fmt: skip
    form.add_argument("--long", dest="form", action="store_const", const="long",
                      help="in full, for the owner (the default)")  # fmt: skip
    parser.add_argument("--by", metavar="NAME", default="", help="whose critique it is")
    parser.add_argument("--date", metavar="YYYY-MM-DD", help="when it is written (default: today)")
    parser.add_argument("--edited", metavar="FILE.txt",
                        help="the critique's text as you changed it; one dog only")  # fmt: skip
    parser.add_argument("--pair", nargs=2, metavar=("DOG", "DOG"),
                        help="also put these two side by side by what they share")  # fmt: skip
    parser.add_argument("--out", metavar="DIR", default="report", help="where the critique goes")
    parser.add_argument("--json", action="store_true", help="print JSON alone, write no files")
    parser.set_defaults(module="kit.cli.critique")
