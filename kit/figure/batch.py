"""Figures of many dogs at once, on every core."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from kit.figure.network import FittedFigure, fit
from kit.figure.snooping import Suspect
from kit.figure.template import Point
from kit.quantities.errors import GeometryError
from kit.traits.inputs import Estimates

CHUNK = 50


@dataclass(frozen=True)
class FigureSummary:
    """What a survey keeps of one dog's figure.

    Attributes
    ----------
    points : tuple of (landmark, position)
        Determined landmarks, in cm.
    deviations : tuple of (landmark, (x, y))
        Standard uncertainties of their coordinates, in cm.
    suspects : tuple of Suspect
    unchecked : tuple of str
    variance_factor : float
        nan without redundancy.
    fault : str
        Why no figure could be fitted; empty where one was.
    """

    points: tuple[tuple[str, Point], ...] = ()
    deviations: tuple[tuple[str, Point], ...] = ()
    suspects: tuple[Suspect, ...] = ()
    unchecked: tuple[str, ...] = ()
    variance_factor: float = float("nan")
    fault: str = ""


def fit_batch(
    dogs: Sequence[Estimates],
    workers: int = 2,
    progress: Callable[[int, int], None] | None = None,
) -> list[FigureSummary]:
    """Fit a figure to each dog's left side; a dog that cannot be fitted carries its fault.

    Parameters
    ----------
    progress : callable, optional
        Called with the dogs done and their total after every chunk.
    """
    chunks = [dogs[start : start + CHUNK] for start in range(0, len(dogs), CHUNK)]
    found: list[FigureSummary] = []
    with ProcessPoolExecutor(workers) as pool:
        for part in pool.map(_fit_some, chunks):
            found += part
            if progress is not None:
                progress(len(found), len(dogs))
    return found


def _fit_some(dogs: Iterable[Estimates]) -> list[FigureSummary]:
    return [_summary(estimates) for estimates in dogs]


def _summary(estimates: Estimates) -> FigureSummary:
    try:
        figure = fit(estimates)
    except GeometryError as fault:
        return FigureSummary(fault=str(fault))
    return FigureSummary(
        tuple(figure.points.items()),
        tuple((name, _deviation(figure, name)) for name in figure.points),
        figure.suspects,
        figure.unchecked,
        figure.adjustment.variance_factor,
    )


def _deviation(figure: FittedFigure, name: str) -> Point:
    block = figure.covariances[name]
    return float(block[0, 0]) ** 0.5, float(block[1, 1]) ** 0.5
