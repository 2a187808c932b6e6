"""Intervals of the grown size hold the truth as often as they say: simulated puppies.

The range of designs and its limits are told in `benchmarks.simulated_puppies`;
`benchmarks.bench_growth` prints more of it.
"""

from __future__ import annotations

import pytest
from benchmarks.bench_growth import SIZES, WITHIN, advice, gain
from benchmarks.simulated_puppies import Tally, simulate

from kit.quantities.kinds import Kind

# Puppies of each design, 1,000 in all; learning from grown litters takes its time.
PUPPIES = (402, 402, 196)


@pytest.mark.slow
@pytest.mark.parametrize("kind", SIZES, ids=SIZES.get)
def test_nine_of_ten_intervals_hold_the_truth_in_a_thousand_puppies(kind: Kind) -> None:
    """Asked for: 87 to 93 % of 90 % intervals; each design alone may miss by chance a little."""
    tallies: list[Tally] = []
    for number, (design, puppies) in enumerate(zip(WITHIN, PUPPIES, strict=True)):
        tallies.append(simulate(design, puppies, 300 + number, kind))
        assert 0.83 <= tallies[-1].coverage <= 0.96, design.name
    assert sum(tally.puppies for tally in tallies) == 1000
    given, held = sum(t.given for t in tallies), sum(t.held for t in tallies)
    assert given > 800
    assert 0.87 <= held / given <= 0.93


@pytest.mark.slow
def test_borrowing_from_siblings_lowers_the_prediction_error() -> None:
    """Five weighings between 4 and 20 weeks: partial pooling beats none, and beats one curve."""
    errors = gain(60, 400)
    for place in (0, 1):
        assert errors["partial"][place] < 0.9 * errors["none"][place]
        assert errors["partial"][place] < 0.9 * errors["full"][place]


@pytest.mark.slow
@pytest.mark.parametrize("kind", SIZES, ids=SIZES.get)
def test_measuring_for_as_long_as_a_refusal_says_brings_an_answer(kind: Kind) -> None:
    """Refused young, measured on: most are then given (more puppies: the benchmark)."""
    refused, answered = advice(14, 400, kind)
    assert refused >= 8
    assert answered >= 0.7 * refused
