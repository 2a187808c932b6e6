"""The figures of a survey as CSV: every figure of every group, and what to measure again."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from kit.protocol.catalogue import Catalogue
from kit.protocol.reading_files import write_rows
from kit.quantities.kinds import Kind
from kit.reports.survey_figures import SurveyFigures
from kit.reports.survey_parts import named
from kit.survey.summary import CENTILES, FEWEST, Summary, summarise

FIGURES, AGAIN = "figures.csv", "measure_again.csv"
_ENDS = ("", "_low95", "_high95")
FIGURE_COLUMNS = (
    "figure", "title", "unit", "by", "group", "dogs", "missing", "mean", "mean_low95",
    "mean_high95", "sd", *(f"centile_{percent:g}{end}" for percent in CENTILES for end in _ENDS),
)  # fmt: skip
AGAIN_COLUMNS = ("dog", "measurement", "title", "value", "expected", "unit", "distance", "perhaps")


def write_tables(figures: SurveyFigures, folder: Path) -> tuple[Path, ...]:
    """Write both tables into a folder; a cell no spreadsheet takes for a formula."""
    written = (
        (FIGURES, FIGURE_COLUMNS, _figures(figures)),
        (AGAIN, AGAIN_COLUMNS, _again(figures)),
    )
    for name, columns, rows in written:
        with (folder / name).open("w", encoding="utf-8", newline="") as file:
            write_rows(file, columns, rows)
    return tuple(folder / name for name, *_ in written)


def _figures(figures: SurveyFigures) -> Iterator[list[str]]:
    table, known = figures.table, figures.catalogue
    for key in table.figures():
        values = table.column(key)
        if np.isfinite(values).sum() >= FEWEST:
            yield _row(key, "all", "", summarise(values), known)
    for grouping, found in figures.groups:
        for one in found:
            for label, summary in one.groups.items():
                yield _row(one.key, grouping.name, label, summary, known)


def _row(key: str, by: str, group: str, one: Summary, known: Catalogue) -> list[str]:
    title, kind = named(key, known)
    centiles = [end for c in one.centiles for end in (c.value, c.low, c.high)]
    numbers = (one.mean, one.mean_low, one.mean_high, one.sd, *centiles)
    return [key, title, _unit(kind), by, group, f"{one.count}", f"{one.missing}",
            *(f"{number:.6g}" for number in numbers)]  # fmt: skip


def _unit(kind: Kind) -> str:
    return "1" if kind is Kind.RATIO else kind.unit


def _again(figures: SurveyFigures) -> Iterator[list[str]]:
    for one in figures.again:
        title = figures.catalogue.measurement(one.measurement).title
        yield [one.dog, one.measurement, title, f"{one.value:.6g}", f"{one.expected:.4g}",
               one.kind.unit, f"{one.distance:.1f}", one.reason]  # fmt: skip
