"""How long something takes, in multiples of a fixed piece of work done between its runs.

Seconds depend on the machine and on who else uses it; a ratio taken in one run hardly does.
"""

from __future__ import annotations

from collections.abc import Callable
from time import process_time

FIXED = 100_000  # squares to add: some milliseconds of plain Python


def in_yards(action: Callable[[], object], repeats: int = 7) -> float:
    """Return the least processor time of an action over that of the fixed work."""
    action()
    pairs = [(_time(action), _time(_fixed)) for _ in range(repeats)]
    return min(mine for mine, _ in pairs) / min(fixed for _, fixed in pairs)


def yard(runs: int = 100) -> float:
    """Return the mean processor time of the fixed work, for what takes seconds itself."""
    return sum(_time(_fixed) for _ in range(runs)) / runs


def _fixed() -> int:
    return sum(number * number for number in range(FIXED))


def _time(action: Callable[[], object]) -> float:
    begun = process_time()
    action()
    return process_time() - begun
