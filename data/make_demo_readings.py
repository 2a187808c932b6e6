"""Write demo_readings.csv: invented dogs, measured by invented hands that err as hands do.

Each true dog is one build of an invented breed with its own faults. Every measurement is taken
from its landmarks by geometry; then each stand of the dog and each reading of the hand adds the
error the measurement catalogue states, and the reading is rounded as the tool is read.

Run from anywhere: ``python data/make_demo_readings.py``.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from kit.protocol.catalogue import Definition, catalogue
from kit.protocol.reading_files import OPTIONAL, REQUIRED
from kit.quantities.kinds import Kind

SEED = 20250517
INDIVIDUALITY = 0.004  # spread of every landmark, parts of the height at withers
HIND = [
    "tuck_up", "point_of_hip", "hip_joint", "point_of_buttock", "set_on", "tail_tip", "stifle",
    "hock_joint", "point_of_hock", "rear_toe", "rear_pastern_bottom", "loin",
]  # fmt: skip
HIND_LEG = [
    "hock_joint", "point_of_hock", "rear_toe", "rear_pastern_bottom",
]  # fmt: skip

Point = tuple[float, float]

# The build of the breed: landmarks in the median plane, x forward and y up, floor at 0, in parts
# of the height at withers. The kit's own template is not used: it must not fit by birth.
BUILD: dict[str, Point] = {
    "occiput": (0.425, 1.295), "stop": (0.635, 1.262), "nose": (0.815, 1.185),
    "withers": (0.165, 1.000), "blade_top": (0.190, 0.962), "elbow": (0.195, 0.488),
    "point_of_elbow": (0.146, 0.512), "wrist": (0.198, 0.192),
    "front_pastern_bottom": (0.210, 0.055), "brisket": (0.175, 0.490),
    "last_rib": (-0.185, 0.800), "tuck_up": (-0.390, 0.605), "back": (-0.050, 0.975),
    "loin": (-0.300, 0.978), "point_of_hip": (-0.390, 0.938), "hip_joint": (-0.548, 0.850),
    "point_of_buttock": (-0.648, 0.822), "set_on": (-0.555, 0.925), "tail_tip": (-0.760, 0.560),
    "stifle": (-0.495, 0.535), "hock_joint": (-0.725, 0.248), "point_of_hock": (-0.780, 0.280),
    "rear_pastern_bottom": (-0.725, 0.052), "rear_toe": (-0.655, 0.014),
}  # fmt: skip

# Across the dog, parts of the height at withers; a dog's own figures replace these.
ACROSS = {
    "chest_breadth": 0.38, "shoulder_breadth": 0.43, "rib_breadth": 0.41, "loin_breadth": 0.29,
    "hip_breadth": 0.39, "skull_breadth": 0.235, "thigh_breadth": 0.315, "blade_breadth": 0.335,
    "foot_length": 0.135, "foot_breadth": 0.115, "elbow_spread": 0.37, "front_foot_spread": 0.355,
    "hock_spread": 0.30, "rear_foot_spread": 0.30, "neck_girth": 0.88, "front_pastern_girth": 0.29,
}  # fmt: skip
TURNED = {"front_foot_turnout": 2.0, "rear_foot_turnout": 1.0}

# What a hand measures of a dog it has little time for.
SHORT_LIST = [
    "weight", "height_at_withers", "height_at_blade_top", "height_at_back", "height_at_loin",
    "height_at_point_of_hip", "height_at_set_on", "height_at_point_of_buttock",
    "height_at_brisket", "height_at_tuck_up", "height_at_point_of_shoulder",
    "height_at_point_of_elbow", "height_at_elbow", "height_at_stifle", "height_at_hock_joint",
    "height_at_point_of_hock", "body_length_from_prosternum",
    "body_length_from_point_of_shoulder", "back_length", "withers_to_point_of_hip",
    "loin_length", "rib_cage_length", "underline_length", "blade_length", "upper_arm_length",
    "blade_top_to_elbow", "shoulder_angle", "chest_depth", "chest_breadth", "shoulder_breadth",
    "rib_breadth", "loin_breadth", "hip_breadth", "chest_girth", "front_pastern_girth",
    "croup_length", "thigh_length", "second_thigh_length", "hip_joint_to_hock_joint",
    "hip_angle", "stifle_angle", "front_pastern_slope", "front_foot_turnout", "rear_toe_offset",
    "neck_length", "head_length", "muzzle_length",
]  # fmt: skip
BOTH_SIDES = [
    "blade_length", "upper_arm_length", "blade_top_to_elbow", "shoulder_angle", "thigh_length",
    "second_thigh_length", "hip_joint_to_hock_joint", "stifle_angle", "front_foot_turnout",
]  # fmt: skip


@dataclass(frozen=True)
class Dog:
    """A true dog: its size, and where it departs from BUILD (parts of its height).

    Attributes
    ----------
    height, weight : float
        Height at withers in cm, weight in kg.
    blade_slope, arm_slope : float
        Slopes of blade and upper arm from the horizontal, in degrees.
    shifts : Mapping of str to (float, float)
        Landmarks moved forward and up.
    across, turned : Mapping of str to float
        Own breadths and girths (parts of the height) and turn-outs (degrees).
    """

    name: str
    height: float
    weight: float
    blade_slope: float = 52.0
    arm_slope: float = 50.0
    shifts: Mapping[str, Point] = field(default_factory=dict)
    across: Mapping[str, float] = field(default_factory=dict)
    turned: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Round:
    """One round of one measurer over one stand of the dog."""

    stand: str
    measurer: str
    start: datetime


def moved(names: list[str], forward: float, up: float = 0.0) -> dict[str, Point]:
    """Move several landmarks alike."""
    return dict.fromkeys(names, (forward, up))


DOGS = (
    Dog("Alder", 40.6, 11.8, shifts=moved(HIND_LEG, -0.022)),
    Dog("Bryony", 38.9, 11.2, shifts={**moved(HIND, -0.15), "last_rib": (-0.05, 0.0)}),
    Dog("Cob", 41.4, 12.4, blade_slope=64.0, arm_slope=63.0),
    Dog("Dunnock", 40.1, 11.9, shifts={
        "back": (0.0, -0.045), "loin": (0.0, 0.012), "point_of_hip": (0.0, 0.015),
        "set_on": (0.0, 0.015)}),
    Dog("Elsin", 39.4, 11.6, arm_slope=47.0,
        across={"chest_breadth": 0.55, "rib_breadth": 0.50, "shoulder_breadth": 0.53,
                "elbow_spread": 0.50, "front_foot_spread": 0.44},
        turned={"front_foot_turnout": 14.0}),
    Dog("Fennel", 39.0, 10.6, shifts={
        **moved(HIND_LEG, 0.065), "stifle": (-0.035, 0.0), "point_of_buttock": (0.0, -0.03)}),
)  # fmt: skip
MISREAD = ("Elsin", "blade_length", 17.5)  # last reading; about 13 is right


def forehand(points: dict[str, Point], dog: Dog) -> None:
    """Set the point of shoulder so that blade and upper arm slope as they should.

    Elbow and height of the blade's top stay; blade and upper arm keep the ratio 1.1 to 1.
    """
    blade, arm = math.radians(dog.blade_slope), math.radians(dog.arm_slope)
    elbow, top = points["elbow"], points["blade_top"]
    length = (top[1] - elbow[1]) / (1.1 * math.sin(blade) + math.sin(arm))
    shoulder = (elbow[0] + length * math.cos(arm), elbow[1] + length * math.sin(arm))
    points["point_of_shoulder"] = shoulder
    points["blade_top"] = (shoulder[0] - 1.1 * length * math.cos(blade), top[1])
    points["prosternum"] = (shoulder[0] + 0.038, shoulder[1] + 0.004)


def true_points(dog: Dog, chance: np.random.Generator) -> dict[str, Point]:
    """Return the dog's landmarks in cm."""
    points = dict(BUILD)
    forehand(points, dog)
    for name, (forward, up) in dog.shifts.items():
        points[name] = (points[name][0] + forward, points[name][1] + up)
    for name in points:
        if name != "withers":
            x, y = np.asarray(points[name]) + chance.normal(0.0, INDIVIDUALITY, 2)
            points[name] = (float(x), float(y))
    return {name: (x * dog.height, y * dog.height) for name, (x, y) in points.items()}


