"""Write demo_movement.csv and demo_grades.csv: the invented dogs in movement, and as two eyes saw.

Each true dog has a stride, a speed and tracks of its own at walk and trot; stopwatch, counting and
video add the errors the kit's own catalogue of movement states. Grades are written down here as
they stand: two invented people saw the dogs and do not always agree.

Run from anywhere: ``python data/make_demo_movement.py``.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

SEED = 20250524
FOLDER = Path(__file__).parent
DISTANCE = 12.0  # m
RATE = 120.0  # pictures a second
DAY = "2025-05-24"
FEET = ("left_hind", "left_fore", "right_hind", "right_fore")
# When each foot falls, in parts of the stride after the left hind foot.
ORDER = {"walk": (0.0, 0.22, 0.50, 0.72), "trot": (0.0, 0.51, 0.50, 0.01)}
DOWN = {"walk": 0.63, "trot": 0.44}  # part of the stride a foot is down
COLUMNS = ("dog", "run", "pace", "what", "value", "unit", "foot", "observer", "time", "note")

Row = tuple[str, ...]


@dataclass(frozen=True)
class Mover:
    """A true dog in movement.

    Attributes
    ----------
    speed, stride : mapping of pace to float
        m/s and m.
    front, rear : mapping of pace to float
        Distance between the tracks, in cm.
    toeing : float
        Turn of the forefeet at the trot, degrees, out above zero.
    uneven : float
        How much longer the left forefoot is down than the right, in parts of the mean.
    filmed : tuple of str
        Paces whose footfalls were counted from a film.
    stance : (float, float)
        Spread of the standing front and hind feet, in cm; zero where the demo readings have it.
    """

    name: str
    speed: tuple[float, float]
    stride: tuple[float, float]
    front: tuple[float, float]
    rear: tuple[float, float]
    toeing: float = 1.0
    uneven: float = 0.0
    filmed: tuple[str, ...] = ()
    stance: tuple[float, float] = (13.5, 11.5)


MOVERS = (
    Mover("Alder", (1.05, 2.10), (0.57, 0.86), (11.5, 8.0), (10.5, 7.5),
          filmed=("walk", "trot"), stance=(0.0, 0.0)),
    Mover("Bryony", (0.98, 1.95), (0.55, 0.80), (11.0, 8.0), (10.0, 7.0)),
    Mover("Cob", (1.00, 2.00), (0.52, 0.72), (12.0, 9.5), (10.5, 7.5), filmed=("trot",),
          uneven=0.09),
    Mover("Dunnock", (1.02, 2.05), (0.55, 0.82), (11.0, 8.0), (10.5, 8.0)),
    Mover("Elsin", (0.97, 1.90), (0.52, 0.77), (16.0, 16.5), (10.5, 8.0), toeing=9.0,
          stance=(14.5, 11.5)),
    Mover("Fennel", (0.96, 1.85), (0.44, 0.54), (11.0, 8.5), (8.0, 2.5), filmed=("trot",)),
)  # fmt: skip


def main() -> None:
    """Write both files."""
    generator = np.random.default_rng(SEED)
    rows = [row for mover in MOVERS for row in _mover(mover, generator)]
    _write(FOLDER / "demo_movement.csv", COLUMNS, rows)
    grades = ("dog", "point", "grade", "sure", "grader", "time", "note")
    _write(FOLDER / "demo_grades.csv", grades, list(_grades()))


def _write(path: Path, columns: tuple[str, ...], rows: list[Row]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)


def _mover(mover: Mover, generator: np.random.Generator) -> Iterator[Row]:
    number = 0
    for what, spread in zip(("front_foot_spread", "rear_foot_spread"), mover.stance, strict=True):
        if spread:
            yield _row(mover, "", "", what, f"{spread:g}", "cm")
    for index, pace in enumerate(("walk", "trot")):
        for _ in range(2):
            number += 1
            yield from _timed(mover, index, pace, str(number), generator)
        if pace in mover.filmed:
            number += 1
            yield from _filmed(mover, index, pace, str(number), generator)
        for what, tracks in (("front_track", mover.front), ("rear_track", mover.rear)):
            for _ in range(3):
                seen = round(tracks[index] + generator.normal(0.0, 0.9), 1)
                yield _row(mover, "", pace, what, f"{seen:.1f}", "cm")
    for _ in range(2):
        seen = mover.toeing + generator.normal(0.0, 2.0)
        yield _row(mover, "", "trot", "front_toeing", f"{seen:.0f}", "deg")


def _row(mover: Mover, run: str, pace: str, what: str, value: str, unit: str,
         foot: str = "") -> Row:  # fmt: skip
    return (mover.name, run, pace, what, value, unit, foot, "K.T.", DAY, "")


def _timed(mover: Mover, index: int, pace: str, run: str,
           generator: np.random.Generator) -> Iterator[Row]:  # fmt: skip
    """Yield a run by stopwatch; the dog goes a little faster or slower each time."""
    pull = 1.0 + generator.normal(0.0, 0.03)
    # The stride grows with the root of the speed or so, as dogs do.
    speed, stride = mover.speed[index] * pull, mover.stride[index] * pull**0.6
    time = DISTANCE / speed + generator.normal(0.0, 0.1)
    strides = round((DISTANCE / stride + generator.normal(0.0, 0.15)) * 4) / 4
    yield _row(mover, run, pace, "distance", f"{DISTANCE:g}", "m")
    yield _row(mover, run, pace, "time", f"{time:.2f}", "s")
    yield _row(mover, run, pace, "strides", f"{strides:g}", "1")


def _filmed(mover: Mover, index: int, pace: str, run: str,
            generator: np.random.Generator) -> Iterator[Row]:  # fmt: skip
    """Yield a filmed run: frames over the distance, and three strides of footfalls."""
    speed, stride = mover.speed[index], mover.stride[index]
    frames = DISTANCE / speed * RATE
    yield _row(mover, run, pace, "distance", f"{DISTANCE:g}", "m")
    yield _row(mover, run, pace, "frames", f"{frames:.0f}", "frames")
    yield _row(mover, run, pace, "frame_rate", f"{RATE:g}", "fps")
    yield _row(mover, run, pace, "strides", f"{round(DISTANCE / stride * 4) / 4:g}", "1")
    yield from _footfalls(mover, pace, run, stride / speed * RATE, generator)


def _footfalls(mover: Mover, pace: str, run: str, period: float,
               generator: np.random.Generator) -> Iterator[Row]:  # fmt: skip
    start = 40.0
    for foot, phase in zip(FEET, ORDER[pace], strict=True):
        longer = {"left_fore": 0.5, "right_fore": -0.5}.get(foot, 0.0) * mover.uneven
        stance = DOWN[pace] * (1.0 + longer) * period
        for stride in range(4):
            down = start + (stride + phase) * period + generator.normal(0.0, 0.3)
            yield _row(mover, run, pace, "foot_down", f"{down:.0f}", "frames", foot)
            yield _row(mover, run, pace, "foot_up", f"{down + stance:.0f}", "frames", foot)


# What two invented people saw, in the words of the kit's scales: for each point K.T.'s grade and
# how sure, then M.O.'s. An empty grade: not graded by that person.
SEEN: dict[str, dict[str, tuple[str, str, str, str]]] = {
    "Alder": {
        "head": ("in balance and well finished", "sure", "in balance and well finished", "sure"),
        "expression": ("keen and open", "sure", "keen and open", "sure"),
        "neck_arch": ("gently arched", "fairly sure", "gently arched", "sure"),
        "neck_skin": ("close and dry", "sure", "close and dry", "sure"),
        "bone": ("in keeping with the size", "sure", "in keeping with the size",
                 "fairly sure"),
        "feet": ("a little flat or open", "sure", "a little flat or open", "fairly sure"),
        "muscle": ("firm and even", "sure", "firm and even", "sure"),
        "coat": ("of the texture asked and in good order", "fairly sure",
                 "a little off in texture or order", "fairly sure"),
        "colour": ("self with small white marks", "sure",
                   "self with small white marks", "sure"),
        "pigment": ("full", "sure", "full", "sure"),
        "tail_carriage": ("carried a little above the back", "sure", "", ""),
        "temperament": ("steady and friendly", "sure", "steady and friendly", "sure"),
        "front_action": ("straight, closing towards a centre line", "fairly sure", "", ""),
        "rear_action": ("a little close or a little short", "unsure", "", ""),
        "reach": ("free, with reach before and drive behind", "sure",
                  "free, with reach before and drive behind", "fairly sure"),
    },
    "Bryony": {
        "head": ("in balance and well finished", "sure", "a little plain", "unsure"),
        "expression": ("keen and open", "sure", "keen and open", "sure"),
        "feet": ("compact, with firm pads", "sure", "compact, with firm pads", "sure"),
        "muscle": ("a little soft", "fairly sure", "firm and even", "fairly sure"),
        "coat": ("of the texture asked and in good order", "sure",
                 "of the texture asked and in good order", "sure"),
        "pigment": ("full", "sure", "full", "sure"),
        "temperament": ("steady and friendly", "sure", "steady and friendly", "sure"),
        "reach": ("free, with reach before and drive behind", "sure", "", ""),
    },
    "Cob": {
        "expression": ("keen and open", "sure", "keen and open", "sure"),
        "feet": ("compact, with firm pads", "sure", "a little flat or open", "fairly sure"),
        "bone": ("in keeping with the size", "sure", "in keeping with the size",
                 "sure"),
        "pigment": ("a little light", "sure", "a little light", "sure"),
        "temperament": ("steady and friendly", "sure", "a little unsure", "unsure"),
        "reach": ("a little short", "sure", "a little short", "fairly sure"),
    },
    "Elsin": {
        "expression": ("keen and open", "sure", "keen and open", "fairly sure"),
        "front_action": ("clearly wide, toed in or out at elbow", "sure",
                         "clearly wide, toed in or out at elbow", "sure"),
        "temperament": ("steady and friendly", "sure", "steady and friendly", "sure"),
    },
    "Fennel": {
        "colour": ("not among those named", "sure", "not among those named", "sure"),
        "rear_action": ("close behind, crossing or stilted", "sure",
                        "close behind, crossing or stilted", "sure"),
        "reach": ("restricted, many small steps", "sure", "restricted, many small steps", "sure"),
        "temperament": ("steady and friendly", "sure", "steady and friendly", "sure"),
    },
}  # fmt: skip


def _grades() -> Iterator[Row]:
    for dog, points in SEEN.items():
        for point, (first, first_sure, second, second_sure) in points.items():
            if first:
                yield (dog, point, first, first_sure, "K.T.", DAY, "")
            if second:
                yield (dog, point, second, second_sure, "M.O.", DAY, "")


if __name__ == "__main__":
    main()
