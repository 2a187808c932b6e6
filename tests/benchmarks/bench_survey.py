"""Many dogs through the declarations, beside merely reading their file and beside dog by dog.

Run: python tests/benchmarks/bench_survey.py [largest number of dogs]
Prints for 10^4, 10^5 and 10^6 dogs by 40 measurements how long reading their file takes with
PyArrow and with Polars, how long traits, uncertainties and findings take (reading included), the
ratios, the largest memory of a process of its own, and how the cost grows; then the same traits
with the uncertainties package on a sample. The three take turns, and each ratio is of one turn, so
that a machine that is busy with other work is as busy for all of them.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from statistics import median
from uuid import UUID

import numpy as np
import polars
import pyarrow as pa
import pyarrow.parquet as pq
import sympy
from uncertainties import ufloat, umath

from kit.protocol.catalogue import catalogue
from kit.standards.conformity import Outcome
from kit.standards.standard import load_standard
from kit.survey.decide import tally
from kit.survey.evaluate import evaluate, plan
from kit.survey.parquet import SurveyFile
from kit.survey.program import Program
from kit.survey.spread import spread_of_assumption, spread_of_column

MEASUREMENTS = """height_at_withers height_at_back height_at_loin height_at_point_of_hip
height_at_set_on height_at_elbow height_at_point_of_elbow height_at_brisket height_at_tuck_up
height_at_blade_top height_at_point_of_shoulder height_at_point_of_hock height_at_stifle
height_at_hock_joint height_at_point_of_buttock body_length_from_prosternum
body_length_from_point_of_shoulder back_length loin_length rib_cage_length underline_length
neck_length head_length muzzle_length blade_length upper_arm_length croup_length thigh_length
second_thigh_length tail_length set_on_to_point_of_hock chest_depth chest_breadth rib_breadth
skull_breadth foot_length foot_breadth chest_girth front_pastern_girth weight""".split()  # noqa: SIM905
TYPICAL = """1 0.97 1 0.98 0.93 0.53 0.5 0.5 0.55 0.95 0.62 0.3 0.5 0.27 0.8 1.05 1 0.72 0.15 0.42
0.62 0.42 0.4 0.19 0.37 0.35 0.27 0.36 0.38 0.55 0.6 0.5 0.32 0.31 0.2 0.13 0.11 1.25 0.24
0.25""".split()  # noqa: SIM905
SAMPLE, ROUNDS = 40, 7


def write_dogs(path: Path, dogs: int) -> None:
    """Write invented dogs: each value the mean of two readings to 0.1, one in fifty missing."""
    generator = np.random.default_rng(17)
    height = generator.normal(40, 1.4, dogs)
    table = {
        "dog": pa.array([str(UUID(int=one)) for one in _identities(generator, dogs)]),
        "sex": pa.array(np.where(generator.random(dogs) < 0.5, "dog", "bitch")),
        "age_months": pa.array(generator.integers(12, 120, dogs).astype(float)),
        "line": pa.array([f"line {one}" for one in generator.integers(1, 40, dogs)]),
        "year": pa.array(generator.integers(2015, 2026, dogs)),
    }
    for name, part in zip(MEASUREMENTS, TYPICAL, strict=True):
        true = height * float(part) * (1 + generator.normal(0, 0.03, dogs))
        read = np.round(true[:, None] + generator.normal(0, 0.3, (dogs, 2)), 1).mean(axis=1)
        read[generator.random(dogs) < 0.02] = np.nan
        table[name] = pa.array(read, from_pandas=True)
    pq.write_table(pa.table(table), path)


def _identities(generator: np.random.Generator, count: int) -> Iterator[int]:
    words = generator.integers(0, 2**63, (count, 2), dtype=np.int64)
    for high, low in words.tolist():
        yield (high << 64) | low


def timed(*jobs: Callable[[], object], rounds: int = ROUNDS) -> list[list[float]]:
    """Return the seconds of each job in every round, one list a job; they take turns."""
    took: list[list[float]] = [[] for _ in jobs]
    for _ in range(rounds):
        for own, job in zip(took, jobs, strict=True):
            start = time.perf_counter()
            job()
            own.append(time.perf_counter() - start)
    return took


def survey(path: Path) -> Counter[Outcome]:
    """Work out every trait, uncertainty and finding; keep the tallies."""
    file = SurveyFile(path, catalogue())
    work = plan(file, catalogue(), load_standard("common-practice-terrier"), readings=2)
    counts: Counter[Outcome] = Counter()
    for chunk in evaluate(file, work):
        for codes in chunk.findings.values():
            counts.update(dict(tally(codes)))
    return counts


def dog_by_dog(path: Path, dogs: int) -> float:
    """Return the seconds the uncertainties package takes for one dog, findings not included."""
    file = SurveyFile(path, catalogue())
    program = plan(file, catalogue()).program
    functions = [_by_umath(program, key) for key in program.routes]
    batch = next(file.batches(dogs, program.columns))
    start = time.perf_counter()
    for dog in range(dogs):
        inputs = {
            name: ufloat(batch.values[name][dog], _uncertainty(program, name))
            for name in program.columns
        } | _assumed()
        for names, function in functions:
            try:
                result = function(*(inputs[name] for name in names))
                _ = (result.nominal_value, result.std_dev)
            except (ValueError, ZeroDivisionError):
                continue
    return (time.perf_counter() - start) / dogs


def _by_umath(program: Program, key: str) -> tuple[list[str], Callable[..., object]]:
    expression = program.routes[key].expression
    symbols = sorted(expression.free_symbols, key=str)
    return [s.name for s in symbols], sympy.lambdify(symbols, expression, [umath.__dict__, "math"])


def _uncertainty(program: Program, name: str) -> float:
    one = spread_of_column(name, np.array([30.0]), program.catalogue, 2)
    return float(np.sqrt(np.asarray(one.variance).ravel()[0]))


def _assumed() -> dict[str, object]:
    return {
        one.key: ufloat(one.value, float(np.sqrt(spread_of_assumption(one).variance)))
        for one in catalogue().assumptions.values()
    }


def memory(path: Path) -> float:
    """Return the largest memory of a process that does nothing but survey one file, in MiB."""
    done = subprocess.run([sys.executable, __file__, "--memory", str(path)], check=True,
                          capture_output=True, text=True)  # fmt: skip
    return float(done.stdout)


def first_time(path: Path) -> float:
    """Return the seconds from a cold start to a plan: reading definitions, compiling formulas."""
    start = time.perf_counter()
    plan(SurveyFile(path, catalogue()), catalogue(), load_standard("common-practice-terrier"))
    return time.perf_counter() - start


def between(values: Sequence[float]) -> str:
    """Write the median and the range of some ratios."""
    return f"{median(values):5.2f} ({min(values):.2f} to {max(values):.2f})"


def main(largest: int) -> None:
    print(f"best of {ROUNDS} turns; ratios: median (range) over the turns, machine load "
          f"{os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")  # fmt: skip
    print(f"{'dogs':>8} {'PyArrow s':>10} {'Polars s':>9} {'survey s':>9}  {'by PyArrow':<22} "
          f"{'by Polars':<22} {'us a dog':>8} {'MiB':>6}")  # fmt: skip
    costs: dict[int, float] = {}
    with tempfile.TemporaryDirectory() as folder:
        for dogs in (10_000, 100_000, 1_000_000):
            if dogs > largest:
                continue
            path = Path(folder) / f"{dogs}.parquet"
            write_dogs(path, dogs)
            if not costs:
                print(f"(compiled once in a run, not in the table: {first_time(path):.2f} s)")
            survey(path)
            took, arrow, frame = timed(
                lambda path=path: survey(path),
                lambda path=path: pq.read_table(path),
                lambda path=path: polars.read_parquet(path),
            )
            costs[dogs] = min(took)
            by = [[mine / other for mine, other in zip(took, others, strict=True)]
                  for others in (arrow, frame)]  # fmt: skip
            print(f"{dogs:>8} {min(arrow):10.3f} {min(frame):9.3f} {min(took):9.3f}  "
                  f"{between(by[0]):<22} {between(by[1]):<22} {1e6 * min(took) / dogs:8.2f} "
                  f"{memory(path):6.0f}")  # fmt: skip
        one = dog_by_dog(path, SAMPLE)
    for few, many in pairwise(costs):
        print(f"{many // few} times the dogs cost {costs[many] / costs[few]:.1f} times as much")
    most = max(costs)
    times = one * most / costs[most]
    print(f"uncertainties package: {1e6 * one:.0f} us a dog (sample of {SAMPLE}), {times:.0f} "
          "times the survey's")  # fmt: skip


if __name__ == "__main__":
    if sys.argv[1:2] == ["--memory"]:
        survey(Path(sys.argv[2]))
        print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
