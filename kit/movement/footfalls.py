"""Footfalls: how long each foot is down, in which order, and what that gait is called."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from kit.movement.estimate import GaitEstimate, from_draws
from kit.movement.gait import gait_figure
from kit.movement.observations import FEET, movement_tables
from kit.quantities.errors import EstimationError
from kit.standards.conformity import Levels

Array = NDArray[np.float64]
DRAWS = 4000
_SEED = 1981
DIAGONALS = (("left_fore", "right_hind"), ("right_fore", "left_hind"))
UNNAMED = "undecided"
SUPPORT_DRAWS, GRID = 400, 400


@dataclass(frozen=True)
class Footfalls:
    """The footfalls of one run, in seconds.

    Attributes
    ----------
    steps : mapping of foot to tuple of (down, up)
        In order of time; each foot has one step or more.
    event_error : float
        Standard uncertainty of one event.
    """

    steps: Mapping[str, tuple[tuple[float, float], ...]]
    event_error: float

    def __post_init__(self) -> None:
        missing = [foot.replace("_", " ") for foot in FEET if len(self.steps.get(foot, ())) < 2]
        if missing:
            raise EstimationError("a gait cannot be read from these footfalls",
                                  "two falls or more of every foot",
                                  "too few of " + ", ".join(missing), "count on")  # fmt: skip
        for foot, steps in self.steps.items():
            times = [time for step in steps for time in step]
            if any(later <= earlier for earlier, later in pairwise(times)):
                raise EstimationError(
                    f"the footfalls of the {foot.replace('_', ' ')} are out of order",
                    "down, up, down, up in time",
                    str(times),
                )

    @cached_property
    def drawn(self) -> Mapping[str, Array]:
        """The event times as they may truly have been, shape (draws, steps, 2); first as read."""
        generator = np.random.default_rng(_SEED)
        found = {}
        for foot in FEET:
            times = np.array(self.steps[foot])
            errors = generator.normal(0.0, self.event_error, (DRAWS, *times.shape))
            errors[0] = 0.0
            found[foot] = times + errors
        return found

    def stride_time(self, foot: str) -> Array:
        """Draws of the mean time from fall to fall of one foot, shape (draws,)."""
        downs = self.drawn[foot][:, :, 0]
        result: Array = (downs[:, -1] - downs[:, 0]) / (downs.shape[1] - 1)
        return result

    def stance_time(self, foot: str) -> Array:
        """Draws of the mean time one foot is down, steps differing from one another included."""
        each = self.drawn[foot][:, :, 1] - self.drawn[foot][:, :, 0]
        read, count = each[0], each.shape[1]
        spread = float(read.std(ddof=1)) / np.sqrt(count)
        generator = np.random.default_rng(_SEED + FEET.index(foot))
        moved = generator.normal(0.0, spread, DRAWS)
        moved[0] = 0.0
        result: Array = each.mean(axis=1) + moved
        return result

    def phase(self, foot: str, after: str) -> Array:
        """Draws of how far through the stride of `after` the other foot falls, 0 to 1."""
        stride = self.stride_time(after)
        lag = self._lags(foot, after)
        angles = 2 * np.pi * lag / stride[:, None]
        # A mean on the circle: phases just below one and just above zero are neighbours.
        turn = np.angle(np.exp(1j * angles).mean(axis=1)) / (2 * np.pi)
        result: Array = turn % 1.0
        return result

    def _lags(self, foot: str, after: str) -> Array:
        pairs = min(self.drawn[foot].shape[1], self.drawn[after].shape[1])
        result: Array = self.drawn[foot][:, :pairs, 0] - self.drawn[after][:, :pairs, 0]
        return result


@dataclass(frozen=True)
class NamedGait:
    """What the gait is called, how sure that is, and what else it might be."""

    name: str
    probability: float
    others: tuple[tuple[str, float], ...]


def duty_factor(feet: Footfalls, pair: Sequence[str]) -> GaitEstimate:
    """Return the mean duty factor of some feet."""
    draws = _duty(feet, pair)
    return from_draws(gait_figure("duty_factor"), float(draws[0]), draws)


def _duty(feet: Footfalls, pair: Sequence[str]) -> Array:
    figure = gait_figure("duty_factor")
    each = [
        figure.of(stance_time=feet.stance_time(foot), stride_time=feet.stride_time(foot))
        for foot in pair
    ]
    result: Array = np.mean(each, axis=0)
    return result


def symmetry(feet: Footfalls, end: str) -> GaitEstimate:
    """Return the symmetry index of the stance times of one end: ``fore`` or ``hind``."""
    figure = gait_figure("symmetry_index")
    draws = figure.of(left=feet.stance_time(f"left_{end}"), right=feet.stance_time(f"right_{end}"))
    return from_draws(figure, float(draws[0]), draws)


def name_gait(feet: Footfalls, levels: Levels) -> NamedGait:
    """Name the gait from duty factor and phases; undecided where no name is likely enough.

    Source: duty factor and phase after Hildebrand (from memory); bins in observations.toml.
    """
    names = _names(feet)
    words, counts = np.unique(names, return_counts=True)
    ranked = sorted(
        ((str(word), float(count) / names.size) for word, count in zip(words, counts, strict=True)),
        key=lambda row: -row[1],
    )
    name, chance = ranked[0]
    if chance < levels.probable:
        return NamedGait(UNNAMED, chance, tuple(ranked))
    return NamedGait(name, chance, tuple(ranked[1:]))


def _names(feet: Footfalls) -> NDArray[np.str_]:
    bins = movement_tables().table("gait")
    even, pace, trot = bins.number("even"), bins.number("pace"), bins.number("trot")
    lateral = np.angle(np.exp(2j * np.pi * feet.phase("left_fore", "left_hind"))
                       + np.exp(2j * np.pi * feet.phase("right_fore", "right_hind")))  # fmt: skip
    phase = (lateral / (2 * np.pi)) % 1.0
    grounded = _duty(feet, FEET) > bins.number("split")
    uneven = [np.abs(feet.phase(f"right_{end}", f"left_{end}") - 0.5) > even
              for end in ("fore", "hind")]  # fmt: skip
    choices = [
        (uneven[0] | uneven[1], "canter or gallop"),
        ((phase < pace) | (phase > 1 - pace), "pace"),
        ((phase >= trot) & (phase <= 1 - trot), "trot"),
        ((phase < trot) & grounded, "walk"),
        (phase < trot, "amble"),
    ]
    return np.select([c for c, _ in choices], [n for _, n in choices], "diagonal-sequence walk")


def support(feet: Footfalls) -> tuple[GaitEstimate, GaitEstimate]:
    """Return the parts of a stride with no foot down, and on a diagonal pair alone."""
    down = _down(feet)
    nothing = ~np.any(list(down.values()), axis=0)
    pairs = [
        down[a] & down[b] & ~np.any([down[foot] for foot in FEET if foot not in {a, b}], axis=0)
        for a, b in DIAGONALS
    ]
    suspension, diagonal = (
        from_draws(gait_figure(key), float(parts[0]), parts)
        for key, parts in (
            ("suspension", nothing.mean(axis=1)),
            ("diagonal_support", np.any(pairs, axis=0).mean(axis=1)),
        )
    )
    return suspension, diagonal


def _down(feet: Footfalls) -> dict[str, NDArray[np.bool_]]:
    """Tell of each foot whether it is down, over the whole strides of the left hind foot.

    Shape (draws, moments), for the first SUPPORT_DRAWS draws.
    """
    downs = feet.drawn["left_hind"][:SUPPORT_DRAWS, :, 0]
    moments = np.linspace(downs[:, 0], downs[:, -1], GRID, endpoint=False, axis=1)[:, :, None]
    steps = {foot: feet.drawn[foot][:SUPPORT_DRAWS, None, :, :] for foot in FEET}
    return {
        foot: np.any((moments >= one[..., 0]) & (moments < one[..., 1]), axis=2)
        for foot, one in steps.items()
    }
