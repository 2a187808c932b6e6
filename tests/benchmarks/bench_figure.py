"""How long one figure takes, beside scipy's general least squares on the same networks.

    python tests/benchmarks/bench_figure.py [DOGS]

Dogs are those of bench_misread.py: every measurement that sees a landmark, each read twice. Both
ways start from the same place; the kit's time includes residuals, redundancy numbers, the search
for misread tapes and every adjusted measurement, scipy's the least squares and the covariance.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from statistics import median

import numpy as np
from bench_misread import measured, true_dog
from scipy.optimize import least_squares

from kit.figure.batch import fit_batch
from kit.figure.equations import Network
from kit.figure.network import fit
from kit.figure.placement import place


def scipys(observations: tuple, start: dict, anchor: str) -> None:
    """Fit the same observations by scipy, numerical derivatives, and invert for the covariance."""
    network = Network.build(observations, {anchor: (start[anchor][0], None)}, start)
    sigmas = np.array([one.sigma for one in observations])

    def misfit(unknowns: np.ndarray) -> np.ndarray:
        at = network.start.copy()
        at[network.unknown] = unknowns
        return network.misclosure(network.evaluate(at)[0]) / sigmas

    found = least_squares(misfit, network.start[network.unknown])
    np.linalg.pinv(found.jac.T @ found.jac)


def timed(job: Callable[[], object]) -> float:
    """Return seconds."""
    begin = time.perf_counter()
    job()
    return time.perf_counter() - begin


def _another(dog: dict, index: int) -> dict:
    """Return a dog of its own, a hair taller: no two fits of the batch are the same."""
    key = ("height_at_withers", "")
    return {**dog, key: replace(dog[key], value=dog[key].value + 1e-6 * (index + 1))}


def main() -> None:
    """Print the table."""
    generator = np.random.default_rng(7)
    sample = [measured(true_dog(generator), generator) for _ in range(40)]
    fit(sample[0])
    ours, theirs = [], []
    for dog in sample:
        ours.append(timed(lambda dog=dog: fit(dog)))
        adjusted = fit(dog).adjustment
        start = dict(place({key: one.value for (key, _), one in dog.items()}).points)
        theirs.append(
            timed(lambda a=adjusted, s=start: scipys(a.observations, s, "point_of_shoulder"))
        )
    print(f"one figure: median {1000 * median(ours):.1f} ms")
    print(f"scipy's least squares on the same networks: median {1000 * median(theirs):.1f} ms, "
          f"{median(theirs) / median(ours):.1f} times ours")  # fmt: skip
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    dogs = [_another(sample[index % len(sample)], index) for index in range(count)]
    seconds = timed(lambda: fit_batch(dogs, workers=2))
    print(f"{count} dogs on two cores: {seconds:.1f} s")


if __name__ == "__main__":
    main()
