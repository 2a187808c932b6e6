"""Sentences on balance and on movement as such, and the figures they rest on."""

from __future__ import annotations

from collections.abc import Iterator

from kit.drawing.balance import BALANCE, HIP, SHOULDER
from kit.drawing.movement_feet import gait_in_words
from kit.drawing.wording import percent, value_text
from kit.movement.assessment import Footwork, Movement, Pace
from kit.movement.estimate import GaitEstimate
from kit.movement.findings import is_even
from kit.movement.footfalls import UNNAMED
from kit.quantities.formatting import number
from kit.reports.critique import MEASURED, MOVING, Evidence, Piece
from kit.standards.assessment import Assessment
from kit.standards.conformity import Outcome
from kit.standards.findings import chances

Told = tuple[Piece, Evidence]
SPEED_DECIMALS = {"m / s": 2, "m": 2, "1 / s": 2, "dimensionless": 2, "percent": 0}
UNIT_WORDS = {"m / s": " m/s", "m": " m", "1 / s": " a second", "dimensionless": "",
              "percent": " %", "deg": "°"}  # fmt: skip


def balance_told(assessment: Assessment) -> Told | None:
    """Return front against rear in one sentence; None where either angle is not known."""
    known = assessment.traits.known
    if not {BALANCE, SHOULDER, HIP} <= set(known):
        return None
    difference = known[BALANCE]
    more, less = ("front", "rear") if difference.value > 0 else ("rear", "front")
    apart = value_text(difference).replace("−", "")
    chance = chances(difference, None, 0.0).within
    sure = max(chance, 1.0 - chance)
    levels = assessment.levels
    clear = "is" if sure >= levels.decided else "is probably"
    angles = f"Shoulder {value_text(known[SHOULDER])} and hip {value_text(known[HIP])}"
    apart = (
        f"the {more} {clear} more open than the {less}, by {apart}"
        if sure >= levels.probable
        else f"which of the two is the more open cannot be told, the difference being {apart}"
    )
    said = f"{angles}: {apart}{_balance_verdict(assessment)}."
    text = (
        f"Shoulder angle less hip angle, {value_text(difference)}, the interval being that of "
        f"the difference; {percent(sure)} that the {more} is the more open. Shoulder and hip angle "
        f"{difference.trait.definition}."
    )
    key = f"trait:{BALANCE}"
    return Piece(said, (key,)), Evidence(key, MEASURED, "Front against rear", text)


def _balance_verdict(assessment: Assessment) -> str:
    finding = next((f for f in assessment.findings if f.clause.trait == BALANCE), None)
    if finding is None or finding.chance is None:
        return ""
    low, high = finding.clause.low, finding.clause.high
    limit = f"within {number(high, 0)}°" if low is not None and high == -low else "as asked"
    words = {
        Outcome.WITHIN: f"; they match {limit}",
        Outcome.PROBABLY_WITHIN: f"; they probably match {limit}",
        Outcome.UNDECIDED: f"; whether they match {limit} these readings do not decide",
        Outcome.BELOW: f"; they do not match {limit}",
        Outcome.ABOVE: f"; they do not match {limit}",
    }
    return words.get(finding.outcome, f"; they probably do not match {limit}")


def movement_told(movement: Movement) -> Iterator[Told]:
    """Yield sentences on what the dog did in movement; none of them is praise or blame."""
    for pace in movement.paces.values():
        if "speed" in pace.figures:
            yield _pace_told(pace, movement)
        for work in pace.footwork:
            yield _gait_told(pace, work)
            yield from _symmetry_told(work)


def shown(estimate: GaitEstimate) -> str:
    """Write a figure of movement with half its 95 % interval and its unit."""
    half = (estimate.high95 - estimate.low95) / 2
    decimals = SPEED_DECIMALS.get(estimate.figure.unit, 0)
    unit = UNIT_WORDS.get(estimate.figure.unit, "")
    return f"{number(estimate.value, decimals)} ± {number(half, decimals)}{unit}"


def as_part(estimate: GaitEstimate) -> str:
    """Write a part of a stride in percent, with half its 95 % interval."""
    half = (estimate.high95 - estimate.low95) / 2
    return f"{number(100 * estimate.value, 0)} ± {number(100 * half, 0)} %"


