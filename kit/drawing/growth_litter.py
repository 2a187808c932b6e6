"""A litter in small panels: one puppy one panel, all on the same axes."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from kit.drawing.growth_axes import Axes, grid, polyline, ribbon
from kit.drawing.lettering import broken, width_of
from kit.drawing.scene import Circle, Group, Line, Primitive, Scene, Style, Text
from kit.growth.alerts import WATCHED_DAYS, Alert
from kit.growth.puppies import Puppy, Series
from kit.growth.round import worn
from kit.growth.study import FROM_DAYS, LEVEL, MeasurementStudy
from kit.protocol.catalogue import catalogue
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind

WIDTH, EDGE = 1200.0, 28.0
PANEL_HEIGHT, HEAD, FOOT = 224.0, 92.0, 34.0  # px: plotting area, above the first, below each
TITLE, GAP, LABELS, ADULT = 48.0, 30.0, 52.0, 46.0
ROOM = 1.06  # part of the largest size at the top of the axis
SIBLING = Style(stroke="faint_line", width=1.1, opacity=0.75)
BAND = Style("band")
OWN = Style(stroke="inside", width=2.4)
AHEAD = Style(stroke="inside", width=1.8, dash=(5.0, 4.0))
POINT = Style("white", "text", 1.5)
EARLY = Style("quiet_text")
ASIDE = Style(stroke="outside", width=1.6)
FALL = Style(stroke="accent", width=2.2)
SAMPLES = 90
DAILY = 2  # days between weighings that still tell a fall from day to day
SELDOM = "weighed too seldom to see a fall"


@dataclass(frozen=True)
class _Sheet:
    """What all panels of one picture share."""

    study: MeasurementStudy
    puppies: Mapping[str, Puppy]
    ages: tuple[float, float]
    sizes: tuple[float, float]
    alerts: Sequence[Alert]


def litter_curves(study: MeasurementStudy, puppies: Mapping[str, Puppy]) -> Scene:
    """Draw each puppy's readings, its curve with a 90 % band, and where its adult size lies."""
    sheet = _Sheet(study, puppies, (0.0, _last_age(study)), (0.0, _largest(study)), ())
    title = catalogue().measurement(study.measurement).title
    living = [name for name in study.series if puppies[name].died is None]
    head = _capital(title)
    if len(living) > 1:
        head += ", one panel a puppy, all on the same axes"
    note = _note(study, siblings=len(study.series) > 1)
    return _scene(sheet, head, note, "Age in weeks", living)


def _note(study: MeasurementStudy, *, siblings: bool) -> str:
    if study.fit is None:
        grey = "; grey lines the siblings" if siblings else ""
        return f"Dots are readings{grey}. {_capital(study.reason)}."
    borrowed = " Both borrow from the siblings (grey)." if siblings else ""
    return (
        "Dots are readings. The line is the puppy’s own curve; its band and the bar of the adult "
        f"size hold the truth with 90 % probability.{borrowed}"
    )


def first_weeks(
    study: MeasurementStudy, puppies: Mapping[str, Puppy], alerts: Sequence[Alert]
) -> Scene:
    """Draw the weights of the first three weeks, every fall marked."""
    study = replace(study, series=_until(study.series, FROM_DAYS))
    largest = max(value for series in study.series.values() for value in series.values)
    sheet = _Sheet(study, puppies, (0.0, float(FROM_DAYS)), (0.0, largest * ROOM), alerts)
    note = (
        "A weight below the one before it in the first two weeks is drawn in red with a ring: "
        "weigh again, then call your vet."
    ) + (" Grey lines are the littermates." if len(study.series) > 1 else "")
    return _scene(
        sheet, "The first three weeks, day by day", note, "Age in days", list(study.series)
    )


def _until(series: Mapping[str, Series], last: int) -> dict[str, Series]:
    """Return each series up to an age; those that begin later are left out."""
    cut = {
        name: replace(one, points=tuple(point for point in one.points if point.age <= last))
        for name, one in series.items()
    }
    return {name: one for name, one in cut.items() if one.points}


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _last_age(study: MeasurementStudy) -> float:
    last = max(age for series in study.series.values() for age in series.ages)
    if study.fit is None:
        return last * 1.02 + 1.0
    return max(last * 1.02, last + 7.0)


