"""Readings of plausible dogs from long and low to leggy, and a check that outlines do not cross."""

import numpy as np

from kit.figure.breadths import neutral_breadths
from kit.figure.observations import observations, reading_at
from kit.figure.template import template

LENGTH_KINDS = ("vertical", "straight", "horizontal", "skin")


def crossings(polygon):
    """Count pairs of non-neighbouring sides of a closed polygon that meet."""
    start, side = polygon, np.roll(polygon, -1, axis=0) - polygon
    gap = start[None] - start[:, None]
    across = _cross(side[:, None], side[None])
    with np.errstate(divide="ignore", invalid="ignore"):
        here, there = _cross(gap, side[None]) / across, _cross(gap, side[:, None]) / across
    meet = (here >= 0) & (here <= 1) & (there >= 0) & (there <= 1)
    one, other = np.nonzero(meet)
    apart = np.abs(one - other)
    return int(((apart > 1) & (apart < len(polygon) - 1)).sum() // 2)


def _cross(one, other):
    return one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0]


def random_readings(seed):
    """Readings of a plausible dog, from long and low to leggy: some, most or all of them."""
    rng = np.random.default_rng(seed)
    height, leg = rng.uniform(18, 85), rng.uniform(0.33, 0.56)
    long = rng.uniform(0.94, 1.12) if leg > 0.47 else rng.uniform(1.05, 1.75)
    points = _random_points(rng, height, leg, long)
    share = rng.uniform(0.05, 1.0)
    kept = {
        key: reading_at(seen, points)
        for key, seen in observations().items()
        if "pastern_slope" not in key
        and rng.uniform() < (share if seen.kind in LENGTH_KINDS else share * 0.3)
    }
    for key in ("height_at_withers", "body_length_from_prosternum", "height_at_brisket"):
        kept[key] = reading_at(observations()[key], points)
    for key, low, high in (
        ("front_pastern_girth", 0.14, 0.27),
        ("neck_girth", 0.5, 0.85),
        ("thigh_breadth", 0.2, 0.32),
    ):
        if rng.uniform() < 0.5:
            kept[key] = height * rng.uniform(low, high)
    return kept


def some_readings(seed):
    """Return what a beginner may have read of a plausible dog: the height and any of the rest.

    Half of the dogs have a shoulder of their own, known by its three tapes alone and as deep as
    the body is.
    """
    rng = np.random.default_rng(seed + 2_000_000)
    full, share = random_readings(seed), rng.uniform(0.1, 1.0)
    kept = {k: v for k, v in full.items() if rng.uniform() < share or k == "height_at_withers"}
    if rng.uniform() < 0.5:
        deep = 0.96 * full["height_at_withers"] - full["height_at_brisket"]
        kept = {k: v for k, v in kept.items() if k not in SHOULDER} | _three_tapes(rng, deep)
    return kept


SHOULDER = ("height_at_blade_top", "height_at_point_of_shoulder", "withers_to_point_of_shoulder",
            "blade_top_to_point_of_hip", "shoulder_angle", "blade_slope", "blade_layback",
            "upper_arm_slope")  # fmt: skip


def _three_tapes(rng, deep):
    """Blade, upper arm and their span by the cosine rule, for a shoulder about so deep in cm."""
    slope, arm_slope = np.radians(rng.uniform(46, 68)), np.radians(rng.uniform(42, 62))
    part = rng.uniform(0.75, 1.05)
    blade = deep / (np.sin(slope) + part * np.sin(arm_slope)) * rng.uniform(0.92, 1.12)
    arm = part * blade
    span = np.sqrt(blade**2 + arm**2 - 2 * blade * arm * np.cos(slope + arm_slope))
    return {"blade_length": blade, "upper_arm_length": arm, "blade_top_to_elbow": span}


def _random_points(rng, height, leg, long):
    turn = template().points["brisket"][1]
    size, across = height * np.sqrt(long / 1.058), height * long / 1.058
    heads = ("occiput", "stop", "nose")
    points = {}
    for key, (x, y) in template().points.items():
        up = y * leg / turn if y < turn else leg + (y - turn) * (1 - leg) / (1 - turn)
        points[key] = [x * across, up * height]
        if key in heads:
            points[key] = [0.165 * across + (x - 0.165) * size, height + (y - 1) * size]
    points["tail_tip"] = [
        points["set_on"][0] - 0.377 * size,
        points["set_on"][1] - size * rng.uniform(0.06, 0.26),
    ]
    for key in points:
        if key in template().floor:
            continue
        points[key] = [value + rng.normal(0, 0.012) * size for value in points[key]]
    return points


def random_breadths(seed, height):
    """Some breadths, girths and turn-outs of a plausible dog, from narrow to very broad."""
    rng = np.random.default_rng(seed + 1_000_000)
    broad = rng.uniform(0.75, 1.5)
    kept = {
        key: height * one.value * broad * rng.uniform(0.85, 1.15)
        for key, one in neutral_breadths().lengths.items()
        if rng.uniform() < 0.5
    }
    turned = neutral_breadths().turnouts
    return kept | {key: rng.uniform(-15, 30) for key in turned if rng.uniform() < 0.5}


def sharpest_turn(polygon):
    """Greatest change of direction from one side of a closed polygon to the next, in degrees."""
    side = np.roll(polygon, -1, axis=0) - polygon
    side = side[np.hypot(*side.T) > 1e-9]
    heading = np.arctan2(side[:, 1], side[:, 0])
    turn = np.angle(np.exp(1j * (heading - np.roll(heading, 1))))
    return float(np.degrees(np.abs(turn)).max())
