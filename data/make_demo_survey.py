"""Write demo_survey.csv.gz: an invented club's two measuring weekends, and its measurer study.

Every dog is a build of the invented breed of make_demo_readings.py, varied as dogs of one breed
vary. Four invented measurers err as hands do, one of them always the same way. What was planted is
listed in `PLANTED`, `LEAN` and the functions named after it; data/README.md tells it in words.

Run from anywhere: ``python data/make_demo_survey.py``.
"""

from __future__ import annotations

import csv
import gzip
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from make_demo_readings import Dog, slip, true_values

from kit.protocol.catalogue import catalogue
from kit.quantities.kinds import Kind

SEED = 20260606
DOGS, STUDY = 300, 24  # dogs all told; the first of them were measured by everybody, twice
YEARS = (2024, 2026)
MEASURERS = ("A.F.", "H.S.", "J.W.", "R.T.")
LINES = ("Ashford", "Birchlow", "Cragside", "Dunmere", "Elderwick")
COLUMNS = ("dog", "measurement", "value", "unit", "side", "stand", "measurer", "instrument",
           "sex", "age_months", "line", "year")  # fmt: skip
KEYS = (
    "weight", "height_at_withers", "height_at_blade_top", "height_at_back", "height_at_loin",
    "height_at_point_of_hip", "height_at_set_on", "height_at_point_of_buttock",
    "height_at_brisket", "height_at_tuck_up", "height_at_point_of_shoulder",
    "height_at_point_of_elbow", "height_at_elbow", "height_at_stifle", "height_at_hock_joint",
    "height_at_point_of_hock", "body_length_from_prosternum",
    "body_length_from_point_of_shoulder", "back_length", "loin_length", "rib_cage_length",
    "underline_length", "blade_length", "upper_arm_length", "forearm_length", "chest_depth",
    "chest_breadth", "rib_breadth", "hip_breadth", "chest_girth", "front_pastern_girth",
    "croup_length", "thigh_length", "second_thigh_length", "tail_length",
    "set_on_to_point_of_hock", "neck_length", "head_length", "muzzle_length", "skull_breadth",
)  # fmt: skip

# One hand always draws the tape tight round the chest, and one repeats less well at the shoulder.
LEAN = {("H.S.", "chest_girth"): -1.6}
UNSTEADY = {("R.T.", "blade_length"): 2.5, ("R.T.", "upper_arm_length"): 2.5}
# Dog, measurement, what was written instead: the true value times, or plus.
PLANTED = (
    ("dog-041", "body_length_from_prosternum", "plus", 10.0),
    ("dog-066", "height_at_withers", "plus", -10.0),
    ("dog-087", "head_length", "times", 1 / 2.54),
    ("dog-103", "chest_depth", "plus", 5.0),
    ("dog-128", "chest_girth", "times", 1 / 2.54),
    ("dog-159", "muzzle_length", "times", 2.54),
    ("dog-177", "thigh_length", "plus", 5.0),
    ("dog-202", "weight", "times", 2.2046),
    ("dog-235", "back_length", "plus", -10.0),
    ("dog-261", "front_pastern_girth", "times", 1 / 2.54),
)
SWAPPED = ("dog-286", "chest_breadth", "chest_depth")


@dataclass(frozen=True)
class Member:
    """One invented dog of the survey."""

    name: str
    sex: str
    age_months: int
    line: str
    year: int
    build: Dog


def members(chance: np.random.Generator) -> list[Member]:
    """Return the dogs: bitches smaller, Cragside long in body, 2026 a little taller."""
    return [_member(number, chance) for number in range(1, DOGS + 1)]


def _member(number: int, chance: np.random.Generator) -> Member:
    sex = "dog" if chance.random() < 0.47 else "bitch"
    line = LINES[int(chance.integers(len(LINES)))]
    year = YEARS[0] if number <= DOGS // 2 else YEARS[1]
    size = 40.4 if sex == "dog" else 38.9
    height = size + chance.normal(0.0, 0.95) + (0.35 if year == YEARS[1] else 0.0)
    build = _build(f"dog-{number:03d}", height, sex, line, chance)
    age = 8 if number in {150, 299} else int(chance.integers(13, 110))
    return Member(build.name, sex, age, line, year, build)


