"""The arguments of `conformation teach`, apart from what it does so that help is quick."""

from __future__ import annotations

import argparse


def add_teach(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `conformation teach`, its actions and their options."""
    parser = commands.add_parser(
        "teach",
        help="contrasts, worksheets, a class's agreement, the eye against the tape",
        description="Teach eyes: dogs drawn with one thing changed, worksheets, how far a class "
        "agrees, and written judgements beside measured findings.",
    )
    parser.set_defaults(module="kit.cli.teach")
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    _add_contrast(actions.add_parser("contrast", help="draw a dog changed in one trait alone"))
    _add_worksheet(
        actions.add_parser("worksheet", help="write a worksheet and its answer sheet (PDF)")
    )
    group = actions.add_parser(
        "group", help="how far a class agrees: a CSV of learner, drawing, grade (-2 to 2)"
    )
    group.add_argument("grades", metavar="GRADES.csv")
    group.add_argument("--picture", metavar="FILE", help="draw the grades of every drawing")
    group.add_argument("--contrast", metavar="NAME", default="length", help="what was graded")
    eye = actions.add_parser(
        "eye", help="written judgements (CSV: dog, trait, judgement) beside measured findings"
    )
    eye.add_argument("judgements", metavar="JUDGEMENTS.csv")
    eye.add_argument("readings", metavar="READINGS.csv")
    eye.add_argument("--standard", metavar="NAME|FILE", required=True)


def _add_contrast(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", metavar="NAME", nargs="?", default="",
                        help="a contrast or a trait, such as length or stifle")  # fmt: skip
    parser.add_argument("--list", action="store_true", help="list the contrasts")
    _add_standard(parser)
    parser.add_argument("--readings", metavar="FILE.csv", help="start from a measured dog")
    parser.add_argument("--dog", metavar="ID", help="which dog of the readings")
    parser.add_argument("--as", dest="form", choices=("strip", "pair", "over"), default="strip",
                        help="from under to over, side by side, or over each other")  # fmt: skip
    parser.add_argument("--by", type=float, metavar="AMOUNT",
                        help="change of a pair: degrees, or percent of the whole")  # fmt: skip
    parser.add_argument("--count", type=int, default=5, choices=(3, 5, 7), help="dogs of a strip")
    parser.add_argument("--hide", action="store_true", help="letters instead of labels")
    parser.add_argument("--bones", action="store_true", help="lay the bones over the bodies")
    parser.add_argument("--out", metavar="FILE", default="contrast.png",
                        help="16 to 9; its ending says .png, .pdf or .svg")  # fmt: skip


def _add_worksheet(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", metavar="NAME", help="a contrast or a trait")
    _add_standard(parser)
    parser.add_argument("--seed", type=int, default=1, help="the same seed, the same sheet")
    parser.add_argument("--count", type=int, default=12, help="how many drawings")
    parser.add_argument("--out", metavar="FILE", default="worksheet.pdf")
    parser.add_argument("--answers", metavar="FILE", default="answers.pdf")


def _add_standard(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--standard", metavar="NAME|FILE", default="common-practice-terrier",
                        help="whose target the drawings start from")  # fmt: skip