def slope(a: Point, b: Point) -> float:
    """Return how steeply the line between two points runs, in degrees from the horizontal."""
    return math.degrees(math.atan2(abs(a[1] - b[1]), abs(a[0] - b[0])))


def angle(a: Point, corner: Point, b: Point) -> float:
    """Return the angle at a corner, in degrees."""
    first, second = np.subtract(a, corner), np.subtract(b, corner)
    cosine = first @ second / np.linalg.norm(first) / np.linalg.norm(second)
    return math.degrees(math.acos(cosine))


def girth(depth: float, breadth: float) -> float:
    """Return the girth of an ellipse (Ramanujan 1914, first approximation)."""
    a, b = depth / 2, breadth / 2
    return math.pi * (3 * (a + b) - math.sqrt((3 * a + b) * (a + 3 * b)))


def along_underline(points: Mapping[str, Point], end: str) -> float:
    """Return the way under the body from the breastbone to above or at a landmark."""
    front, low, rear = points["prosternum"], points["brisket"], points["tuck_up"]
    part = (low[0] - points[end][0]) / (low[0] - rear[0])
    return math.dist(front, low) + part * math.dist(low, rear)


def angles(p: Mapping[str, Point]) -> dict[str, float]:
    """Return the angles in degrees; falling to the rear and foot ahead count positive."""
    blade = slope(p["blade_top"], p["point_of_shoulder"])
    pastern, rear = p["front_pastern_bottom"], p["rear_pastern_bottom"]
    return {
        "shoulder_angle": angle(p["blade_top"], p["point_of_shoulder"], p["elbow"]),
        "blade_slope": blade,
        "blade_layback": 90.0 - blade,
        "upper_arm_slope": slope(p["point_of_shoulder"], p["elbow"]),
        "elbow_angle": angle(p["point_of_shoulder"], p["elbow"], p["wrist"]),
        "croup_slope": slope(p["point_of_hip"], p["point_of_buttock"]),
        "hip_angle": angle(p["point_of_hip"], p["hip_joint"], p["stifle"]),
        "stifle_angle": angle(p["hip_joint"], p["stifle"], p["hock_joint"]),
        "hock_angle": angle(p["stifle"], p["hock_joint"], rear),
        "topline_slope": slope(p["withers"], p["set_on"]),
        "front_pastern_slope": 90.0 - slope(p["wrist"], pastern),
        "rear_pastern_slope": math.degrees(
            math.atan2(rear[0] - p["hock_joint"][0], p["hock_joint"][1] - rear[1])
        ),
    }


