"""What a litter sheet says, before it is laid out as HTML or PDF."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from kit import __version__
from kit.drawing.growth_centiles import centile_chart
from kit.drawing.growth_litter import first_weeks, interval_text, litter_curves
from kit.drawing.growth_proportions import proportions_with_age
from kit.drawing.growth_ranking import ranking
from kit.growth.alerts import in_the_past, quiet
from kit.growth.proportions import OFFICIAL_HEIGHTS, OFFICIAL_HEIGHTS_SOURCE
from kit.growth.puppies import Puppy
from kit.growth.ranking import in_words, listed
from kit.growth.reference import NO_CENTILES, reference
from kit.growth.round import worn
from kit.growth.study import FROM_DAYS, LitterStudy, MeasurementStudy
from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import RowProblem
from kit.quantities.errors import DataFileError
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind
from kit.quantities.toml_table import read_toml
from kit.reports.pictures import Picture
from kit.reports.welfare import Caution

FILE = Path(__file__).parent / "growth_cautions.toml"
PICTURED = ("weight", "height_at_withers")  # unless others are asked for
A_TABLE = 2  # measurements side by side in one table
NOT_YET = "not yet"


@dataclass(frozen=True)
class PuppyRow:
    """One puppy in the table: who it is, what it measures now, and where it may end."""

    name: str
    about: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class PuppyTable:
    """The litter at a glance; `heads` names the columns after the puppy's own two."""

    heads: tuple[str, ...]
    rows: tuple[PuppyRow, ...]


@dataclass(frozen=True)
class LitterReport:
    """Everything on a litter sheet."""

    title: str
    subtitle: str
    facts: tuple[tuple[str, str], ...]
    caution: str
    alerts: tuple[str, ...]
    quiet: str
    earlier: tuple[str, ...]
    tables: tuple[PuppyTable, ...]
    pictures: tuple[Picture, ...]
    order: tuple[tuple[str, tuple[str, ...]], ...]
    refused: tuple[str, ...]
    remarks: tuple[str, ...]
    heights: tuple[str, ...]
    doubts: tuple[str, ...]
    problems: tuple[str, ...]
    published: tuple[str, ...]
    cautions: tuple[Caution, ...]
    sources: tuple[str, ...]
    footer: str


def litter_report(
    study: LitterStudy,
    name: str,
    readings_file: str = "",
    problems: Iterable[RowProblem] = (),
    shown: Sequence[str] = (),
) -> LitterReport:
    """Put a litter's figures into words, tables and pictures.

    Parameters
    ----------
    shown : sequence of str
        The measurements to show; without any, weight and height at the withers.

    Raises
    ------
    DataFileError
        If a measurement asked for was not taken.
    """
    root = read_toml(FILE)
    puppies = list(study.record.puppies.values())
    studies = measured(study, shown)
    return LitterReport(
        title=name or "The litter",
        subtitle="Growth, puppy by puppy",
        facts=tuple(_facts(study, puppies, readings_file)),
        caution=root.text("short"),
        alerts=tuple(alert.text for alert in study.alerts_now),
        quiet="" if study.alerts_now else quiet(study.record),
        earlier=tuple(in_the_past(alert) for alert in study.alerts_earlier),
        tables=tuple(
            _table(studies[at : at + A_TABLE], puppies) for at in range(0, len(studies), A_TABLE)
        ),
        pictures=tuple(_pictures(study, studies)),
        order=tuple(_order(studies)),
        refused=tuple(_refused(studies)),
        remarks=tuple(one.remark for one in studies if one.remark),
        heights=(OFFICIAL_HEIGHTS, f"Source: {OFFICIAL_HEIGHTS_SOURCE}."),
        doubts=doubts_in_words(study),
        problems=tuple(str(problem) for problem in problems),
        published=tuple(_published(study, studies)),
        cautions=tuple(
            Caution(table.text("title"), table.text("text")) for table in root.array("caution")
        ),
        sources=tuple(table.text("text") for table in root.array("source")),
        footer=f"Litter sheet by conformation-kit {__version__}. Figures are no diagnosis.",
    )


