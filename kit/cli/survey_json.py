"""What `conformation survey --json` prints."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from kit.reports.survey_figures import Compared, SurveyFigures
from kit.standards.conformity import Outcome
from kit.survey.clauses import ClauseShare
from kit.survey.dogs import SurveyTable
from kit.survey.groups import gaps
from kit.survey.summary import FEWEST, Contrast, Summary, summarise


def document(figures: SurveyFigures) -> dict[str, Any]:
    """Return a survey's figures as JSON knows them; what is not known is null."""
    table = figures.table
    return {
        "dogs": figures.dogs,
        "described_from": len(table),
        "traits": {key: _of_all(table, key) for key in table.figures()},
        "groups": {
            grouping.name: {
                one.key: {
                    "p_adjusted": _plain(one.p_adjusted),
                    "groups": {label: _summary(own) for label, own in one.groups.items()},
                }
                for one in found
                if one.groups
            }
            for grouping, found in figures.groups
        },
        "clauses": [_clause(figures, one) for one in figures.shares],
        "measure_again": [
            {"dog": one.dog, "measurement": one.measurement, "value": one.value,
             "expected": one.expected, "distance": one.distance, "reason": one.reason}
            for one in figures.again
        ],
        "measurers": [
            {"measurement": one.key, "tem": one.within.tem, "percent": _plain(one.within.percent),
             "reliability": _plain(one.within.reliability), "tem_between": one.between_error,
             "components": {part.name: part.sd for part in one.components.parts},
             "bias": dict(one.bias)}
            for one in figures.studied
        ],
        "compared": _compared(figures.compared) if figures.compared else None,
        "missing": [
            {"measurement": one.key, "missing": one.missing, "dogs": one.dogs,
             "above_all_in": one.worst}
            for one in gaps(table)
        ],
        "problems": list(table.problems),
    }  # fmt: skip


def _clause(figures: SurveyFigures, one: ClauseShare) -> dict[str, Any]:
    whole = figures.whole
    found = whole.findings[one.clause.number] if whole else one.findings
    return {
        "trait": one.clause.trait, "sex": one.clause.sex, "low": one.clause.low,
        "high": one.clause.high, "dogs": one.count, "missing": one.missing,
        "as_read": _plain(one.as_read), "within": _plain(one.within),
        "within_low": _plain(one.low), "within_high": _plain(one.high),
        "observed_sd": _plain(one.observed_sd), "error_sd": _plain(one.error_sd),
        "true_sd": _plain(one.true_sd), "findings": _counted(found),
    }  # fmt: skip


def _counted(found: Mapping[Outcome, int]) -> dict[str, int]:
    return {outcome.value: count for outcome, count in found.items() if count}


def _compared(compared: Compared) -> dict[str, Any]:
    return {
        "first": compared.first.name, "second": compared.second.name,
        "dogs": [len(compared.first.table), len(compared.second.table)],
        "figures": {key: _contrast(one) for key, one in compared.contrasts.items()},
    }  # fmt: skip


def _contrast(one: Contrast) -> dict[str, Any]:
    return {
        "first": one.first.mean, "second": one.second.mean, "difference": one.difference,
        "low95": one.low, "high95": one.high, "hedges_g": one.effect, "overlap": one.overlap,
        "p_value": _plain(one.p_value), "p_adjusted": _plain(one.p_adjusted),
    }  # fmt: skip


def _of_all(table: SurveyTable, key: str) -> dict[str, Any]:
    values = table.column(key)
    known = int(np.isfinite(values).sum())
    if known < FEWEST:
        return {"dogs": known, "missing": len(table) - known}
    return _summary(summarise(values))


def _summary(one: Summary) -> dict[str, Any]:
    centiles = [
        {"percent": c.percent, "value": c.value, "low95": c.low, "high95": c.high}
        for c in one.centiles
    ]
    return {"dogs": one.count, "missing": one.missing, "mean": one.mean, "sd": one.sd,
            "mean_low95": one.mean_low, "mean_high95": one.mean_high,
            "centiles": centiles}  # fmt: skip


def _plain(value: float) -> float | None:
    return value if math.isfinite(value) else None
