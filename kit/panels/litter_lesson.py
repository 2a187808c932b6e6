"""The demo litter as it was known on any day, for the notebook that follows it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import lru_cache

from kit.drawing.growth_litter import first_weeks, litter_curves
from kit.drawing.growth_proportions import proportions_with_age
from kit.drawing.growth_ranking import ranking
from kit.drawing.scene import Scene
from kit.growth.alerts import in_the_past, quiet
from kit.growth.litter_files import LitterFile, read_litter
from kit.growth.puppies import Puppy, growth_record
from kit.growth.ranking import listed
from kit.growth.study import Known, LitterStudy, study_litter
from kit.panels.lessons.page import Shown, sentence
from kit.protocol.catalogue import catalogue
from kit.protocol.shipped import shipped
from kit.reports.growth_content import title_of
from kit.standards.standard import load_standard

DEMO = "demo_litter.csv"
STANDARD = "common-practice-terrier"
LAST_DAY = 182


@lru_cache(maxsize=1)
def _file() -> LitterFile:
    return read_litter(shipped("data", DEMO), catalogue())


@lru_cache(maxsize=64)
def demo_litter(day: int = LAST_DAY, measurement: str = "") -> LitterStudy:
    """Return the demo litter as far as it was known on this day of its life.

    Parameters
    ----------
    measurement : str
        Work out this measurement alone; empty for all.
    """
    file = _file()
    puppies = [_as_known(puppy, day) for puppy in file.puppies]
    born = {puppy.name: puppy.born for puppy in puppies}
    known = [
        reading
        for reading in file.readings
        if (date.fromisoformat(reading.time[:10]) - born[reading.dog]).days <= day
        and measurement in ("", reading.measurement)
    ]
    record = growth_record(known, puppies, catalogue())
    return study_litter(record, catalogue(), Known(standard=load_standard(STANDARD)))


def _as_known(puppy: Puppy, day: int) -> Puppy:
    """Return a puppy as it was known on a day: nobody knew yet that it would die."""
    if puppy.died is None or puppy.age_on(puppy.died) <= day:
        return puppy
    return replace(puppy, died=None)


def by_age(measurement: str, day: float) -> list[Shown]:
    """Draw one measurement of the litter as it was known on this day, and say what was not."""
    study = demo_litter(int(day), measurement)
    measured = {one.measurement: one for one in study.measurements}
    if measurement not in measured:
        return [sentence("Not measured yet on that day.")]
    one = measured[measurement]
    shown: list[Shown] = [litter_curves(one, study.record.puppies)]
    said: dict[str, list[str]] = {}
    for name, why in one.refused.items():
        said.setdefault(why, []).append(name)
    return [*shown, *(sentence(f"{listed(names)}: {why}.") for why, names in said.items())]


def days_of_life(day: float) -> list[Shown]:
    """Draw the first weeks as known on this day, with what had to be looked at again."""
    study = demo_litter(int(day), "weight")
    weight = study.measurement("weight")
    told = [alert.text for alert in study.alerts_now] or [quiet(study.record)]
    told += [in_the_past(alert) for alert in study.alerts_earlier]
    scene = first_weeks(weight, study.record.puppies, study.alerts)
    return [scene, *(sentence(text) for text in told)]


def in_order(measurement: str, day: float) -> Scene | str:
    """Draw the litter in order of its grown size where that is known, else of its size then."""
    one = demo_litter(int(day), measurement).measurement(measurement)
    places, when = (one.grown, "grown") if one.grown else (one.now, f"on day {one.now_age}")
    note = "A hollow mark: cannot be told apart from a neighbour with 95 % probability."
    return ranking(places, one.kind, f"{title_of(measurement)} {when}, in order", note)


def with_age() -> Scene:
    """Draw the litter's proportions, the grown dog's range faded in."""
    study = demo_litter()
    return proportions_with_age(study.proportions, study.adult_ranges)
