"""Litters as the JSON document of `conformation growth --json`."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from kit.growth.fitted import Fit
from kit.growth.proportions import ADULT_ONLY, OFFICIAL_HEIGHTS
from kit.growth.puppies import Puppy
from kit.growth.ranking import Place
from kit.growth.study import LEVEL, LitterStudy, MeasurementStudy
from kit.protocol.reading_files import RowProblem

Json = dict[str, Any]


def litter_json(name: str, study: LitterStudy) -> Json:
    """Return one litter."""
    return {
        "litter": name,
        "puppies": [_puppy(puppy) for puppy in study.record.puppies.values()],
        "measurements": [_measurement(one) for one in study.measurements],
        "alerts": [
            {"dog": a.dog, "age": a.age, "kind": a.kind, "message": a.text} for a in study.alerts
        ],
        "proportions": [
            {"dog": p.dog, "age": p.age, "trait": p.trait, "value": p.value, "low95": p.low,
             "high95": p.high}
            for p in study.proportions
        ],
        "notes": [ADULT_ONLY, OFFICIAL_HEIGHTS],
        "problems": [
            {"dog": d.dog, "about": d.measurement, "message": d.message}
            for d in study.record.doubts
        ],
    }  # fmt: skip


def problem_json(problem: RowProblem) -> Json:
    """Return one row that could not be used."""
    return {"file": problem.file, "row": problem.row, "column": problem.column,
            "message": str(problem)}  # fmt: skip


def _puppy(puppy: Puppy) -> Json:
    died = None if puppy.died is None else str(puppy.died)
    return {"dog": puppy.name, "born": str(puppy.born), "sex": puppy.sex, "mark": puppy.mark,
            "died": died}  # fmt: skip


def _measurement(one: MeasurementStudy) -> Json:
    fits = one.fit.fits if one.fit else {}
    return {
        "measurement": one.measurement,
        "unit": one.kind.unit,
        "reason": one.reason,
        "remark": one.remark,
        "dogs": [
            {
                "dog": dog,
                "ages": list(series.ages),
                "values": list(series.values),
                "curve": _curve(fits[dog]) if dog in fits else None,
                "adult": _adult(one, dog),
            }
            for dog, series in one.series.items()
        ],
        "order": {"age": one.now_age, "places": _places(one.now)},
        "order_grown": _places(one.grown),
    }


def _curve(fit: Fit) -> Json:
    return {"model": fit.curve.key, "parameters": dict(fit.parameters),
            "u": dict(fit.standard_errors), "dof": fit.dof}  # fmt: skip


def _adult(one: MeasurementStudy, dog: str) -> Json:
    known = one.adult.get(dog)
    if known is None:
        return {"predicted": False, "reason": one.refused.get(dog, one.reason)}
    return {"predicted": True, "value": known.value, "low": known.low, "high": known.high,
            "level": LEVEL}  # fmt: skip


def _places(places: Iterable[Place]) -> list[Json]:
    return [
        {"dog": p.name, "value": p.value, "place": p.place, "best": p.best, "worst": p.worst,
         "cannot_be_told_apart_from": list(p.like)}
        for p in places
    ]  # fmt: skip
