"""Results of a large survey in a folder of Parquet parts: whatever is written stays written."""

from __future__ import annotations

import hashlib
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
from kit.standards.standard import Clause
from kit.survey.decide import NOT_ASKED, OUTCOMES, Codes
from kit.survey.evaluate import ROWS, Chunk, Plan, Progress, evaluate
from kit.survey.parquet import SurveyFile
from kit.survey.sample import Findings, count_findings

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
        Of all dogs.
    """

    parts: int
    dogs: int
    resumed: int
    findings: Findings


def write_results(
    survey: SurveyFile, work: Plan, folder: Path, progress: Progress | None = None
) -> Written:
    """Write traits, uncertainties and findings of every dog, a part at a time.

    Each part is whole or not there, so that a run that was stopped goes on where it was.

    Raises
    ------
    DataFileError
        If the folder holds the results of something else, or cannot be read or written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _check_manifest(survey, work, folder)
        number = _done(folder)
        findings: Findings = {}
        for done in range(number):
            _count_part(findings, folder / _name(done), work)
        start = min(number * ROWS, survey.rows)
        gathered: list[Chunk] = []
        for chunk in evaluate(survey, work, start=number * ROWS, progress=progress):
            count_findings(findings, chunk)
            gathered.append(chunk)
            if chunk.start + chunk.size in {(number + 1) * ROWS, survey.rows}:
                _write_part(folder, number, gathered, work)
                gathered, number = [], number + 1
    except (OSError, pa.ArrowException) as fault:
        raise DataFileError(f"cannot keep results in {folder}", given=str(fault)) from fault
    return Written(number, survey.rows, start, findings)


def _check_manifest(survey: SurveyFile, work: Plan, folder: Path) -> None:
    mine = _manifest(survey, work)
    path = folder / MANIFEST
    if not path.exists():
        half_way = path.with_suffix(".writing")
        half_way.write_text(json.dumps(mine, indent=1) + "\n", encoding="utf-8")
        os.replace(half_way, path)
        return
    try:
        theirs = json.loads(path.read_text(encoding="utf-8"))
    except ValueError:
        theirs = None
    if theirs != mine:
        raise DataFileError(f"{folder} holds the results of something else", "an empty folder",
                            do="choose another with --results")  # fmt: skip


def _manifest(survey: SurveyFile, work: Plan) -> dict[str, object]:
    """Return what has to be the same for a run to go on: the file, the question, the errors."""
    state = survey.path.stat()
    clauses = work.standard.clauses if work.standard else ()
    known = work.program.catalogue
    errors = [known.measurement(key) for key in work.program.columns]
    asked = repr((clauses, [(one.repeat_error, one.posture_error) for one in errors]))
    return {
        "survey": survey.path.name,
        "bytes": state.st_size,
        "changed": state.st_mtime_ns,
        "standard": work.standard.key if work.standard else "",
        "asked": hashlib.sha256(asked.encode()).hexdigest(),
        "levels": [work.levels.decided, work.levels.probable],
        "readings": work.readings,
        "dogs_a_part": ROWS,
        "kit": __version__,
    }


def _count_part(findings: Findings, path: Path, work: Plan) -> None:
    """Add what an earlier run found."""
    clauses = work.standard.clauses if work.standard else ()
    names = {_column(clause): clause.number for clause in clauses}
    table = pq.read_table(path, columns=list(names))
    for name, number in names.items():
        own = findings.setdefault(number, dict.fromkeys(OUTCOMES, 0))
        for entry in table[name].value_counts().to_pylist():
            if entry["values"] is not None:
                own[Outcome(entry["values"])] += entry["counts"]


def _name(number: int) -> str:
    return f"part-{number:05d}.parquet"


def _done(folder: Path) -> int:
    """Return how many whole parts there are, one after the other from the first."""
    number = 0
    while (folder / _name(number)).exists():
        number += 1
    return number


def _column(clause: Clause) -> str:
    return f"clause_{clause.number}_{clause.trait}"


def _write_part(folder: Path, number: int, chunks: list[Chunk], work: Plan) -> None:
    columns: dict[str, pa.Array] = {}
    for key in chunks[0].traits:
        for name, attribute in ((key, "values"), (f"{key}_u", "uncertainties")):
            joined = np.concatenate([getattr(one.traits[key], attribute) for one in chunks])
            columns[name] = pa.array(joined, from_pandas=True)
    clauses = work.standard.clauses if work.standard else ()
    for clause in clauses:
        joined = np.concatenate([one.findings[clause.number] for one in chunks])
        columns[_column(clause)] = _words(joined)
    half_way = folder / (_name(number) + ".writing")
    pq.write_table(pa.table(columns), half_way, compression="zstd")
    os.replace(half_way, folder / _name(number))


def _words(codes: Codes) -> pa.Array:
    words = pa.array([outcome.value for outcome in OUTCOMES])
    return pa.DictionaryArray.from_arrays(
        pa.array(codes.astype(np.int16), mask=codes == NOT_ASKED), words
    )
