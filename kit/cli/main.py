"""`conformation`: the command. Heavy imports happen inside the commands, so help is quick."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import TypeAlias

from kit import __version__
from kit.cli.critique_arguments import add_critique
from kit.cli.growth_arguments import add_growth
from kit.cli.records_arguments import add_records_arguments
from kit.cli.survey_arguments import add_survey
from kit.cli.teach_arguments import add_teach
from kit.quantities.errors import KitError

USABLE, UNUSABLE = 0, 2
Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"
EPILOG = (
    "Figures are no diagnosis and identify no breed. Official heights are taken by licensed "
    "measurers; kennel-club rules and local law come first."
)


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command."""
    parser = argparse.ArgumentParser(
        prog="conformation",
        description="Measure a dog: proportions and angles with honest error, held against a "
        "written standard, drawn and reported.",
        epilog=EPILOG,
    )
    parser.add_argument("--version", action="version", version=f"conformation {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    _add_demo(commands)
    _add_assess(commands)
    _add_standards(commands)
    _add_sheet(commands)
    _add_open(commands)
    _add_records(commands)
    add_teach(commands)
    add_critique(commands, EPILOG)
    add_growth(commands, EPILOG)
    add_survey(commands, EPILOG)
    return parser


def _add_demo(commands: Commands) -> None:
    parser = commands.add_parser("demo", help="assess the demo dog that ships with the kit")
    parser.add_argument("--out", metavar="DIR", default="report", help="where the report goes")
    parser.set_defaults(module="kit.cli.demo")


def _add_assess(commands: Commands) -> None:
    parser = commands.add_parser(
        "assess",
        help="assess dogs from a CSV of readings",
        description="Assess every dog of a CSV of readings and write a report with pictures. "
        "Columns: dog, measurement, value, unit; optionally side, stand, measurer, instrument, "
        "time, note. Repeats are repeated rows.",
        epilog=EPILOG,
    )
    parser.add_argument("readings", metavar="READINGS.csv", help="the readings")
    parser.add_argument(
        "--standard", metavar="NAME|FILE", help="a shipped standard or a .toml file"
    )
    parser.add_argument("--dog", metavar="ID", help="only this dog")
    parser.add_argument("--sex", choices=("dog", "bitch"), help="for clauses that ask it")
    parser.add_argument(
        "--age", type=float, metavar="MONTHS", help="age; adult clauses skip puppies"
    )
    _add_level(parser, "--decide", 0.95, "decided")
    _add_level(parser, "--probable", 0.80, "probable")
    parser.add_argument("--out", metavar="DIR", default="report", help="where the report goes")
    parser.add_argument("--json", action="store_true", help="print JSON alone, write no report")
    parser.set_defaults(module="kit.cli.assess")


def _add_level(parser: argparse.ArgumentParser, name: str, usual: float, word: str) -> None:
    text = f"probability from which a finding is {word} (default {usual:g})"
    parser.add_argument(name, type=float, default=usual, metavar="P", help=text)


def _add_standards(commands: Commands) -> None:
    parser = commands.add_parser("standards", help="list, show or check standards")
    parser.set_defaults(module="kit.cli.standards")
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    actions.add_parser("list", help="list the shipped standards")
    show = actions.add_parser("show", help="show one standard's clauses and limits")
    show.add_argument("name", metavar="NAME|FILE")
    show.add_argument("--toml", action="store_true", help="print the file, to start your own from")
    check = actions.add_parser("check", help="check a standard file of your own")
    check.add_argument("file", metavar="FILE")


def _add_sheet(commands: Commands) -> None:
    parser = commands.add_parser("sheet", help="write a printable measuring sheet (PDF, A4)")
    parser.add_argument("--out", metavar="FILE", default="measuring-sheet.pdf")
    parser.add_argument("--units", choices=("cm", "in"), default="cm")
    parser.add_argument("--dog", metavar="NAME", default="", help="write this name on it")
    parser.add_argument("--keys", action="store_true", help="list the measurement keys instead")
    parser.set_defaults(module="kit.cli.sheet")


def _add_open(commands: Commands) -> None:
    parser = commands.add_parser(
        "open",
        help="open a notebook: measure a dog, compare a litter, read a standard",
        description="Open a notebook of the kit in JupyterLab. It is a copy in your own folder; "
        "a copy you changed is never overwritten.",
        epilog="It listens on this machine alone. " + EPILOG,
    )
    parser.add_argument("name", metavar="NAME", nargs="?", default="measure-a-dog",
                        help="which notebook (default: measure-a-dog)")  # fmt: skip
    parser.add_argument("--list", action="store_true", help="list the notebooks")
    parser.add_argument("--app", action="store_true", help="as an app without code")
    parser.add_argument("--folder", metavar="DIR",
                        help="where your copies are kept (default: in your documents)")  # fmt: skip
    parser.add_argument("--no-browser", action="store_true", help="only say the address")
    parser.add_argument("--port", type=int, metavar="N", help="listen on this port")
    parser.add_argument("--database", metavar="FILE", help="the records to work on")
    parser.set_defaults(module="kit.cli.open")


def _add_records(commands: Commands) -> None:
    parser = commands.add_parser(
        "records",
        help="import, export, back up, restore or check the stored readings",
        description="The stored readings. Nothing in them is ever overwritten: a correction is a "
        "row of its own.",
    )
    add_records_arguments(parser)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns
    -------
    int
        0 with results, 2 for input that cannot be used.
    """
    options = build_parser().parse_args(arguments)
    try:
        result: int = import_module(options.module).run(options)
    except KitError as fault:
        print(f"conformation: {fault}", file=sys.stderr)  # noqa: T201
        return UNUSABLE
    except BrokenPipeError:
        return USABLE
    return result


if __name__ == "__main__":
    sys.exit(main())
