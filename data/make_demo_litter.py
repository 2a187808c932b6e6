"""Write demo_litter.csv: an invented litter, weighed and measured by a hand that errs and forgets.

Every puppy has its own curves of weight and height; other lengths follow from its height with a
proportion that changes with age. Until weaning the weight follows an early curve that joins the
later one. To these a hand adds its errors, its gaps and a few slips.

Run from anywhere: ``python data/make_demo_litter.py``.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np

SEED = 20260301
WHELPED = date(2026, 3, 1)
COLUMNS = ("dog", "measurement", "value", "unit", "side", "stand", "time", "note",
           "born", "sex", "collar", "died", "litter")  # fmt: skip
LAST_DAY, WEANED = 182, 21
DIED = 9


@dataclass(frozen=True)
class Build:
    """One true puppy: adult weight in kg and height in cm, and its own pace."""

    name: str
    sex: str
    collar: str
    weight: float
    height: float
    pace: float
    newborn: float  # kg
    missed: float  # part of the days on which it was not measured


LITTER = (
    Build("Gorse", "dog", "red", 12.9, 41.5, 47.0, 0.255, 0.08),
    Build("Heath", "dog", "blue", 12.4, 40.9, 48.5, 0.240, 0.10),
    Build("Isla", "bitch", "green", 10.8, 39.0, 45.5, 0.235, 0.08),
    Build("Juniper", "bitch", "yellow", 11.2, 39.4, 46.0, 0.228, 0.12),
    Build("Knot", "dog", "orange", 11.9, 40.4, 51.0, 0.205, 0.10),
    Build("Linnet", "bitch", "purple", 9.9, 38.2, 46.5, 0.215, 0.0),
    Build("Moss", "dog", "white", 11.5, 40.0, 47.0, 0.172, 0.0),
)
LINNET_SEEN = (24, 45, 66)  # days: it was reared apart and came to be measured three times
NEVER = 999


def main() -> None:
    """Write the file beside this script."""
    rows = list(_rows(np.random.default_rng(SEED)))
    path = Path(__file__).with_name("demo_litter.csv")
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(COLUMNS)
        writer.writerows(rows)


def _rows(rng: np.random.Generator) -> Iterator[list[str]]:
    for build in LITTER:
        first = True
        for day, key, value, unit, side, note in _readings(build, rng):
            said = ["", "", "", "", ""]
            if first:
                died = str(WHELPED + timedelta(DIED)) if build.name == "Moss" else ""
                said = [str(WHELPED), build.sex, build.collar, died, "first litter of Bryony"]
                first = False
            time = f"{WHELPED + timedelta(day)}T08:{int(rng.integers(60)):02d}:00"
            yield [build.name, key, value, unit, side, "1", time, note, *said]


Written = tuple[int, str, str, str, str, str]


def _readings(build: Build, rng: np.random.Generator) -> Iterator[Written]:
    for day in _weighing_days(build, rng):
        yield _weighed(build, day, rng)
        if build.name == "Juniper" and day == 40:
            yield (40, "weight", f"{_weight(build, 40) * 1.31:.2f}", "kg", "", "second weighing")
    for day in _measuring_days(build, rng):
        yield from _measured(build, day, rng)
    if build.name == "Heath":
        yield (-2, "weight", "0.24", "kg", "", "")


def _weighing_days(build: Build, rng: np.random.Generator) -> Iterator[int]:
    days = [*range(15), *range(16, 57, 3), *range(63, 113, 7), *range(126, LAST_DAY + 1, 14)]
    if build.name == "Linnet":
        days = [*range(15), *LINNET_SEEN]
    if build.name == "Moss":
        days = list(range(DIED + 1))
    fixed = {0, 2, 3, 4, 12, 13, 14, 40, LAST_DAY}
    for day in days if 40 in days or build.name != "Juniper" else sorted({*days, 40}):
        if day in fixed or rng.random() >= build.missed:
            yield day


def _measuring_days(build: Build, rng: np.random.Generator) -> Iterator[int]:
    days: list[int] = [*range(24, 60, 7), *range(66, LAST_DAY + 1, 14)]
    if build.name == "Linnet":
        days = list(LINNET_SEEN)
    if build.name == "Moss":
        days = []
    for day in days:
        if rng.random() >= build.missed:
            yield day


def _weight(build: Build, day: float) -> float:
    """Gompertz from weaning; before it an exponential that slows and meets it there."""
    pace = build.pace * 1.05
    later = build.weight * np.exp(-np.exp(-(max(day, WEANED) - 1.45 * pace) / pace))
    if day >= WEANED:
        return float(later)
    total = np.log(later / build.newborn)
    part = (day - 0.012 * day**2) / (WEANED - 0.012 * WEANED**2)
    return float(build.newborn * np.exp(total * part))


def _height(build: Build, day: float) -> float:
    return float(build.height * np.exp(-np.exp(-(day - 22.0) / (build.pace * 0.92))))


def _weighed(build: Build, day: int, rng: np.random.Generator) -> Written:
    true = _weight(build, day)
    if build.name == "Knot" and day in (3, 4):
        true = _weight(build, 2) * (0.965 if day == 3 else 0.975)
    if build.name == "Moss":
        true = build.newborn * (1.0 + 0.012 * min(day, 5) - 0.03 * max(day - 5, 0))
    spread = 0.010 if day < 15 else 0.022
    value = true * (1.0 + spread * rng.standard_normal())
    if day < 30:
        grams = f"{value * 1000:.0f}"
        if build.name == "Isla" and day == 13:
            return (day, "weight", f"{value:.2f}", "g", "", "")
        return (day, "weight", grams, "g", "", "")
    return (day, "weight", f"{value:.2f}", "kg", "", "")


def _measured(build: Build, day: int, rng: np.random.Generator) -> Iterator[Written]:
    height = _height(build, day)
    grown = 1.0 - np.exp(-day / 70.0)
    lengths = {
        "height_at_withers": height,
        "body_length_from_prosternum": height * (1.0 + 0.09 * grown),
        "chest_depth": height * (0.42 + 0.07 * grown),
        "chest_girth": height * (1.34 - 0.06 * grown),
        "head_length": height * (0.60 - 0.17 * grown),
        "height_at_elbow": height * (0.43 + 0.075 * grown),
    }
    errors = {"head_length": 0.2, "chest_depth": 0.2, "chest_girth": 0.8}
    for key, true in lengths.items():
        value = true * (1.0 + 0.006 * rng.standard_normal())
        value += errors.get(key, 0.4) * 0.7 * rng.standard_normal()
        step = 0.1 if key in ("head_length", "chest_depth") else 0.5
        side = "left" if key == "height_at_elbow" else ""
        yield (day, key, f"{round(value / step) * step:.1f}", "cm", side, "")
    yield from _forearms(build, day, height, rng)


def _forearms(build: Build, day: int, height: float, rng: np.random.Generator) -> Iterator[Written]:
    """Measure both forearms; Knot's left one grows more slowly from the third month on."""
    for side in ("left", "right"):
        true = height * 0.30
        if build.name == "Knot" and side == "left":
            true -= 0.016 * max(day - 70, 0)
        value = true + 0.25 * rng.standard_normal()
        yield (day, "forearm_length", f"{round(value * 2) / 2:.1f}", "cm", side, "")


if __name__ == "__main__":
    main()