def _largest(study: MeasurementStudy) -> float:
    sizes = [value for series in study.series.values() for value in series.values]
    sizes += [one.high for one in study.adult.values()]
    return max(sizes) * ROOM


def _scene(sheet: _Sheet, title: str, note: str, below: str, names: Sequence[str]) -> Scene:
    columns = columns_for(len(names))
    rows = math.ceil(len(names) / columns)
    tall = TITLE + PANEL_HEIGHT + FOOT + GAP
    lines = broken(note, 13, WIDTH - 2 * EDGE)
    top = HEAD + 16.0 * (len(lines) - 1)
    parts: list[Primitive] = [Text((EDGE, 38), title, 24, weight="bold")]
    parts += [Text((EDGE, 62 + 17 * at), line, 13, "quiet_text") for at, line in enumerate(lines)]
    for at, name in enumerate(names):
        column, row = at % columns, at // columns
        parts += _panel(sheet, name, _axes(sheet, column, columns, top + row * tall), below)
    height = top + rows * tall - GAP + 14
    said = "; ".join(_said(sheet, name) for name in names)
    return Scene(WIDTH, height, tuple(parts), title, said, "white")


def columns_for(count: int) -> int:
    """Return how many panels stand side by side: few rows, none nearly empty."""
    if count < 3:
        return 2
    return 4 if count in (4, 7, 8) or count > 9 else 3


def _axes(sheet: _Sheet, column: int, columns: int, top: float) -> Axes:
    each = (WIDTH - 2 * EDGE + GAP) / columns
    left = EDGE + column * each + LABELS
    width = each - GAP - LABELS - (ADULT if sheet.study.adult and not sheet.alerts else 0.0)
    return Axes(left, top + TITLE, width, PANEL_HEIGHT, sheet.ages, sheet.sizes)


def _panel(sheet: _Sheet, name: str, axes: Axes, below: str) -> Iterator[Primitive]:
    series = sheet.study.series[name]
    yield from _title(sheet, name, axes)
    yield from grid(axes, sheet.study.kind, about=5)
    yield Text((axes.right, axes.bottom + 31), below, 11, "quiet_text", "end")
    inside: list[Primitive] = []
    for other, one in sheet.study.series.items():
        if other != name and len(one.points) > 1:
            inside.append(polyline(axes, one.ages, one.values, SIBLING))
    if not sheet.alerts and sheet.ages[1] > FROM_DAYS:
        inside += _curve(sheet, name, axes)
    yield Group(tuple(inside), axes.box)
    yield from _readings(sheet, series, axes)
    yield from _adult(sheet, name, axes)


def _title(sheet: _Sheet, name: str, axes: Axes) -> Iterator[Primitive]:
    puppy = sheet.puppies[name]
    left = axes.left - LABELS + 8
    y = axes.top - 28
    yield Text((left, y), name, 16, weight="bold")
    about = ", ".join(filter(None, (puppy.sex, worn(puppy.mark))))
    yield Text((left + width_of(name, 16, "bold") + 10, y), about, 12.5, "quiet_text")
    yield Text((left, y + 17), _state(sheet, puppy), 12.5, "text")


def _state(sheet: _Sheet, puppy: Puppy) -> str:
    """Return the line under the name: what is known of this puppy here."""
    study = sheet.study
    if puppy.died is not None:
        return f"died on day {puppy.age_on(puppy.died)}; its record ends there"
    if sheet.alerts or sheet.ages[1] <= FROM_DAYS:
        seen = [alert for alert in sheet.alerts if alert.dog == puppy.name]
        days = ", ".join(str(alert.age) for alert in seen if alert.kind == "fall")
        if days:
            return f"weight fell on day {days}: weigh again"
        ages = [age for age in study.series[puppy.name].ages if age <= WATCHED_DAYS]
        steps = [later - before for before, later in pairwise(ages)]
        return "no fall from day to day" if steps and max(steps) <= DAILY else SELDOM
    if puppy.name in study.adult:
        return f"adult {interval_text(study, puppy.name)} (90 %)"
    return "adult size not predicted: see below" if study.fit else "no curve yet"


