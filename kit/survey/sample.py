"""A survey too large for one table: some dogs drawn at random, and what is counted over all."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pyarrow.parquet as pq

from kit.protocol.catalogue import Catalogue
from kit.standards.conformity import Outcome
from kit.survey.again import Again, apart, farthest_first, norms_of
from kit.survey.decide import tally
from kit.survey.dogs import SurveyTable, table_of_columns
from kit.survey.evaluate import ROWS, Chunk, Plan, Progress, evaluate
from kit.survey.parquet import SurveyFile

MOST = 20_000
"""Dogs drawn: a share is then known to a hundredth, a centile to a hundredth of its spread."""
Findings = dict[int, dict[Outcome, int]]


@dataclass(frozen=True)
class Whole:
    """What is known of all dogs of a survey that is described from some of them.

    Attributes
    ----------
    dogs : int
    findings : mapping of clause number to mapping of Outcome to int
    again : tuple of Again
        Values to measure again, against what the drawn dogs lead one to expect.
    """

    dogs: int
    findings: Mapping[int, Mapping[Outcome, int]]
    again: tuple[Again, ...]


def sampled(file: SurveyFile, catalogue: Catalogue, readings: int, most: int = MOST) -> SurveyTable:
    """Return at most so many dogs of a file, drawn at random; the same file gives the same dogs."""
    if file.rows <= most:
        return table_of_columns(file, catalogue, readings)
    chosen = np.sort(np.random.default_rng(file.rows).choice(file.rows, most, replace=False))
    return table_of_columns(file, catalogue, readings, chosen)


def count_findings(findings: Findings, chunk: Chunk) -> None:
    """Add the findings of a chunk to those counted before."""
    for number, codes in chunk.findings.items():
        own = findings.setdefault(number, {})
        for outcome, count in tally(codes):
            own[outcome] = own.get(outcome, 0) + count


def survey_whole(
    file: SurveyFile,
    work: Plan,
    drawn: SurveyTable,
    catalogue: Catalogue,
    findings: Findings | None = None,
    tell: Callable[[str], Progress | None] = lambda _: None,
) -> Whole:
    """Count what can be counted over all dogs of a file.

    Parameters
    ----------
    drawn : SurveyTable
        Some of them, from which is learned what a dog is expected to have.
    findings : mapping, optional
        If they were counted already.
    tell : callable
        Told what begins; returns what is told how far it is.
    """
    if findings is None:
        findings = {}
        for chunk in evaluate(file, work, progress=tell("dogs against the standard")):
            count_findings(findings, chunk)
    return Whole(
        file.rows, findings, _again(file, drawn, catalogue, tell("values to measure again"))
    )


def _again(
    file: SurveyFile, drawn: SurveyTable, catalogue: Catalogue, progress: Progress | None
) -> tuple[Again, ...]:
    norms = norms_of(drawn, catalogue)
    names = pq.read_table(file.path, columns=["dog"])["dog"] if "dog" in file.facts else None
    found: list[Again] = []
    for batch in file.batches(ROWS):
        size = slice(batch.start, batch.start + batch.size)
        dogs = ([f"{n + 1}" for n in range(size.start, size.stop)] if names is None
                else [str(name) for name in names[size].to_pylist()])  # fmt: skip
        found += apart(batch.values, norms, dogs)
        if progress is not None:
            progress(size.stop, file.rows)
    return farthest_first(found)
