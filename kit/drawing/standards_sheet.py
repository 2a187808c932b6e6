"""Every standard's target on one sheet: what the written words look like beside each other."""

from __future__ import annotations

from collections.abc import Sequence

from kit.drawing.pairs import Named, side_by_side
from kit.drawing.scene import Scene
from kit.standards.standard import Standard, load_standard, shipped_standards
from kit.standards.target import OWN_HEIGHT, own_height, target_figure


def standards_sheet(
    standards: Sequence[Standard] = (),
    *,
    sex: str = "dog",
    height: float | None = None,
    per_row: int = 5,
    bones: bool = False,
    width: float = 1600.0,
) -> Scene:
    """Draw the dogs that standards describe, side by side on one scale.

    Parameters
    ----------
    standards : sequence of Standard
        All that ship with the kit where none is given.
    sex : str
        ``dog`` or ``bitch``.
    height : float, optional
        At the withers in cm, for all alike; each standard's own height where it is not given.
    per_row : int
    bones : bool
    width : float
        In px.

    Returns
    -------
    Scene
    """
    chosen = standards or tuple(load_standard(name) for name in shipped_standards())
    dogs = [_named(one, height, sex) for one in chosen]
    title = "What the standards describe (dashed: what they do not say, a neutral dog's)"
    return side_by_side(dogs, per_row=per_row, bones=bones, title=title, width=width)


def _named(standard: Standard, height: float | None, sex: str) -> Named:
    printed = own_height(standard, sex, 0.0)
    note = "" if height or printed else "none is printed"
    tall = height or printed or OWN_HEIGHT
    return Named(standard.title, target_figure(standard, tall, sex), note)
