"""The pictures of the panel as SVG text, drawn again only where something changed."""

from __future__ import annotations

import gc
from collections.abc import Mapping
from functools import cache
from threading import Thread

from kit.drawing.finding_marks import mark
from kit.drawing.scene import Scene
from kit.drawing.side_view import side_view
from kit.drawing.svg import to_svg
from kit.drawing.where import where
from kit.figure.model import Figure
from kit.figure.placement import place
from kit.protocol.catalogue import catalogue
from kit.protocol.plausibility import HEIGHT, plausible_range
from kit.protocol.readings import Reading
from kit.quantities.errors import GeometryError
from kit.quantities.kinds import Kind
from kit.standards.assessment import Assessment, assess
from kit.standards.conformity import Outcome

WIDE, TALL = 660.0, 420.0  # px, of the side view as drawn
HEAD, FOOT = 40.0, 8.0  # px of it above and below that would stay empty here
MARK = 20.0  # px, of a finding's mark
ANGLES = ("shoulder_angle", "elbow_angle", "hip_angle", "stifle_angle", "hock_angle")


@cache
def where_svg(measurement: str) -> str:
    """Return the picture of where a measurement is taken."""
    return to_svg(where(measurement))


@cache
def mark_svg(outcome: Outcome) -> str:
    """Return the mark of one outcome."""
    drawn = mark(outcome, (MARK / 2, MARK / 2), MARK / 2 - 3)
    return to_svg(Scene(MARK, MARK, drawn, outcome.value, outcome.value, "white"))


@cache
def warm_up() -> Thread:
    """Work everything out once on the neutral dog, beside the person's first entries.

    The first use of each formula compiles it; done here, no entry has to wait for it.
    """
    thread = Thread(target=_rehearse, daemon=True)
    thread.start()
    return thread


def _rehearse() -> None:
    known = catalogue()
    tall = known.measurements[HEIGHT]
    height = (tall.low + tall.high) / 2.0
    readings = []
    for key, definition in known.measurements.items():
        low, high = plausible_range(definition, height)
        readings.append(Reading("", key, (low + high) / 2.0, "left" if definition.sided else ""))
    made = assess(readings, known)
    SideView().svg(made)
    # What is loaded by now stays; looking through all of it again and again would make one entry
    # in ten wait.
    gc.collect()
    gc.freeze()


class SideView:
    """The side view of one dog, kept until a value that is drawn changes."""

    def __init__(self) -> None:
        self._key: object = None
        self._figure: Figure | None = None
        self._svg = ""

    def svg(self, assessment: Assessment) -> str:
        """Draw the dog; readings that place no dog leave the picture as it was."""
        values, angles = drawn_values(assessment), drawn_angles(assessment)
        key = (tuple(values.items()), tuple(angles.items()))
        if key != self._key:
            self._svg = self._drawn(values, angles)
            self._key = key
        return self._svg

    def _drawn(self, values: Mapping[str, float], angles: Mapping[str, tuple[float, float]]) -> str:
        try:
            figure = self._figure = place(values, self._figure)
        except GeometryError:
            # The question beside the reading says what is wrong; the last good picture stays.
            return self._svg
        svg = to_svg(side_view(figure, angles=angles, width=WIDE, height=TALL))
        whole = f'viewBox="0 0 {WIDE:g} {TALL:g}"'
        seen = f'viewBox="0 {HEAD:g} {WIDE:g} {TALL - HEAD - FOOT:g}"'
        return svg.replace(whole, seen, 1)


def drawn_values(assessment: Assessment) -> dict[str, float]:
    """Return one value for each measurement, the left side's where there are two."""
    chosen: dict[str, float] = {}
    for (key, side), estimate in assessment.estimates.items():
        if key not in chosen or side == "left":
            chosen[key] = estimate.value
    return chosen


def drawn_angles(assessment: Assessment) -> dict[str, tuple[float, float]]:
    """Return the angles that have a place on the picture, with their standard uncertainty."""
    known = assessment.traits.known
    return {
        key: (known[key].value, known[key].uncertainty)
        for key in ANGLES
        if key in known and known[key].trait.kind is Kind.ANGLE
    }