def lengths(p: Mapping[str, Point], across: Mapping[str, float]) -> dict[str, float]:
    """Return the lengths in cm that are no plain distance between two landmarks."""
    depth = math.dist(p["withers"], p["brisket"])
    return {
        "height_at_back": p["back"][1],
        "height_at_loin": p["loin"][1],
        "rib_cage_length": along_underline(p, "last_rib"),
        "underline_length": along_underline(p, "tuck_up"),
        "front_pastern_length": math.dist(p["wrist"], p["front_pastern_bottom"]),
        "chest_girth": girth(depth, across["rib_breadth"]),
        "waist_girth": girth(p["loin"][1] - p["tuck_up"][1], across["loin_breadth"]),
        "rear_toe_offset": p["point_of_buttock"][0] - p["rear_toe"][0],
    }


def plain_length(points: Mapping[str, Point], definition: Definition) -> float:
    """Return a height, or the straight distance between two landmarks, in cm."""
    if definition.direction == "vertical":
        return points[definition.landmarks[0]][1]
    start, end = definition.landmarks
    return math.dist(points[start], points[end])


def true_values(dog: Dog, chance: np.random.Generator) -> dict[str, float]:
    """Return every measurement of the catalogue without error, in cm, degrees or kg."""
    points = true_points(dog, chance)
    across = {key: part * dog.height for key, part in {**ACROSS, **dog.across}.items()}
    known = {
        "weight": dog.weight, **across, **TURNED, **dog.turned,
        **angles(points), **lengths(points, across),
    }  # fmt: skip
    definitions = catalogue().measurements
    return {
        key: known[key] if key in known else plain_length(points, definition)
        for key, definition in definitions.items()
    }


def written(value: float, definition: Definition, chance: np.random.Generator) -> tuple[str, str]:
    """Round a value as the tool is read and write it; now and then with the unit beside it."""
    step = catalogue().instruments[definition.instrument].resolution
    value = round(value / step) * step + 0.0
    decimals = 0 if definition.kind is Kind.ANGLE else 1
    plain, unit = f"{value:.{decimals}f}", definition.kind.unit
    if chance.random() < 0.95:
        return plain, unit
    return by_hand(value, plain, definition, chance), ""