def _build(name: str, height: float, sex: str, line: str, chance: np.random.Generator) -> Dog:
    long = chance.normal(0.0, 0.022) + (0.045 if line == "Cragside" else 0.0)
    deep, arm, head = chance.normal(0.0, (0.014, 2.6, 0.016))
    broad = chance.normal(0.0, 0.035) + (0.02 if sex == "dog" else 0.0)
    hind = (
        "tuck_up",
        "point_of_hip",
        "hip_joint",
        "point_of_buttock",
        "set_on",
        "tail_tip",
        "stifle",
        "hock_joint",
        "point_of_hock",
        "rear_toe",
        "rear_pastern_bottom",
        "loin",
    )
    shifts = dict.fromkeys(hind, (-long, 0.0)) | {
        "last_rib": (-0.6 * long, 0.0), "brisket": (0.0, -deep),
        "nose": (head, 0.0), "stop": (0.35 * head, 0.0)}  # fmt: skip
    across = {key: part * (1.0 + broad) for key, part in
              (("chest_breadth", 0.38), ("rib_breadth", 0.41), ("hip_breadth", 0.39),
               ("skull_breadth", 0.235), ("front_pastern_girth", 0.29))}  # fmt: skip
    weight = 11.6 * (height / 40.0) ** 2.7 * (1.0 + 0.9 * broad) * np.exp(chance.normal(0, 0.05))
    return Dog(name, height, float(weight), blade_slope=52.0 + chance.normal(0.0, 3.0),
               arm_slope=50.0 + arm, shifts=shifts, across=across)  # fmt: skip


def rows(member: Member, number: int, chance: np.random.Generator) -> Iterator[list[str]]:
    """Yield one dog's readings: study dogs by everybody twice, the others by one hand once."""
    truth = true_values(member.build, chance)
    everybody = number < STUDY
    hands = MEASURERS if everybody else (MEASURERS[number % len(MEASURERS)],)
    for hand in hands:
        for again in range(2 if everybody else 1):
            stand = f"{MEASURERS.index(hand) * 2 + again + 1}" if everybody else "1"
            for key in KEYS:
                if everybody or not _missing(member, key, chance):
                    yield _row(member, key, truth, hand, stand, chance)


def _missing(member: Member, key: str, chance: np.random.Generator) -> bool:
    """No scales on the first day of 2026; here and there a dog had had enough."""
    if key == "weight" and member.year == YEARS[1] and int(member.name[-3:]) < 190:
        return True
    return bool(chance.random() < 0.02)


def _row(
    member: Member,
    key: str,
    truth: Mapping[str, float],
    hand: str,
    stand: str,
    chance: np.random.Generator,
) -> list[str]:
    definition = catalogue().measurements[key]
    hands_error = 0.35 * definition.repeat_error * (MEASURERS.index(hand) - 1.5)
    error = slip(chance, definition.posture_error) + hands_error + LEAN.get((hand, key), 0.0)
    error += slip(chance, definition.repeat_error * UNSTEADY.get((hand, key), 1.0))
    value = _planted(member, key, truth, error)
    step = catalogue().instruments[definition.instrument].resolution
    side = "left" if definition.sided else ""
    decimals = 0 if definition.kind is Kind.ANGLE else 1
    return [member.name, key, f"{round(value / step) * step:.{decimals}f}", definition.kind.unit,
            side, stand, hand, definition.instrument, member.sex, str(member.age_months),
            member.line, str(member.year)]  # fmt: skip


def _planted(member: Member, key: str, truth: Mapping[str, float], error: float) -> float:
    for dog, measurement, how, size in PLANTED:
        if (dog, measurement) == (member.name, key):
            return (truth[key] + error) * size if how == "times" else truth[key] + error + size
    dog, first, second = SWAPPED
    if member.name == dog and key in {first, second}:
        return truth[second if key == first else first] + error
    return truth[key] + error


def main() -> None:
    """Write the file beside this one; the same seed writes the same bytes."""
    chance = np.random.default_rng(SEED)
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for number, member in enumerate(members(chance)):
        writer.writerows(rows(member, number, chance))
    target = Path(__file__).with_name("demo_survey.csv.gz")
    target.write_bytes(gzip.compress(text.getvalue().encode("utf-8"), 9, mtime=0))


if __name__ == "__main__":
    main()
