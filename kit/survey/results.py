"""Results of a large survey in a folder of Parquet parts: whatever is written stays written."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from kit import __version__
from kit.quantities.errors import DataFileError
from kit.standards.conformity import Outcome
from kit.survey.decide import NOT_ASKED, OUTCOMES, Codes, tally
from kit.survey.evaluate import ROWS, Chunk, Plan, Progress, evaluate
from kit.survey.parquet import SurveyFile

MANIFEST = "survey.json"


@dataclass(frozen=True)
class Written:
    """What is in the folder now.

    Attributes
    ----------
    parts, dogs : int
    resumed : int
        Dogs that were there from an earlier run.
    findings : mapping of clause number to mapping of Outcome to int
        Of the dogs of this run.
    """

    parts: int
    dogs: int
    resumed: int
    findings: dict[int, dict[Outcome, int]]


def write_results(
    survey: SurveyFile, work: Plan, folder: Path, progress: Progress | None = None
) -> Written:
    """Write traits, uncertainties and findings of every dog, a part at a time.

    Each part is whole or not there, so that a run that was stopped goes on where it was.

    Raises
    ------
    DataFileError
        If the folder holds the results of something else, or cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _check_manifest(survey, work, folder)
        start = _done(folder)
        counts: dict[int, dict[Outcome, int]] = {}
        number = start // ROWS
        gathered: list[Chunk] = []
        for chunk in evaluate(survey, work, start=start, progress=progress):
            _count(counts, chunk)
            gathered.append(chunk)
            if chunk.start + chunk.size in {(number + 1) * ROWS, survey.rows}:
                _write_part(folder, number, gathered, work)
                gathered, number = [], number + 1
    except OSError as fault:
        raise DataFileError(f"cannot write into {folder}", given=str(fault.strerror)) from fault
    return Written(number, survey.rows, start, counts)


def _check_manifest(survey: SurveyFile, work: Plan, folder: Path) -> None:
    state = survey.path.stat()
    mine = {
        "survey": survey.path.name,
        "bytes": state.st_size,
        "changed": state.st_mtime_ns,
        "standard": work.standard.key if work.standard else "",
        "levels": [work.levels.decided, work.levels.probable],
        "readings": work.readings,
        "kit": __version__,
    }
    path = folder / MANIFEST
    if path.exists():
        if json.loads(path.read_text(encoding="utf-8")) != mine:
            raise DataFileError(f"{folder} holds the results of something else",
                                "an empty folder", do="choose another with --results")  # fmt: skip
    else:
        path.write_text(json.dumps(mine, indent=1) + "\n", encoding="utf-8")


def _name(number: int) -> str:
    return f"part-{number:05d}.parquet"


def _done(folder: Path) -> int:
    """Return how many dogs are in whole parts, one after the other from the first."""
    number = 0
    while (folder / _name(number)).exists():
        number += 1
    return number * ROWS


def _write_part(folder: Path, number: int, chunks: list[Chunk], work: Plan) -> None:
    columns: dict[str, pa.Array] = {}
    for key in chunks[0].traits:
        for name, attribute in ((key, "values"), (f"{key}_u", "uncertainties")):
            joined = np.concatenate([getattr(one.traits[key], attribute) for one in chunks])
            columns[name] = pa.array(joined, from_pandas=True)
    clauses = work.standard.clauses if work.standard else ()
    for clause in clauses:
        joined = np.concatenate([one.findings[clause.number] for one in chunks])
        columns[f"clause_{clause.number}_{clause.trait}"] = _words(joined)
    half_way = folder / (_name(number) + ".writing")
    pq.write_table(pa.table(columns), half_way, compression="zstd")
    os.replace(half_way, folder / _name(number))


def _words(codes: Codes) -> pa.Array:
    words = pa.array([outcome.value for outcome in OUTCOMES])
    return pa.DictionaryArray.from_arrays(
        pa.array(codes.astype(np.int16), mask=codes == NOT_ASKED), words
    )


def _count(counts: dict[int, dict[Outcome, int]], chunk: Chunk) -> None:
    for number, codes in chunk.findings.items():
        own = counts.setdefault(number, {})
        for outcome, found in tally(codes):
            own[outcome] = own.get(outcome, 0) + found