def by_hand(value: float, plain: str, definition: Definition, chance: np.random.Generator) -> str:
    """Write an entry as people do: inches and quarters, a decimal comma, a degree sign."""
    if definition.kind is Kind.ANGLE:
        return f"{plain}°"
    if definition.kind is Kind.MASS:
        return f"{value / 0.45359237:.0f} lb"
    if value < 15 or definition.instrument == "caliper" or chance.random() < 0.4:
        return plain.replace(".", ",") + " cm"
    inches, quarters = divmod(round(value / 2.54 * 4), 4)
    return f"{inches}{('', ' 1/4', ' 1/2', ' 3/4')[quarters]} in"


def slip(chance: np.random.Generator, spread: float) -> float:
    """Return one error of a hand or a stance; far ones a careful hand would have read again."""
    return spread * float(np.clip(chance.normal(), -2.2, 2.2))


def rounds(dog: Dog, number: int) -> tuple[Round, ...]:
    """Return who measured a dog in which stand: the first dog thoroughly, the others quickly."""
    start = datetime(2025, 5, 17, 9, 30) + timedelta(minutes=55 * number)  # noqa: DTZ001 local time
    if dog is DOGS[0]:
        plan = (("1", "K.T."), ("1", "M.O."), ("2", "K.T."), ("2", "M.O."))
    else:
        plan = (("1", "K.T."), ("2", "K.T."))
    return tuple(
        Round(stand, measurer, start + timedelta(minutes=13 * place))
        for place, (stand, measurer) in enumerate(plan)
    )


def rows(dog: Dog, number: int, chance: np.random.Generator) -> Iterator[list[str]]:
    """Yield the CSV rows of one dog in the order they were read."""
    definitions = catalogue().measurements
    keys = list(definitions) if dog is DOGS[0] else [k for k in definitions if k in SHORT_LIST]
    truth, posture = true_values(dog, chance), {}
    for place, one in enumerate(rounds(dog, number)):
        clock = one.start
        for key in keys:
            for side in sides(dog, definitions[key], place):
                for _ in range(readings(dog, key, place)):
                    lean = posture.setdefault(
                        (key, one.stand, side), slip(chance, definitions[key].posture_error)
                    )
                    error = lean + slip(chance, definitions[key].repeat_error)
                    value, unit = written(truth[key] + error, definitions[key], chance)
                    clock += timedelta(seconds=int(chance.integers(6, 12)))
                    yield [
                        dog.name, key, value, unit, side, one.stand, one.measurer,
                        definitions[key].instrument, clock.isoformat(), "",
                    ]  # fmt: skip


def sides(dog: Dog, definition: Definition, place: int) -> tuple[str, ...]:
    """Return the sides to measure: the left, and of the first dog some of the right."""
    if not definition.sided:
        return ("",)
    if dog is DOGS[0] and place in {0, 2} and definition.key in BOTH_SIDES:
        return ("left", "right")
    return ("left",)


def readings(dog: Dog, key: str, place: int) -> int:
    """Return how often a hand reads before it goes on: bones twice in the first stand."""
    return 2 if dog is not DOGS[0] and place == 0 and key in BOTH_SIDES else 1


def misread(table: list[list[str]]) -> None:
    """Put in the one misread tape, at the last reading of its measurement."""
    dog, key, value = MISREAD
    place = max(number for number, row in enumerate(table) if row[:2] == [dog, key])
    table[place][2:4] = [f"{value:.1f}", "cm"]
    table[place][7] = "tape"


def annotate(table: list[list[str]]) -> None:
    """Add the few remarks a helper wrote down."""
    table[0][-1] = "before feeding"
    for row in table:
        if row[0] == "Dunnock" and row[1] == "height_at_back" and row[5] == "2":
            row[-1] = "dog let its back down again"
        if row[0] == "Alder" and row[1] == "head_length" and row[6] == "M.O.":
            row[-1] = "helper at the head"


def main() -> None:
    """Write the file beside this one."""
    chance = np.random.default_rng(SEED)
    table = [row for number, dog in enumerate(DOGS) for row in rows(dog, number, chance)]
    misread(table)
    annotate(table)
    target = Path(__file__).with_name("demo_readings.csv")
    with target.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow((*REQUIRED, *OPTIONAL))
        writer.writerows(table)


if __name__ == "__main__":
    main()
