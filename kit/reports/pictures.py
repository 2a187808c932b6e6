"""The pictures of a report, and as files of their own."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from kit.drawing.against_standard import against_standard
from kit.drawing.four_views import four_views
from kit.drawing.scene import Scene
from kit.drawing.side_view import side_view
from kit.drawing.svg import to_svg
from kit.figure.model import Figure
from kit.figure.placement import place
from kit.protocol.catalogue import catalogue
from kit.protocol.plausibility import HEIGHT
from kit.quantities.errors import GeometryError
from kit.standards.assessment import Assessment
from kit.standards.target import drawn_clauses, target_figure

DPI = 192.0
ANGLES_SHOWN = ("shoulder_angle", "elbow_angle", "croup_slope", "hip_angle", "stifle_angle",
                "hock_angle")  # fmt: skip
NORMAL_95 = 1.96  # the side view takes its 95 % limits this many standard uncertainties wide
WORD = re.compile(r"[a-z_]+")


@dataclass(frozen=True)
class Picture:
    """One picture: its file name without ending, heading, what it shows, and the scene."""

    name: str
    heading: str
    caption: str
    scene: Scene


def pictures(assessment: Assessment) -> tuple[Picture, ...]:
    """Return the pictures of one dog, in the order a report shows them."""
    side, over = _side(assessment), _over_target(assessment)
    return (*side, *over, _standard(assessment), *_every_side(assessment))


def _side(assessment: Assessment) -> tuple[Picture, ...]:
    try:
        figure, scene = figure_of(assessment), side_of(assessment)
    except GeometryError:
        # The readings place no dog; the doubts of the assessment say which ones.
        return ()
    caption = (
        f"To scale, from {'the other' if figure.set_aside else 'all'} readings fitted together."
        f"{_left_out(figure)} Drawn faint or dashed: not measured, taken from a neutral dog. "
        "Angles with their 95 % limits."
    )
    return (Picture("side_view", "From the side", caption, scene),)


def side_of(assessment: Assessment) -> Scene:
    """Draw the dog from the side.

    Raises
    ------
    GeometryError
        If the readings cannot be placed.
    """
    return side_view(figure_of(assessment), title=assessment.dog, angles=_angles(assessment))


def figure_of(assessment: Assessment) -> Figure:
    """Place the dog by what its fitted figure says, else by its readings as they are.

    Readings that cannot belong together are left out like those that do not fit the others; the
    figure names them in `set_aside`.

    Raises
    ------
    GeometryError
        If the readings cannot be placed.
    """
    chosen: dict[str, float] = {}
    for (key, side), estimate in assessment.estimates.items():
        if key not in chosen or side == "left":
            chosen[key] = estimate.value
    fitted = next(iter(assessment.figures.values()), None)
    apart = _apart(assessment, chosen)
    suspects = set() if fitted is None else {one.key for one in fitted.suspects}
    sound = {key: one for key, one in chosen.items() if key not in suspects and key not in apart}
    if fitted is not None and not apart:
        # A figure bent by readings that cannot belong together says nothing better than a tape.
        sound |= {key: one.value for key, one in fitted.adjusted.items() if key in sound}
    figure = place(sound)
    dropped = [key for key in chosen if key not in sound or key in figure.set_aside]
    return replace(figure, set_aside=tuple(dropped))


def _apart(assessment: Assessment, chosen: Collection[str]) -> set[str]:
    """Return the readings the faults of the traits name; the height that sets the scale stays."""
    words = {word for text in assessment.traits.faults.values() for word in WORD.findall(text)}
    return {key for key in chosen if key in words and key != HEIGHT}


def _left_out(figure: Figure) -> str:
    """Say which readings a picture leaves out; empty where it uses them all."""
    if not figure.set_aside:
        return ""
    titles = [catalogue().measurement(key).title for key in figure.set_aside]
    named = " and ".join(filter(None, (", ".join(titles[:-1]), titles[-1])))
    return (
        f" Left out, because it does not go with the rest: {named}."
        if len(titles) == 1
        else (f" Left out, because they do not go with each other or the rest: {named}.")
    )


def _every_side(assessment: Assessment) -> tuple[Picture, ...]:
    """Draw the dog from side, front, rear and above where any breadth was read."""
    across = catalogue().measurements
    if not any(across[key].direction == "transverse" for key, _ in assessment.estimates):
        return ()
    try:
        figure = figure_of(assessment)
        scene = four_views(figure)
    except GeometryError:
        return ()
    caption = (
        f"One scale throughout.{_left_out(figure)} Dashed: not measured, taken from a neutral dog."
    )
    return (Picture("every_side", "From every side", caption, scene),)


def _over_target(assessment: Assessment) -> tuple[Picture, ...]:
    """Lay what the standard describes over the dog, so that a fault is seen and not read."""
    standard = assessment.standard
    if standard is None or not drawn_clauses(standard, assessment.scope.sex):
        return ()
    try:
        figure = figure_of(assessment)
        target = target_figure(standard, figure.height, assessment.scope.sex)
    except GeometryError:
        return ()
    label = f"{standard.title}, at this dog's height"
    fitted = next(iter(assessment.figures.values()), None)
    scene = side_view(
        figure,
        title=f"{assessment.dog} and what the standard describes",
        show_bones=False,
        ghost=target,
        ghost_label=label,
        ellipses=None if fitted is None else fitted.covariances,
    )
    caption = (
        "The dashed outline is a dog that meets every clause at its target, at this dog's height; "
        "what the standard does not say is a neutral dog's. Ellipses: where each landmark lies "
        f"with 95 % probability, beside the one point that is held.{_left_out(figure)}"
    )
    return (Picture("over_target", "Over what the standard describes", caption, scene),)


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
