"""The pictures of a report, and as files of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from kit.drawing.against_standard import against_standard
from kit.drawing.scene import Scene
from kit.drawing.side_view import side_view
from kit.drawing.svg import to_svg
from kit.figure.placement import place
from kit.quantities.errors import GeometryError
from kit.standards.assessment import Assessment

DPI = 192.0
ANGLES_SHOWN = ("shoulder_angle", "elbow_angle", "croup_slope", "hip_angle", "stifle_angle",
                "hock_angle")  # fmt: skip
NORMAL_95 = 1.96  # the side view takes its 95 % limits this many standard uncertainties wide


@dataclass(frozen=True)
class Picture:
    """One picture: its file name without ending, heading, what it shows, and the scene."""

    name: str
    heading: str
    caption: str
    scene: Scene


def pictures(assessment: Assessment) -> tuple[Picture, ...]:
    """Return the pictures of one dog: from the side, and against the standard."""
    return (*_side(assessment), _standard(assessment))


def _side(assessment: Assessment) -> tuple[Picture, ...]:
    try:
        scene = side_of(assessment)
    except GeometryError:
        # The readings place no dog; the doubts of the assessment say which ones.
        return ()
    caption = (
        "To scale, from the readings. Drawn faint or dashed: not measured, taken from a neutral "
        "dog. Angles with their 95 % limits."
    )
    return (Picture("side_view", "From the side", caption, scene),)


def side_of(assessment: Assessment) -> Scene:
    """Draw the dog from the side.

    Raises
    ------
    GeometryError
        If the readings cannot be placed.
    """
    title = assessment.dog
    return side_view(place(_values(assessment)), title=title, angles=_angles(assessment))


def _values(assessment: Assessment) -> dict[str, float]:
    """Return one value for each measurement, the left side where there are two."""
    chosen: dict[str, float] = {}
    for (key, side), estimate in assessment.estimates.items():
        if key not in chosen or side == "left":
            chosen[key] = estimate.value
    return chosen


def _angles(assessment: Assessment) -> dict[str, tuple[float, float]]:
    """Return angles with the uncertainty whose 95 % limits are as wide as those of the tables."""
    known = assessment.traits.known
    return {
        key: (known[key].value, (known[key].high95 - known[key].low95) / 2 / NORMAL_95)
        for key in ANGLES_SHOWN
        if key in known
    }


def _standard(assessment: Assessment) -> Picture:
    scene = against_standard(assessment)
    caption = (
        "Each line is one figure on its own scale. The band is what is asked; the capped line is "
        "where the true value lies with 95 % probability."
        if assessment.standard
        else "Each bar is where the true value lies with 95 % probability."
    )
    heading = "Against the standard" if assessment.standard else "Proportions and angles"
    return Picture("against_standard", heading, caption, replace(scene, background="white"))


def write_pictures(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write every picture as PNG and SVG into a folder; return the files."""
    return save_pictures(pictures(assessment), folder)


def save_pictures(drawn: Sequence[Picture], folder: Path) -> tuple[Path, ...]:
    """Write pictures as PNG and SVG into a folder; return the files."""
    from kit.drawing.canvas import save  # slow to load, and HTML does without it

    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for picture in drawn:
        vector = folder / f"{picture.name}.svg"
        vector.write_text(to_svg(picture.scene), encoding="utf-8")
        written += [save(picture.scene, folder / f"{picture.name}.png", dpi=DPI), vector]
    return tuple(written)
