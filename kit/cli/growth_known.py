"""What `conformation growth` learns from other files: grown litters, and a club's centiles."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import numpy as np

from kit.growth.error_models import error_model
from kit.growth.errors import NotSupportedError
from kit.growth.learning import learn
from kit.growth.litter_files import LitterFile, read_litter
from kit.growth.lms import Centiles
from kit.growth.lms_fitting import fit_lms
from kit.growth.members import Member, member
from kit.growth.puppies import Point, Puppy, growth_record
from kit.growth.shared import Shared
from kit.growth.spreads import usual_of
from kit.growth.study import FROM_DAYS
from kit.protocol.catalogue import catalogue
from kit.quantities.kinds import Kind


def litter_name(puppy: Puppy) -> str:
    """Return the litter's own name, or its whelping date."""
    return puppy.litter or f"Litter of {puppy.born}"


def by_whelping(puppies: Sequence[Puppy]) -> dict[str, list[Puppy]]:
    """Group puppies by whelping date; a litter is called by its name if any puppy carries it."""
    by_date: dict[date, list[Puppy]] = {}
    for puppy in puppies:
        by_date.setdefault(puppy.born, []).append(puppy)
    litters: dict[str, list[Puppy]] = {}
    for group in by_date.values():
        names = {puppy.litter for puppy in group if puppy.litter}
        for puppy in group:
            name = next(iter(names)) if len(names) == 1 else litter_name(puppy)
            litters.setdefault(name, []).append(puppy)
    return litters


def learned(options: argparse.Namespace) -> dict[str, Shared]:
    """Learn from grown litters, measurement by measurement, where there are enough of them."""
    if not options.grown:
        return {}
    file = read_litter(Path(options.grown), catalogue())
    shared = {}
    for key in {reading.measurement for reading in file.readings}:
        kind = catalogue().measurement(key).kind
        if kind not in (Kind.MASS, Kind.LENGTH):
            continue
        try:
            shared[key] = learn(options.model, _members(file, key), error_model(kind),
                                Path(options.grown).name, usual_of(kind))  # fmt: skip
        except NotSupportedError as fault:
            _say(f"{key}: {fault}")
    return shared


def _members(file: LitterFile, key: str) -> list[list[Member]]:
    groups = []
    for puppies in by_whelping(file.puppies).values():
        names = {puppy.name for puppy in puppies}
        own = [reading for reading in file.readings if reading.dog in names]
        series = growth_record(own, puppies, catalogue()).of(key)
        groups.append([_grown(series[p.name].points, p) for p in puppies if p.name in series])
    return groups


def _grown(points: Sequence[Point], puppy: Puppy) -> Member:
    rows = [(p.age, p.value) for p in points if p.age >= FROM_DAYS]
    return member(puppy.name, [row[0] for row in rows], [row[1] for row in rows], puppy.sex)


def club_centiles(options: argparse.Namespace) -> dict[str, Centiles]:
    """Fit centiles of weight to a club's own readings, sex by sex; who is too few is told."""
    if not options.centiles:
        return {}
    path = Path(options.centiles)
    file = read_litter(path, catalogue())
    record = growth_record(file.readings, file.puppies, catalogue())
    found = {}
    for sex in sorted({puppy.sex for puppy in file.puppies}):
        rows = [(point.age, point.value, dog) for dog, series in record.of("weight").items()
                if record.puppies[dog].sex == sex for point in series.points]  # fmt: skip
        title = f"Weight, {sex or 'both sexes'}: the club’s own centiles"
        source = f"{len(rows)} readings of {len({row[2] for row in rows})} dogs, {path.name}"
        try:
            found[sex] = fit_lms(np.array([row[0] for row in rows], float),
                                 np.array([row[1] for row in rows]),
                                 np.array([row[2] for row in rows]), title, source)  # fmt: skip
        except NotSupportedError as fault:
            _say(f"{title}: {fault}")
    return found


def _say(text: str) -> None:
    print(text, file=sys.stderr)  # noqa: T201