def interval_text(study: MeasurementStudy, name: str) -> str:
    """Write the 90 % interval of one puppy's adult size."""
    one = study.adult[name]
    decimals = 1
    low, high = number(one.low, decimals), number(one.high, decimals)
    return f"{low} to {high}{SUFFIX[study.kind]}"


def _curve(sheet: _Sheet, name: str, axes: Axes) -> Iterator[Primitive]:
    fit = sheet.study.fit
    if fit is None or name not in fit.fits:
        return
    own = fit.fits[name]
    if own.age.size == 0:
        return
    first, last = float(FROM_DAYS), float(own.age.max())
    until = max(series.ages[-1] for series in sheet.study.series.values())
    days = np.linspace(first, until, SAMPLES)
    band = own.band(days, LEVEL)
    ages = days.tolist()
    yield ribbon(axes, ages, band.low.tolist(), band.high.tolist(), BAND)
    measured = days <= last
    yield polyline(axes, days[measured].tolist(), band.value[measured].tolist(), OWN)
    if not measured.all():
        ahead = ~measured | np.roll(~measured, -1)
        yield polyline(axes, days[ahead].tolist(), band.value[ahead].tolist(), AHEAD)


def _readings(sheet: _Sheet, series: Series, axes: Axes) -> Iterator[Primitive]:
    early = sheet.ages[1] > FROM_DAYS
    fallen = {alert.age for alert in sheet.alerts
              if alert.dog == series.dog and alert.kind == "fall"}  # fmt: skip
    if sheet.alerts or sheet.ages[1] <= FROM_DAYS:
        yield polyline(axes, series.ages, series.values, Style(stroke="text", width=1.6))
    for before, now in zip(series.points, series.points[1:], strict=False):
        if now.age in fallen:
            yield Line(axes.at(before.age, before.value), axes.at(now.age, now.value), FALL)
    for point in series.points:
        # Those before the curve begins stand close together: small, so that they stay apart.
        small = early and point.age < FROM_DAYS
        centre = axes.at(point.age, point.value)
        yield Circle(centre, 1.6 if small else 3.4, EARLY if small else POINT)
        if point.age in fallen:
            yield Circle(centre, 8.0, FALL)
    for point in series.aside:
        yield from _cross(axes, point.age, min(max(point.value, axes.sizes[0]), axes.sizes[1]))


def _cross(axes: Axes, age: float, size: float) -> Iterator[Primitive]:
    """Draw a reading that was set aside."""
    x, y = axes.at(age, size)
    y = min(y, axes.bottom - 5)
    for way in (-4.0, 4.0):
        yield Line((x - 4.0, y - way), (x + 4.0, y + way), ASIDE)


def _adult(sheet: _Sheet, name: str, axes: Axes) -> Iterator[Primitive]:
    """Draw the adult interval as a capped bar beside the panel."""
    one = sheet.study.adult.get(name)
    if one is None or sheet.alerts or sheet.ages[1] <= FROM_DAYS:
        return
    x = axes.right + 22
    low, high, middle = axes.y(one.low), axes.y(one.high), axes.y(one.value)
    thin = Style(stroke="inside", width=1.8)
    yield Line((x, axes.bottom), (x, axes.top), Style(stroke="hairline", width=1.0))
    yield Line((x, low), (x, high), Style(stroke="inside", width=7.0))
    for y in (low, high):
        yield Line((x - 6, y), (x + 6, y), thin)
    yield Circle((x, middle), 3.4, Style("white", "inside", 1.6))
    yield Text((x, axes.bottom + 17), "adult", 11, "quiet_text", "middle")


def _said(sheet: _Sheet, name: str) -> str:
    series = sheet.study.series[name]
    last = series.points[-1]
    unit = SUFFIX[sheet.study.kind]
    decimals = 2 if sheet.study.kind is Kind.MASS else 1
    return (
        f"{name}: {number(last.value, decimals)}{unit} on day {last.age}; "
        f"{_state(sheet, sheet.puppies[name])}"
    )
