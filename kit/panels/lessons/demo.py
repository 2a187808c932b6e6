"""The demo dogs, assessed."""

from __future__ import annotations

from functools import cache

from kit.figure.model import Figure
from kit.figure.placement import place
from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import by_dog, read_csv
from kit.protocol.readings import Reading
from kit.protocol.shipped import shipped
from kit.standards.assessment import Assessment, assess
from kit.standards.findings import Scope
from kit.standards.standard import Standard

DEMO = "demo_readings.csv"
SEXES = {"Alder": "dog", "Bryony": "bitch", "Cob": "dog", "Dunnock": "dog", "Elsin": "bitch",
         "Fennel": "bitch"}  # fmt: skip


def demo_dogs(standard: Standard | None = None) -> dict[str, Assessment]:
    """Return every demo dog, assessed, by name."""
    return {
        dog: assess(readings, catalogue(), standard, Scope(SEXES.get(dog, "")))
        for dog, readings in _readings().items()
    }


def demo_dog(name: str, standard: Standard | None = None) -> Assessment:
    """Return one demo dog, assessed."""
    return assess(_readings()[name], catalogue(), standard, Scope(SEXES.get(name, "")))


@cache
def _readings() -> dict[str, tuple[Reading, ...]]:
    return dict(by_dog(read_csv(shipped("data", DEMO), catalogue()).readings))


def figure_of(assessment: Assessment) -> Figure:
    """Place the landmarks of one dog, the left side where there are two."""
    chosen: dict[str, float] = {}
    for (key, side), estimate in assessment.estimates.items():
        if key not in chosen or side == "left":
            chosen[key] = estimate.value
    return place(chosen)
