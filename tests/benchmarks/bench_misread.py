"""How often a planted 4 cm misreading is found, and how often a sound dog is suspected.

    python tests/benchmarks/bench_misread.py [DOGS]

Each simulated dog is the neutral one at a random height with every bone and height varied by a few
per cent, so that all its readings belong to one true figure. Every measurement that sees a
landmark is read twice, the dog stood anew in between, with the repeat and posture errors of the
catalogue, and rounded to the tool's resolution. A 4 cm error is planted in both readings of one
measurement, as when a landmark is mistaken, once for each that other readings check (redundancy
0.3 or more).
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from kit.estimation.repeats import estimate
from kit.figure.network import Estimates, FittedFigure, fit
from kit.figure.observations import observations, reading_at
from kit.figure.placement import place
from kit.figure.template import template
from kit.protocol.catalogue import Definition, catalogue
from kit.protocol.readings import Reading

PLANTED = 4.0
CHECKED = 0.3
SKIN = {"rib_cage_length", "underline_length", "tail_length"}
KEYS = [key for key in observations() if key not in SKIN]


@dataclass(frozen=True)
class Tally:
    """Counts over all simulated dogs."""

    dogs: int
    suspected: int
    planted: int
    found: int
    named_first: int


def true_dog(generator: np.random.Generator) -> dict[str, float]:
    """Return the true value of every measurement of one random dog."""
    height = generator.uniform(35.0, 70.0)
    neutral = {key: reading_at(seen, template().points) for key, seen in observations().items()}
    lengths = {
        key: value * height * generator.normal(1.0, 0.03)
        for key, value in neutral.items()
        if catalogue().measurement(key).kind == "length" and key not in SKIN
    }
    points = place(lengths).points
    return {key: reading_at(observations()[key], points) for key in KEYS}


def readings(definition: Definition, truth: float, generator: np.random.Generator) -> list[Reading]:
    """Read one measurement twice, in two stands."""
    step = catalogue().instruments[definition.instrument].resolution
    side = "left" if definition.sided else ""
    rows = []
    for stand in ("1", "2"):
        seen = truth + generator.normal(0, definition.posture_error)
        seen += generator.normal(0, definition.repeat_error)
        rows.append(Reading("A", definition.key, round(seen / step) * step, side, stand))
    return rows


def measured(truth: dict[str, float], generator: np.random.Generator) -> Estimates:
    """Return the estimates of a whole dog."""
    found = {}
    for key, value in truth.items():
        definition = catalogue().measurement(key)
        rows = readings(definition, value, generator)
        found[(key, rows[0].side)] = estimate(
            rows, definition, catalogue().instruments[definition.instrument]
        )
    return found


def checked(fitted: FittedFigure) -> list[str]:
    """Return the lengths whose redundancy is high enough to ask for detection."""
    return [
        one.key
        for one, redundancy in zip(
            fitted.adjustment.observations, fitted.adjustment.redundancy_numbers, strict=True
        )
        if redundancy >= CHECKED
        and one.key in KEYS
        and catalogue().measurement(one.key).kind == "length"
    ]


def run(dogs: int, seed: int = 20260101) -> Tally:
    """Simulate and count."""
    generator = np.random.default_rng(seed)
    suspected = planted = found = first = 0
    for _ in range(dogs):
        sound = measured(true_dog(generator), generator)
        fitted = fit(sound)
        suspected += bool(fitted.suspects)
        for key in checked(fitted):
            planted += 1
            named = _named(_with_error(sound, key, generator))
            found += key in named
            first += bool(named) and named[0] == key
    return Tally(dogs, suspected, planted, found, first)


def _with_error(sound: Estimates, key: str, generator: np.random.Generator) -> Estimates:
    from dataclasses import replace

    side = "left" if catalogue().measurement(key).sided else ""
    wrong = sound[(key, side)]
    # A short bone is misread too long: nobody writes down a length below zero.
    shift = PLANTED * (generator.choice([-1.0, 1.0]) if wrong.value > 2 * PLANTED else 1.0)
    return {**sound, (key, side): replace(wrong, value=wrong.value + shift)}


def _named(estimates: Estimates) -> list[str]:
    suspects = fit(estimates).suspects
    return [name for suspect in suspects for name in (suspect.key, *suspect.alternatives)]


def main() -> None:
    """Print the table."""
    tally = run(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
    print(f"dogs {tally.dogs}; suspected though sound {tally.suspected / tally.dogs:.1%}")
    print(
        f"planted {tally.planted}; named {tally.found / tally.planted:.1%}; "
        f"named first {tally.named_first / tally.planted:.1%}"
    )


if __name__ == "__main__":
    main()