def measured(study: LitterStudy, asked: Sequence[str] = ()) -> tuple[MeasurementStudy, ...]:
    """Return the measurements to show, in the order of the catalogue.

    Raises
    ------
    DataFileError
        If one asked for is unknown or was not taken.
    """
    taken = {one.measurement: one for one in study.measurements}
    for key in asked:
        catalogue().measurement(key)
    missing = [key for key in asked if key not in taken]
    if missing:
        names, known = ", ".join(missing), ", ".join(taken) or "readings"
        raise DataFileError(f"{names} was not measured", known, do="ask for one of these")
    wanted = asked or [key for key in PICTURED if key in taken] or list(taken)
    return tuple(one for key, one in taken.items() if key in wanted)


def doubts_in_words(study: LitterStudy) -> tuple[str, ...]:
    """Return what should be read or looked up again, a sentence each."""
    return tuple(f"{doubt.dog}: {doubt.message}." for doubt in study.record.doubts)


def _facts(
    study: LitterStudy, puppies: Sequence[Puppy], readings_file: str
) -> Iterator[tuple[str, str]]:
    yield "Whelped", ", ".join(sorted({str(puppy.born) for puppy in puppies}))
    lost = len(puppies) - len(study.record.living)
    yield "Puppies", f"{len(study.record.living)}" + (f" ({lost} died)" if lost else "")
    ages = [age for _, age in study.record.readings]
    yield "Measured", f"day {min(ages)} to day {max(ages)}" if ages else "not yet"
    yield "Readings used", str(sum(len(rows) for rows in study.record.readings.values()))
    if readings_file:
        yield "Readings file", readings_file
    if study.standard is not None:
        yield "Faded in", study.standard.title


def title_of(measurement: str) -> str:
    """Return a measurement's title with a capital."""
    title = catalogue().measurement(measurement).title
    return title[:1].upper() + title[1:]


def _table(shown: Sequence[MeasurementStudy], puppies: Sequence[Puppy]) -> PuppyTable:
    heads: list[str] = []
    for one in shown:
        heads += [f"{title_of(one.measurement)}, last read", "on day", "grown, 90 %"]
    rows = tuple(
        PuppyRow(puppy.name, _about(puppy), tuple(c for one in shown for c in _cells(one, puppy)))
        for puppy in puppies
    )
    return PuppyTable(tuple(heads), rows)


def _about(puppy: Puppy) -> str:
    parts = [puppy.sex, worn(puppy.mark)]
    if puppy.died is not None:
        parts.append(f"died on day {puppy.age_on(puppy.died)}")
    return ", ".join(filter(None, parts)) or "–"


def _cells(one: MeasurementStudy, puppy: Puppy) -> tuple[str, str, str]:
    series = one.series.get(puppy.name)
    if series is None or not series.points:
        return "–", "–", "–"
    last = series.points[-1]
    if puppy.died is not None:
        grown = "–"
    else:
        grown = interval_text(one, puppy.name) if puppy.name in one.adult else NOT_YET
    return size_text(last.value, one.kind), str(last.age), grown


def size_text(value: float, kind: Kind) -> str:
    """Write a size as a breeder reads it: grams below a kilogram."""
    if kind is Kind.MASS and value < 1.0:
        return f"{1000.0 * value:.0f} g"
    return f"{number(value, 2 if kind is Kind.MASS else 1)}{SUFFIX[kind]}"