def _pace_told(pace: Pace, movement: Movement) -> Told:
    figures = pace.figures
    name = f"At the {pace.pace}" if pace.pace else "In movement"
    strides = ""
    if "stride_length" in figures:
        strides = (f", with strides of {shown(figures['stride_length'])}, "
                   f"{shown(figures['stride_frequency'])}")  # fmt: skip
    runs = "one run" if len(pace.by_run) == 1 else f"the mean of {len(pace.by_run)} runs"
    sized = ""
    if "froude_number" in figures:
        sized = f"; in a dog of this size a Froude number of {shown(figures['froude_number'])}"
    said = f"{name} the speed was {shown(figures['speed'])}{strides}{sized}."
    key = f"moving:pace:{pace.pace}"
    doubt = figures["speed"].largest_doubt
    listed = "; ".join(f"{one.figure.title} {shown(one)}" for one in figures.values())
    text = (
        f"{runs.capitalize()}. {listed}. Height of the hip {movement.body.hip_origin}. "
        f"The speed is limited most by the {doubt}. The pace is what the handler was asked "
        "for; it names no gait."
    )
    return Piece(said, (key,)), Evidence(key, MOVING, f"{name}: speed and stride", text)


def _gait_told(pace: Pace, work: Footwork) -> Told:
    fore, hind = work.figures["duty_factor_fore"], work.figures["duty_factor_hind"]
    named = (gait_in_words(work) if work.gait.name == UNNAMED
             else f"the footfalls name it a {work.gait.name}")  # fmt: skip
    said = (
        f"Filmed, {named}: each forefoot is down for {as_part(fore)} of the stride, each hind "
        f"foot for {as_part(hind)}"
    )
    in_air = work.figures["suspension"]
    if in_air.low95 > 0:
        said += f", and for {number(in_air.value * 100, 0)} % of it no foot is on the ground"
    key = f"moving:gait:{work.run}"
    figures = "; ".join(
        f"{name.replace('_', ' ')} {shown(one) if one.figure.unit == 'percent' else as_part(one)}"
        for name, one in work.figures.items()
    )
    text = (
        f"Run {work.run}, {work.strides} strides. {gait_in_words(work).capitalize()}, from duty "
        f"factor and phase of the footfalls (after Hildebrand, from memory). {figures}."
    )
    asked = f" ({pace.pace} asked for)" if pace.pace else ""
    return Piece(f"{said}.", (key,)), Evidence(
        key, MOVING, f"Footfalls of run {work.run}{asked}", text
    )


def _symmetry_told(work: Footwork) -> Iterator[Told]:
    """Say of both ends at once that they are even, or of each one what differs."""
    ends = {end: work.figures[f"symmetry_{end}"] for end in ("fore", "hind")}
    if all(is_even(one) for one in ends.values()):
        key = f"moving:symmetry:{work.run}"
        figures = " and ".join(f"{shown(one)} {_BEHIND[end]}" for end, one in ends.items())
        said = f"Left and right are down equally long as far as the film can tell: {figures}."
        yield Piece(said, (key,)), _symmetry_evidence(key, "Left against right", figures, work)
        return
    for end, one in ends.items():
        if not is_even(one):
            yield _uneven_told(work, end, one)


_BEHIND = {"fore": "in front", "hind": "behind"}


def _symmetry_evidence(key: str, label: str, figures: str, work: Footwork) -> Evidence:
    text = (
        f"Symmetry index of the stance times, {figures}; zero is even, above zero the left is "
        "longer down (Robinson 1987, Budsberg 1993, from memory). The side of the lead shifts it "
        "(Fahie and others 2018): repeat with the lead on the other side. An index is no diagnosis."
    )
    return Evidence(key, MOVING, f"{label}, run {work.run}", text)


def _uneven_told(work: Footwork, end: str, estimate: GaitEstimate) -> Told:
    feet = "forefeet" if end == "fore" else "hind feet"
    key = f"moving:symmetry_{end}:{work.run}"
    longer = "left" if estimate.value > 0 else "right"
    said = (
        f"The {longer} of the {feet} is down longer than the other, by "
        f"{shown(estimate).replace('−', '')} of their mean; that is an observation and no "
        "diagnosis, and if it is there again another day a veterinary surgeon should see the dog."
    )
    label = f"Left against right, {feet}"
    return Piece(said, (key,)), _symmetry_evidence(key, label, shown(estimate), work)


def opening_told(assessment: Assessment, measured: str) -> Told | None:
    """Return who the dog is in one sentence: sex, height and weight; None where not measured."""
    known = assessment.traits.known
    if "height_at_withers" not in known:
        return None
    height = value_text(known["height_at_withers"])
    weight = f" and {value_text(known['weight'])}" if "weight" in known else ""
    kind = {"dog": "a dog", "bitch": "a bitch"}.get(assessment.scope.sex, "")
    age = assessment.scope.age_months
    old = f"{age:g} months old" if age is not None else ""
    who = ", ".join(part for part in (assessment.dog or "This dog", kind, old) if part)
    said = (
        f"{who}: {height} at the withers{weight}{f', measured on {measured}' if measured else ''}."
    )
    key = "trait:height_at_withers"
    heavy = weight.replace(" and ", "; weight ")
    text = f"Height at withers {height}{heavy}; ± is half the 95 % interval."
    return Piece(said, (key,)), Evidence(key, MEASURED, "Size", text)
