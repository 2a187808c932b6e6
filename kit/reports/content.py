"""What a report says, once, for every form it is handed over in."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from kit import __version__
from kit.drawing.wording import part_text
from kit.protocol.catalogue import Source, catalogue, with_titles
from kit.protocol.reading_files import RowProblem
from kit.reports.fitted import FigureNote, figure_note
from kit.reports.pictures import Picture, pictures
from kit.reports.sentences import (
    INSIDE,
    OUTSIDE,
    UNDECIDED,
    FindingSentence,
    capital,
    finding_sentence,
    title_of,
)
from kit.reports.tables import (
    METHODS,
    BudgetRow,
    ReadingRow,
    TraitRow,
    asymmetry_sentence,
    budget_rows,
    reading_rows,
    trait_rows,
)
from kit.reports.welfare import (
    Caution,
    WelfareNote,
    cautions,
    short_caution,
    thresholds,
    welfare_notes,
)
from kit.standards.assessment import Assessment
from kit.standards.conformity import Levels, Outcome
from kit.standards.findings import Finding
from kit.standards.standard import Standard

_SEXES = {"dog": "dog (male)", "bitch": "bitch", "": "sex not given"}
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_METHOD_SOURCES = (
    "JCGM 100:2008 (GUM), estimates and first-order propagation",
    "JCGM 101:2008, simulation where the first order does not hold",
    "JCGM 106:2012, probabilities and decisions against limits",
)


@dataclass(frozen=True)
class Group:
    """Findings of one sort, the clearest first."""

    key: str
    title: str
    explanation: str
    findings: tuple[FindingSentence, ...]


@dataclass(frozen=True)
class StandardNote:
    """The standard: what it is, where it was read, and how findings are decided."""

    title: str
    citation: str
    status: str
    evidence: str
    note: str
    levels: str


@dataclass(frozen=True)
class Report:
    """Everything a report shows, in words; HTML and PDF differ in layout alone.

    Attributes
    ----------
    facts : tuple of (str, str)
        Dog, sex, when, by whom, with what.
    standard : StandardNote or None
        None where the dog was held against no standard.
    again : tuple of str
        Readings to take next time, with what they would decide.
    doubts : tuple of str
        Readings to look at again.
    problems : tuple of str
        Rows that could not be used: file, row, column and why.
    figure : FigureNote or None
        What fitting one figure to all readings changed; None where none was fitted.
    """

    title: str
    dog: str
    caution: str
    facts: tuple[tuple[str, str], ...]
    standard: StandardNote | None
    groups: tuple[Group, ...]
    again: tuple[str, ...]
    doubts: tuple[str, ...]
    problems: tuple[str, ...]
    asymmetries: tuple[str, ...]
    welfare: tuple[WelfareNote, ...]
    pictures: tuple[Picture, ...]
    figure: FigureNote | None
    traits: tuple[TraitRow, ...]
    readings: tuple[ReadingRow, ...]
    budgets: tuple[BudgetRow, ...]
    sources: tuple[str, ...]
    cautions: tuple[Caution, ...]
    footer: str

    again_title = "Next time, these readings decide most"
    again_note = (
        "Stand the dog anew before each of them: a second reading in the same stand repeats how "
        "the dog stood."
    )

    def group(self, key: str) -> Group:
        """Return one group of findings by its key."""
        return next(group for group in self.groups if group.key == key)


GROUPS = (
    ("departures", "Differs from what is asked", "Outside the range, clearly or probably.",
     OUTSIDE),
    ("strengths", "As asked", "Inside the range, clearly or probably.",
     INSIDE),
    ("undecided", "Undecided", "The readings do not bear a decision either way.",
     UNDECIDED),
    ("not_measured", "Not measured", "A reading is missing.", (Outcome.NOT_MEASURED,)),
    ("not_comparable", "Not comparable", "Measured by another definition, or not for this dog.",
     (Outcome.NOT_COMPARABLE,)),
)  # fmt: skip


def report(
    assessment: Assessment, readings_file: str = "", problems: Iterable[RowProblem] = ()
) -> Report:
    """Gather what a report of one dog shows.

    Parameters
    ----------
    readings_file : str
        Name of the file the readings came from; empty for none.
    problems : iterable of RowProblem
        Rows of that file that could not be used.
    """
    standard, dog = assessment.standard, assessment.dog or "Unnamed dog"
    return Report(
        title=f"{dog}, measured",
        dog=dog,
        caution=short_caution(),
        facts=_facts(assessment, readings_file),
        standard=None if standard is None else _standard(standard, assessment.levels),
        groups=_groups(assessment.findings, standard.evidence if standard else ""),
        again=_again(assessment.findings),
        doubts=tuple(_doubt(doubt.message) for doubt in assessment.doubts),
        problems=tuple(str(problem) for problem in problems),
        asymmetries=tuple(asymmetry_sentence(side) for side in assessment.asymmetries),
        welfare=welfare_notes(assessment.traits),
        pictures=pictures(assessment),
        figure=figure_note(assessment),
        traits=trait_rows(assessment),
        readings=reading_rows(assessment),
        budgets=budget_rows(assessment),
        sources=_sources(assessment),
        cautions=cautions(),
        footer=f"{dog} · conformation kit {__version__}",
    )


def _facts(assessment: Assessment, readings_file: str) -> tuple[tuple[str, str], ...]:
    readings, scope = assessment.readings, assessment.scope
    known = catalogue().instruments
    tools = _unique(r.instrument for r in readings)
    count = f"{len(readings)}, of {len({key for key, _ in assessment.estimates})} measurements"
    age = "" if scope.age_months is None else f", {scope.age_months:g} months old"
    return (
        ("Dog", assessment.dog or "not named"),
        ("Sex", _SEXES.get(scope.sex, scope.sex) + age),
        ("Measured", _when([reading.time for reading in readings]) or "date not given"),
        ("By", ", ".join(_unique(r.measurer for r in readings)) or "not given"),
        ("With", ", ".join(known[t].title if t in known else t for t in tools) or "not given"),
        ("Readings", f"{count}, from {readings_file}" if readings_file else count),
    )


def _doubt(message: str) -> str:
    for method, words in METHODS.items():
        message = message.replace(f"({method})", f"({words})")
    return capital(with_titles(message)).rstrip(".") + "."


def _unique(texts: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(text for text in texts if text))


def _when(times: Sequence[str]) -> str:
    """Write the days the readings were taken on; a time that is no ISO 8601 date stays as it is."""
    days = sorted({_day(time) for time in times if time})
    if len(days) > 2:
        return f"{_shown(days[0])} to {_shown(days[-1])}"
    return " and ".join(_shown(day) for day in days)


def _day(time: str) -> str:
    found = _DAY.match(time)
    return found.group() if found else time


def _shown(day: str) -> str:
    try:
        read = date.fromisoformat(day)
    except ValueError:
        return day
    return f"{read.day} {read:%B %Y}"


def _standard(standard: Standard, levels: Levels) -> StandardNote:
    said = (
        f"A finding is decided from {part_text(levels.decided)} probability and called probable "
        f"from {part_text(levels.probable)}; below that it stays undecided."
    )
    return StandardNote(
        standard.title,
        _citation(standard),
        standard.status,
        standard.evidence,
        standard.note,
        said,
    )


def _citation(standard: Standard) -> str:
    if standard.kind == "common practice":
        return standard.source
    valid = f", valid from {standard.valid_from}" if standard.valid_from[:1].isdigit() else ""
    return f"{standard.source}{valid}"


def _groups(findings: Sequence[Finding], evidence: str) -> tuple[Group, ...]:
    return tuple(
        Group(
            key,
            title,
            explanation,
            tuple(
                finding_sentence(finding, evidence)
                for finding in sorted(findings, key=_clearest_first)
                if finding.outcome in outcomes
            ),
        )
        for key, title, explanation, outcomes in GROUPS
    )


def _clearest_first(finding: Finding) -> tuple[bool, float]:
    """Put those last that no reading would decide, else the surest first."""
    hopeless = finding.advice is not None and not finding.advice.decides
    chance = finding.chance
    return hopeless, -max(chance.below, chance.within, chance.above) if chance else 0.0


def _again(findings: Sequence[Finding]) -> tuple[str, ...]:
    """List the readings whose repetition would decide something, the least work first."""
    times: dict[str, int] = {}
    decided: dict[str, list[str]] = {}
    for finding in findings:
        advice, estimate = finding.advice, finding.estimate
        if advice is None or estimate is None or not advice.decides:
            continue
        name = advice.measurement
        times[name] = max(times.get(name, 0), advice.repeats)
        decided.setdefault(name, []).append(estimate.trait.title)
    return tuple(
        f"{capital(title_of(name))}: {_times(count)} (would decide {', '.join(decided[name])})"
        for name, count in sorted(times.items(), key=lambda row: row[1])
    )


def _times(count: int) -> str:
    return "once more" if count == 1 else f"{count} more times"


def _sources(assessment: Assessment) -> tuple[str, ...]:
    known = catalogue()
    used = [known.measurement(key) for key, _ in assessment.estimates]
    keys = _unique(name for d in used for name in (d.source, d.error_source))
    protocol = [_protocol_source(known.sources[key]) for key in keys]
    standard = assessment.standard
    first = [] if standard is None else [f"Standard: {_citation(standard)}"]
    welfare = [limit.source for limit in thresholds()]
    return tuple(_unique([*first, *_METHOD_SOURCES, *protocol, *welfare]))


def _protocol_source(source: Source) -> str:
    if source.citation == source.status:
        return f"Typical errors and ranges without a source of their own: {source.status}"
    return f"{source.citation} ({source.status})"