def _pictures(study: LitterStudy, shown: Sequence[MeasurementStudy]) -> Iterator[Picture]:
    puppies = study.record.puppies
    for one in shown:
        title = title_of(one.measurement)
        early = any(s.points and s.ages[0] < FROM_DAYS for s in one.series.values())
        if one.measurement == "weight" and early:
            yield Picture("first_weeks", f"{title}: the first three weeks", _EARLY,
                          first_weeks(one, puppies, study.alerts))  # fmt: skip
        if _living_measured(one, puppies.values()):
            caption = _CURVES if len(one.series) > 1 else _CURVE
            yield Picture(f"{one.measurement}_by_age", f"{title}: by age", caption,
                          litter_curves(one, puppies))  # fmt: skip
        yield from _ranking(one)
    for sex, centiles in study.centiles.items():
        weights = study.record.of("weight").values()
        own = [s for s in weights if not sex or puppies[s.dog].sex == sex]
        yield Picture(f"centiles_{sex or 'all'}", "On the club’s centiles", centiles.source,
                      centile_chart(centiles, own, Kind.MASS))  # fmt: skip
    if study.proportions:
        scene = proportions_with_age(study.proportions, study.adult_ranges)
        faded = " " + _FADED if study.adult_ranges else ""
        yield Picture("proportions", "Proportions", _PROPORTIONS + faded, scene)


_EARLY = "Each weight as read. A cross is a reading set aside until somebody reads it again."
_CURVES = (
    "Same axes in every panel. Dashed: beyond the puppy’s own readings, where it goes by its "
    "siblings. The band is of the curve, not of single readings."
)
_CURVE = (
    "Dashed: beyond the puppy’s own readings. The band is of the curve, not of single readings."
)
_PROPORTIONS = "Ratios of one day’s readings."
_FADED = "The blue field is the range asked of the grown dog."


def _living_measured(one: MeasurementStudy, puppies: Iterable[Puppy]) -> bool:
    living = {puppy.name for puppy in puppies if puppy.died is None}
    return any(name in living and len(series.points) > 1 for name, series in one.series.items())


def _ranking(one: MeasurementStudy) -> Iterator[Picture]:
    places, when = (one.grown, "grown") if one.grown else (one.now, f"on day {one.now_age}")
    if len(places) < 2:
        return
    name = title_of(one.measurement)
    title = f"{name} {when}, in order"
    note = (
        "Bars hold the size with 90 % probability. A hollow mark: cannot be told apart from a "
        "neighbour with 95 % probability."
    )
    scene = ranking(places, one.kind, title, note)
    caption = "Places are given as a range where others may stand there as well."
    yield Picture(f"{one.measurement}_order", f"{name}: in order", caption, scene)


def _order(shown: Sequence[MeasurementStudy]) -> Iterator[tuple[str, tuple[str, ...]]]:
    for one in shown:
        places, when = (one.grown, "grown") if one.grown else (one.now, f"on day {one.now_age}")
        if len(places) > 1:
            yield f"{title_of(one.measurement)} {when}", in_words(places)


def _refused(shown: Sequence[MeasurementStudy]) -> Iterator[str]:
    """Say for each measurement why an adult size is not given and what would help."""
    for one in shown:
        if one.reason:
            yield f"{title_of(one.measurement)}: {one.reason}."
        same: dict[str, list[str]] = {}
        for name, why in one.refused.items():
            same.setdefault(why, []).append(name)
        for why, names in same.items():
            yield f"{title_of(one.measurement)}, {listed(names)}: {why}."


def _published(study: LitterStudy, shown: Sequence[MeasurementStudy]) -> Iterator[str]:
    """Yield the published figures of what is shown, each with its status; all other breeds."""
    known, taken = reference(), {one.measurement for one in shown}
    yield NO_CENTILES if not study.centiles else "The centiles shown are the club’s own."
    for curve in known.curves:
        if curve.measurement in taken:
            title = catalogue().measurement(curve.measurement).title
            yield f"{curve.breed}, {title} ({curve.status}): {curve.note}. {curve.source}."
    for one in known.waypoints:
        if one.measurement in taken:
            sex = "" if one.sex == "both" else f", {one.sex}"
            title = catalogue().measurement(one.measurement).title
            yield f"{one.breed}{sex}, {title}: {one.what} {one.value} ({one.status}). {one.source}."
    if "weight" in taken:
        yield f"{known.fastest.note} ({known.fastest.status}). {known.fastest.source}."
