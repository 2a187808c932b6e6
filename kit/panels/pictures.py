"""The pictures of the panel as SVG text, drawn again only where something changed."""

from __future__ import annotations

import gc
from collections.abc import Mapping
from functools import cache
from threading import Thread

from kit.drawing.finding_marks import mark
from kit.drawing.scene import Scene
from kit.drawing.side_view import side_view, with_angles
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
from kit.traits.inputs import Estimates

WIDE, TALL = 660.0, 420.0  # px, of the side view as drawn
HEAD, FOOT = 40.0, 8.0  # px of it above and below that would stay empty here
MARK = 20.0  # px, of a finding's mark
Angles = Mapping[str, tuple[float, float]]
ANGLES = frozenset({"shoulder_angle", "elbow_angle", "hip_angle", "stifle_angle", "hock_angle"})


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
    made = assess(_neutral_readings(), known)
    SideView().svg(drawn_values(made.estimates), drawn_angles(made))
    _leave_to_rest()


def _leave_to_rest() -> None:
    """Tell the collector that what is loaded by now stays.

    Looking through all of it again and again would make one entry in ten wait.
    """
    gc.collect()
    gc.freeze()


def _neutral_readings() -> list[Reading]:
    """Return one reading of every measurement, of a dog of the middling kind."""
    known = catalogue()
    tall = known.measurements[HEIGHT]
    height = (tall.low + tall.high) / 2.0
    readings = []
    for key, definition in known.measurements.items():
        low, high = plausible_range(definition, height)
        readings.append(Reading("", key, (low + high) / 2.0, "left" if definition.sided else ""))
    return readings


class SideView:
    """The side view of one dog, kept until a value that is drawn changes."""

    def __init__(self) -> None:
        self._values: dict[str, float] | None = None
        self._figure: Figure | None = None
        self._dog: Scene | None = None

    def prepare(self, values: Mapping[str, float]) -> None:
        """Place the dog, from where it stood before, and draw it without its angles."""
        if self._values == values:
            return
        self._values = dict(values)
        try:
            figure = place(values, self._figure)
        except GeometryError:
            return
        dog = side_view(figure, modelled=False, width=WIDE, height=TALL)
        self._figure, self._dog = figure, dog

    def svg(self, values: Mapping[str, float], angles: Angles) -> str:
        """Draw the dog; readings that place no dog leave it as it was.

        The question beside such a reading says what is wrong.
        """
        self.prepare(values)
        if self._figure is None or self._dog is None:
            return ""
        return _cropped(to_svg(with_angles(self._dog, self._figure, angles)))


def _cropped(svg: str) -> str:
    whole = f'viewBox="0 0 {WIDE:g} {TALL:g}"'
    seen = f'viewBox="0 {HEAD:g} {WIDE:g} {TALL - HEAD - FOOT:g}"'
    return svg.replace(whole, seen, 1)


def rehearse_drawing(view: SideView) -> None:
    """Draw a dog once, so that no later one waits for what is loaded on first use."""
    view.svg({one.measurement: one.value for one in _neutral_readings()}, {})
    _leave_to_rest()


def drawn_values(estimates: Estimates) -> dict[str, float]:
    """Return one value for each measurement, the left side's where there are two."""
    chosen: dict[str, float] = {}
    for (key, side), estimate in estimates.items():
        if key not in chosen or side == "left":
            chosen[key] = estimate.value
    return chosen


def drawn_angles(assessment: Assessment) -> dict[str, tuple[float, float]]:
    """Return the angles that have a place on the picture, with their standard uncertainty."""
    known = assessment.traits.known
    return {
        key: (known[key].value, known[key].uncertainty)
        for key in sorted(ANGLES)
        if key in known and known[key].trait.kind is Kind.ANGLE
    }
