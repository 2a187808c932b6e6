"""A whole litter worked out: curves, adult sizes or why not, order, alerts, proportions."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from kit.growth.adult import AdultSize, adult_size, widest_of
from kit.growth.alerts import Alert, alerts
from kit.growth.curves import to_working, working_slopes
from kit.growth.error_models import error_model
from kit.growth.errors import NotSupportedError
from kit.growth.fitted import LitterFit
from kit.growth.fitting import Compared, compare
from kit.growth.lms import Centiles
from kit.growth.members import Member
from kit.growth.pooling import fit_litter
from kit.growth.proportions import (
    AdultRange,
    ProportionPoint,
    adult_ranges,
    estimates_by_day,
    proportions,
)
from kit.growth.puppies import GrowthRecord, Puppy, Series
from kit.growth.ranking import Place, rank
from kit.growth.shared import Shared
from kit.growth.spreads import usual_of
from kit.protocol.catalogue import Catalogue
from kit.quantities.kinds import Kind
from kit.standards.standard import Standard

# A suckling grows by its mother's milk; one curve does not serve both sides of weaning.
FROM_DAYS = 21
# The Richards curve holds the others as shapes, and its shape is learned with the rest: a litter
# that is said to grow by one fixed curve would be predicted with far too much confidence.
MODEL = "richards"
FIXED = ("gompertz", "logistic", "von_bertalanffy")
REMARKED = ("weight", "height_at_withers")  # comparing curves takes its time
ENOUGH_TO_COMPARE = 6  # days of one puppy
CLEARLY_BEHIND = 10.0  # AICc over the whole litter (Burnham and Anderson 2002, from memory)
LEVEL = 0.90
STALE_AFTER = 7  # days; an older alert has been acted on or come to nothing


@dataclass(frozen=True, eq=False)
class MeasurementStudy:
    """One measurement of the litter.

    Attributes
    ----------
    series : mapping of dog to Series
        Of every puppy measured, those that died too.
    fit : LitterFit or None
        None where the readings bear no curve; `reason` says why.
    adult : mapping of dog to AdultSize
    refused : mapping of dog to str
        Why a puppy's adult size is not given, and what would help.
    now : tuple of Place
        In order of size at `now_age` days.
    grown : tuple of Place
        In order of adult size; empty unless it is given for two puppies or more.
    remark : str
        What a reader should know of the curve; may be empty.
    """

    measurement: str
    kind: Kind
    series: Mapping[str, Series]
    fit: LitterFit | None
    reason: str
    adult: Mapping[str, AdultSize]
    refused: Mapping[str, str]
    now: tuple[Place, ...]
    now_age: int
    grown: tuple[Place, ...]
    remark: str = ""


@dataclass(frozen=True, eq=False)
class LitterStudy:
    """Everything worked out for one litter."""

    record: GrowthRecord
    measurements: tuple[MeasurementStudy, ...]
    alerts: tuple[Alert, ...]
    proportions: tuple[ProportionPoint, ...]
    adult_ranges: Mapping[str, AdultRange]
    standard: Standard | None
    centiles: Mapping[str, Centiles] = field(default_factory=dict)

    @property
    def latest(self) -> int:
        """The age in days at which the litter was last measured."""
        return max((age for _, age in self.record.readings), default=0)

    @property
    def alerts_now(self) -> tuple[Alert, ...]:
        """Alerts of the last week of measuring, of puppies that live."""
        living = {puppy.name for puppy in self.record.living}
        return tuple(
            a for a in self.alerts if a.dog in living and a.age >= self.latest - STALE_AFTER
        )

    @property
    def alerts_earlier(self) -> tuple[Alert, ...]:
        """All other alerts: what was seen then."""
        now = set(self.alerts_now)
        return tuple(alert for alert in self.alerts if alert not in now)

    def measurement(self, key: str) -> MeasurementStudy:
        """Return one measurement's study; KeyError if it was not measured."""
        return {study.measurement: study for study in self.measurements}[key]


@dataclass(frozen=True, eq=False)
class Known:
    """What is known besides the litter's readings, all of it optional.

    Attributes
    ----------
    shared : mapping of measurement to Shared
        What grown litters taught.
    centiles : mapping of sex to Centiles
        The club's reference of weight.
    """

    model: str = MODEL
    standard: Standard | None = None
    shared: Mapping[str, Shared] = field(default_factory=dict)
    centiles: Mapping[str, Centiles] = field(default_factory=dict)


def study_litter(
    record: GrowthRecord, catalogue: Catalogue, known: Known | None = None
) -> LitterStudy:
    """Work out a litter; what the readings do not bear is said, not guessed."""
    known = known or Known()
    by_day = estimates_by_day(record, catalogue)
    measured = {key for _, key, _ in record.series}
    order = [key for key in catalogue.measurements if key in measured]
    studies = [_study(record, key, catalogue.measurement(key).kind, known) for key in order]
    return LitterStudy(
        record=record,
        measurements=tuple(studies),
        alerts=alerts(record, known.centiles, by_day),
        proportions=proportions(by_day),
        adult_ranges=adult_ranges(known.standard) if known.standard else {},
        standard=known.standard,
        centiles=known.centiles,
    )


