"""A survey file through the declarations, chunk by chunk: traits, uncertainties and findings."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.protocol.catalogue import Catalogue
from kit.standards.conformity import Levels, Outcome
from kit.standards.standard import Clause, Standard
from kit.survey.decide import CODE, NOT_ASKED, Codes, decide_column
from kit.survey.parquet import SEXES, UNKNOWN, Batch, SurveyFile
from kit.survey.program import Program, TraitColumn, compile_program
from kit.traits.declarations import trait, traits

ROWS = 1 << 15
"""Dogs read from the file at once."""
AT_ONCE = 1 << 15
"""Dogs evaluated at once: enough that calling NumPy costs little beside its arithmetic."""
KEPT_FREE = 31 << 20
"""Bytes that a freed block teaches the C library to keep for the next array (see `evaluate`)."""
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Chunk:
    """Some consecutive dogs of a survey, worked out.

    Attributes
    ----------
    start : int
        Number of the first dog in the file.
    traits : mapping of key to TraitColumn
    findings : mapping of clause number to array of uint8, shape (n,)
        Codes of `kit.survey.decide.OUTCOMES`, or NOT_ASKED.
    """

    start: int
    size: int
    traits: Mapping[str, TraitColumn]
    findings: Mapping[int, Codes]


@dataclass(frozen=True)
class Plan:
    """What is worked out for every dog."""

    program: Program
    standard: Standard | None
    levels: Levels
    readings: int

    def work_out(self, batch: Batch) -> tuple[Chunk, ...]:
        """Evaluate one batch, a cacheful of dogs at a time."""
        return tuple(self._part(batch.part(at, AT_ONCE)) for at in range(0, batch.size, AT_ONCE))

    def _part(self, batch: Batch) -> Chunk:
        columns = self.program.run(batch.values, readings=self.readings)
        found = {}
        if self.standard is not None:
            young = _younger(batch, self.standard.adult_from_months)
            for clause in self.standard.clauses:
                codes = self._finding(clause, columns, batch.size)
                found[clause.number] = _in_scope(codes, clause, batch, young)
        return Chunk(batch.start, batch.size, columns, found)

    def _finding(self, clause: Clause, columns: Mapping[str, TraitColumn], size: int) -> Codes:
        if clause.trait in columns:
            return decide_column(columns[clause.trait], clause, self.levels)
        return np.full(size, CODE[_why_unknown(clause.trait, columns)])


def _why_unknown(key: str, columns: Mapping[str, TraitColumn]) -> Outcome:
    family = trait(key).family
    siblings = (name for name, one in traits().items() if one.family == family and name != key)
    known = any(name in columns for name in siblings)
    return Outcome.NOT_COMPARABLE if known else Outcome.NOT_MEASURED


def _younger(batch: Batch, than_months: float) -> NDArray[np.intp]:
    """Return the places of the dogs that adult clauses do not judge."""
    if batch.age_months is None:
        return np.empty(0, dtype=np.intp)
    return np.flatnonzero(batch.age_months < than_months)


def _in_scope(codes: Codes, clause: Clause, batch: Batch, young: NDArray[np.intp]) -> Codes:
    """Take back what a clause does not ask of a dog's sex or age."""
    if clause.sex != "both":
        if batch.sex is None:
            codes[:] = CODE[Outcome.NOT_COMPARABLE]
        else:
            other = "bitch" if clause.sex == "dog" else "dog"
            codes[batch.sex == UNKNOWN] = CODE[Outcome.NOT_COMPARABLE]
            codes[batch.sex == SEXES.index(other)] = NOT_ASKED
    codes[young[codes[young] != NOT_ASKED]] = CODE[Outcome.NOT_COMPARABLE]
    return codes


def plan(
    survey: SurveyFile,
    catalogue: Catalogue,
    standard: Standard | None = None,
    levels: Levels | None = None,
    readings: int = 1,
) -> Plan:
    """Compile what can be worked out for the dogs of a file.

    Parameters
    ----------
    readings : int
        Readings behind each value of the file.
    """
    asked = {clause.trait for clause in standard.clauses} if standard else set()
    sample = next(survey.batches(2000), None)
    program = compile_program(survey.measurements, catalogue, with_dof=asked,
                              sample=sample.values if sample else None)  # fmt: skip
    return Plan(program, standard, levels or Levels(), readings)


def evaluate(
    survey: SurveyFile,
    work: Plan,
    *,
    start: int = 0,
    rows: int = ROWS,
    progress: Progress | None = None,
    workers: int = 0,
) -> Iterator[Chunk]:
    """Yield the dogs of a file worked out, in the order of the file.

    Only a few chunks are in memory at any time. Stopping in between loses nothing that was
    yielded; `start` goes on from there.

    Parameters
    ----------
    start : int
        Dogs to pass over, a multiple of `rows`.
    progress : callable, optional
        Told how many dogs are done, of how many.
    workers : int
        Threads; by default one a core.
    """
    workers = workers or os.cpu_count() or 1
    # glibc hands large blocks back to the system and asks for them again, which costs more than
    # the arithmetic; once it has freed a block of this size it keeps smaller ones. Harmless else.
    block = np.empty(KEPT_FREE, dtype=np.uint8)
    del block
    needed = work.program.columns
    with ThreadPoolExecutor(workers) as pool:
        waiting: deque[Future[tuple[Chunk, ...]]] = deque()
        try:
            for batch in survey.batches(rows, needed, start):
                waiting.append(pool.submit(work.work_out, batch))
                while len(waiting) > workers + 1:
                    yield from _next(waiting, survey.rows, progress)
            while waiting:
                yield from _next(waiting, survey.rows, progress)
        finally:
            for one in waiting:
                one.cancel()


def _next(
    waiting: deque[Future[tuple[Chunk, ...]]], total: int, progress: Progress | None
) -> Iterator[Chunk]:
    chunks = waiting.popleft().result()
    yield from chunks
    if progress is not None:
        progress(chunks[-1].start + chunks[-1].size, total)
