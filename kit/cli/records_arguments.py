"""The arguments of `conformation records`, apart from what it does so that help is quick."""

from __future__ import annotations

import argparse


def add_records_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the actions of `conformation records` and their options."""
    parser.set_defaults(module="kit.cli.records")
    _add_database(parser, None)
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    take = actions.add_parser(
        "import",
        help="take in readings, grades or movement; nothing is doubled",
        description="Take in a CSV of readings, of grades by eye or of movement (its heading says "
        "which), or a folder or package that an export wrote.",
    )
    take.add_argument("file", metavar="FILE.csv|DIR")
    take.add_argument("--standard", metavar="NAME|FILE",
                      help="whose own words for grades are taken as well")  # fmt: skip
    give = actions.add_parser("export", help="write the whole history as CSV or Data Package")
    _add_export(give)
    keep = actions.add_parser("backup", help="copy the records into one new file and verify it")
    keep.add_argument("file", metavar="FILE")
    put_back = actions.add_parser("restore", help="put a backup back; the old file is kept")
    put_back.add_argument("file", metavar="FILE")
    put_back.add_argument("--force", action="store_true",
                          help="even if the backup lacks readings that are there now")  # fmt: skip
    whose = actions.add_parser("owner", help="note whose a dog is, or show it",
                               description="Names and addresses are kept apart from readings "
                               "and leave only with export --package --with-owners.")  # fmt: skip
    _add_owner(whose)
    check = actions.add_parser("check", help="look over the file, its links and values")
    for action in (take, give, keep, put_back, whose, check):
        _add_database(action, argparse.SUPPRESS)


def _add_export(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("out", metavar="FILE|DIR",
                        help="a CSV of readings; a folder (there already, or ending in /) gets "
                        "grades, movement and critiques as well")  # fmt: skip
    parser.add_argument("--package", action="store_true", help="a Frictionless Data Package folder")
    parser.add_argument("--with-owners", action="store_true",
                        help="names and addresses of owners too (package only)")  # fmt: skip
    parser.add_argument("--dog", metavar="NAME|ID", help="only this dog")
    parser.add_argument("--force", action="store_true", help="overwrite an earlier export")


def _add_owner(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("dog", metavar="DOG", help="name, transponder number or identity")
    parser.add_argument("name", metavar="OWNER", nargs="?", help="left out: whose it is is shown")
    parser.add_argument("--address", default="")
    parser.add_argument("--contact", default="", help="telephone or electronic mail")
    parser.add_argument("--since", metavar="DATE", default="", help="for example 2024-05-17")


def _add_database(parser: argparse.ArgumentParser, default: str | None) -> None:
    """Let the option stand before or after the action."""
    parser.add_argument("--database", metavar="PATH|URL", default=default,
                        help="other records than your own: a file or SQLAlchemy URL")  # fmt: skip