def _study(record: GrowthRecord, key: str, kind: Kind, known: Known) -> MeasurementStudy:
    series = record.of(key)
    members = [_member(puppy, series.get(puppy.name)) for puppy in record.living]
    shared = known.shared.get(key)
    fit, reason = _fitted(members, kind, known.model, shared)
    adult: dict[str, AdultSize] = {}
    refused: dict[str, str] = {}
    for name, one in fit.fits.items() if fit else ():
        try:
            adult[name] = adult_size(one, widest=widest_of(kind))
        except NotSupportedError as fault:
            refused[name] = f"{fault.what}; {fault.do}"
    now_age, now = _now(series, record.living, fit, kind)
    return MeasurementStudy(
        measurement=key, kind=kind, series=MappingProxyType(series), fit=fit, reason=reason,
        adult=MappingProxyType(adult), refused=MappingProxyType(refused),
        now=now, now_age=now_age, grown=_grown(fit, adult) if fit else (),
        remark=_remark(members, kind, known.model) if key in REMARKED else "",
    )  # fmt: skip


def _member(puppy: Puppy, series: Series | None) -> Member:
    points = [point for point in series.points if point.age >= FROM_DAYS] if series else []
    ages = np.array([point.age for point in points], dtype=np.float64)
    return Member(puppy.name, ages, np.array([point.value for point in points]), puppy.sex)


def _fitted(
    members: Sequence[Member], kind: Kind, model: str, shared: Shared | None
) -> tuple[LitterFit | None, str]:
    if kind not in (Kind.MASS, Kind.LENGTH):
        return None, "growth curves are of weights and lengths"
    most = max((np.unique(one.age).size for one in members), default=0)
    if most < 4 and shared is None:
        seen = f"was measured on more than {most} days" if most else "was measured"
        return None, (
            f"no curve yet: no puppy {seen} from day {FROM_DAYS} on; four days are needed, weekly "
            "will do"
        )
    try:
        family = shared.curve if shared is not None else model
        return fit_litter(family, members, error_model(kind), shared, usual_of(kind)), ""
    except NotSupportedError as fault:
        return None, str(fault)


def _now(
    series: Mapping[str, Series], living: Sequence[Puppy], fit: LitterFit | None, kind: Kind
) -> tuple[int, tuple[Place, ...]]:
    """Rank by the curves at the latest age, or by the readings of the latest common day."""
    names = [puppy.name for puppy in living if puppy.name in series]
    ages = [set(series[name].ages) for name in names]
    if not any(ages):
        return 0, ()
    latest = max(max(days) for days in ages if days)
    if fit is not None and latest >= FROM_DAYS:
        return latest, _ranked_at(fit, names, latest)
    common = sorted(set.intersection(*ages)) or [latest]
    return common[-1], _ranked_readings(series, names, common[-1], kind)


def _ranked_at(fit: LitterFit, names: Sequence[str], age: int) -> tuple[Place, ...]:
    days = np.array([float(age)])
    rows, values = [], {}
    size = len(fit.curve.parameters)
    for place, (name, one) in enumerate(fit.fits.items()):
        if name not in names:
            continue
        band = one.band(days, LEVEL)
        values[name] = (float(band.value[0]), float(band.low[0]), float(band.high[0]))
        slopes = working_slopes(fit.curve, days, _working(fit, place))[0] / values[name][0]
        row = np.zeros(size * len(fit.fits))
        row[place * size : (place + 1) * size] = slopes
        rows.append(row)
    jacobian = np.array(rows)
    return rank(values, jacobian @ fit.covariance @ jacobian.T)


def _working(fit: LitterFit, place: int) -> NDArray[np.float64]:
    return to_working(fit.curve, list(fit.fits.values())[place].estimates)


def _ranked_readings(
    series: Mapping[str, Series], names: Sequence[str], age: int, kind: Kind
) -> tuple[Place, ...]:
    error = error_model(kind)
    values, variances = {}, []
    for name in names:
        for point in series[name].points:
            if point.age == age and point.value > 0:
                relative = float(error.deviation(point.value)) / point.value
                reach = math.exp(1.645 * relative)
                values[name] = (point.value, point.value / reach, point.value * reach)
                variances.append(relative**2)
    return rank(values, np.diag(variances)) if values else ()


def _grown(fit: LitterFit, adult: Mapping[str, AdultSize]) -> tuple[Place, ...]:
    if len(adult) < 2:
        return ()
    size = len(fit.curve.parameters)
    names = list(fit.fits)
    at = [names.index(name) * size for name in adult]
    values = {name: (one.value, one.low, one.high) for name, one in adult.items()}
    return rank(values, fit.covariance[np.ix_(at, at)])


def _remark(members: Sequence[Member], kind: Kind, model: str) -> str:
    """Say so where a curve of fixed shape was asked for and another follows clearly better."""
    if model not in FIXED:
        return ""
    totals = dict.fromkeys(FIXED, 0.0)
    compared = 0
    for one in members:
        if np.unique(one.age).size < ENOUGH_TO_COMPARE or kind not in (Kind.MASS, Kind.LENGTH):
            continue
        rows = {row.model: row for row in _compared(one, kind)}
        if all(math.isfinite(rows[name].behind) for name in FIXED if name in rows) and rows:
            compared += 1
            for name in FIXED:
                totals[name] += rows[name].behind
    best = min(totals, key=lambda name: totals[name])
    if not compared or totals.get(model, 0.0) - totals[best] < CLEARLY_BEHIND:
        return ""
    return (
        f"The {best.replace('_', ' ')} curve follows these readings better than the "
        f"{model.replace('_', ' ')} one (AICc {totals[model] - totals[best]:.0f} lower over the "
        f"litter); compare with --model {best}."
    )


def _compared(one: Member, kind: Kind) -> tuple[Compared, ...]:
    try:
        return compare(one.age, one.value, error_model(kind), FIXED)
    except NotSupportedError:
        return ()
