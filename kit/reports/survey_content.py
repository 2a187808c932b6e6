"""What a survey report says: who was measured, how well, what the dogs are like."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.drawing.survey import Row, percent, population
from kit.drawing.survey_study import two_hands, variance_bars
from kit.protocol.catalogue import Catalogue
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind
from kit.reliability.own_errors import OWN_STUDY
from kit.reliability.study import (
    ACCEPTED_BETWEEN,
    ACCEPTED_RELIABILITY,
    ACCEPTED_WITHIN,
    Studied,
)
from kit.reports.survey_compare import compared_section
from kit.reports.survey_figures import SurveyFigures, Tell, silent
from kit.reports.survey_groups import (
    figures_section,
    groups_section,
    missing_section,
    sexes_section,
    sides_section,
)
from kit.reports.survey_parts import Drawn, Listing, Section, shown
from kit.reports.survey_population import growth_section, shape_section, shared_section
from kit.reports.survey_study import study_of_traits
from kit.standards.conformity import Outcome
from kit.standards.standard import Standard
from kit.survey.again import Again
from kit.survey.clauses import ClauseShare
from kit.survey.dogs import SurveyTable
from kit.traits.declarations import trait

CAUTION = (
    "A survey describes dogs; it does not judge them and identifies no breed. Figures are no "
    "diagnosis. Every reading counts as it was written: nothing is dropped, and what stands apart "
    "is listed to be measured again. The report names dogs and measurers: pass on only what its "
    "owners agreed to."
)
MOST_AGAIN = 60


@dataclass(frozen=True)
class SurveyReport:
    """What a survey report shows, and the figures behind it."""

    title: str
    facts: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...]
    figures: SurveyFigures
    footer: str
    caution: str = CAUTION


def survey_report(figures: SurveyFigures, file: str = "", tell: Tell = silent) -> SurveyReport:
    """Put together the report of one survey."""
    sections = []
    for said, make in _sections(figures):
        tell(said)
        sections.append(make())
    return SurveyReport(
        f"Survey of {thousands(figures.dogs)} dogs", _facts(figures, file),
        tuple(one for one in sections if one is not None), figures,
        f"{file or 'survey'} · figures describe, they do not judge",
    )  # fmt: skip


def _sections(figures: SurveyFigures) -> tuple[tuple[str, Callable[[], Section | None]], ...]:
    """Return what is worked out, in the order of the report, and how."""
    table, known, again = figures.table, figures.catalogue, figures.again
    return (
        ("what to measure again", lambda: _again_section(again, known)),
        ("what is missing", lambda: missing_section(table, known)),
        ("the population against the standard", lambda: _standard_section(figures)),
        ("two populations", lambda: _compared_section(figures)),
        ("the measurers, trait by trait", lambda: _study_section(figures)),
        ("dogs and bitches", lambda: sexes_section(table, known)),
        ("groups and years", lambda: groups_section(figures)),
        ("how the dogs differ", lambda: shape_section(table, again, known)),
        ("larger and smaller dogs", lambda: growth_section(table, again, known)),
        ("parts together", lambda: shared_section(table, again, known)),
        ("left and right", lambda: sides_section(table, known)),
        ("all figures", lambda: figures_section(table, known)),
    )


def _compared_section(figures: SurveyFigures) -> Section | None:
    compared = figures.compared
    return compared_section(compared, figures.catalogue) if compared else None


def thousands(count: int) -> str:
    """Write a count of dogs with thin gaps, as 1 000 000."""
    return f"{count:,}".replace(",", "\u202f")


def _facts(figures: SurveyFigures, file: str) -> tuple[tuple[str, str], ...]:
    table, standard = figures.table, figures.standard
    hands = sorted({one.measurer for one in table.readings} - {""})
    years = sorted(set(table.year) - {""})
    facts = [
        ("dogs", thousands(figures.dogs) + _sexes(table)),
        ("years", ", ".join(years) or "not given"),
        ("measurers", ", ".join(hands) or "not given"),
        ("measurements", f"{len(table.values)} kinds, {len(table.traits)} traits derived"),
        ("errors of measuring", _errors(figures.catalogue)),
        ("held against", standard.title if standard else "no standard"),
        ("file", file or "not named"),
    ]
    if figures.whole:
        part = f"{thousands(len(table))} dogs drawn at random; findings dog by dog and values to "
        facts.append(("described from", part + "measure again are of all"))
    if table.problems:
        facts.append(("not understood", f"{len(table.problems)} entries, named when it was read"))
    return tuple(facts)


def _sexes(table: SurveyTable) -> str:
    sexes = ", ".join(
        f"{thousands(table.sex.count(sex))} {plural}"
        for sex, plural in (("dog", "dogs"), ("bitch", "bitches"))
        if sex in table.sex
    )
    return f": {sexes}" if sexes else ""


def _errors(catalogue: Catalogue) -> str:
    own = catalogue.sources.get(OWN_STUDY)
    return own.citation if own else "typical ones of the kit’s catalogue"


def _again_section(again: Sequence[Again], catalogue: Catalogue) -> Section:
    if not again:
        return Section("Measure again", ("No value stands apart from what its dog and the others "
                                         "lead one to expect.",))  # fmt: skip
    rows = tuple(
        (one.dog, catalogue.measurement(one.measurement).title, shown(one.value, one.kind),
         shown(one.expected, one.kind), one.reason or "–")
        for one in again[:MOST_AGAIN]
    )  # fmt: skip
    more = " All of them are in measure_again.csv beside this report."
    return Section(
        "Measure again",
        (f"{thousands(len(again))} values stand apart. They count until somebody has measured "
         "again." + (more if len(again) > MOST_AGAIN else ""),),
        tables=(Listing("Values that stand apart, the farthest first",
                        ("dog", "measurement", "written", "dogs of this size", "perhaps"), rows,
                        (1.3, 2.4, 1.0, 1.3, 2.6)),),
    )  # fmt: skip


def _standard_section(figures: SurveyFigures) -> Section | None:
    table, standard, shares = figures.table, figures.standard, figures.shares
    if standard is None:
        return None
    rows = [Row(share, _values(table, share, standard)) for share in shares]
    listing = tuple(
        (_clause_title(one), one.clause.words, thousands(one.count),
         _as_read(one), _truly(one), _findings(_tally(figures, one)))
        for one in shares
    )  # fmt: skip
    silent_ = len(standard.clauses) - len(shares)
    unasked = f" {silent_} of its {len(standard.clauses)} clauses ask what was not measured."
    return Section(
        f"Against {standard.title}",
        (
            "The share within is that of the dogs’ true values: what measuring adds to the spread "
            "is taken out, true values taken as normal, and the interval says how surely so many "
            "dogs tell it. A misread tape hardly moves it. A single dog can still be undecided "
            "where the population is not." + (unasked if silent_ else ""),
        ),
        (Drawn("against_the_standard", population(rows), "Columns: dogs as read. Line: their "
               "true spread. Band: what the standard asks."),) if rows else (),
        (Listing("Clauses, and what was found dog by dog",
                 ("trait", "asked", "dogs", "as read (95 %)", "truly within (95 %)",
                  "found dog by dog"), listing, (2.0, 1.9, 0.6, 1.6, 1.7, 2.7)),) if rows else (),
    )  # fmt: skip


def _as_read(one: ClauseShare) -> str:
    return _with_interval(one.as_read, one.as_read_low, one.as_read_high)


def _truly(one: ClauseShare) -> str:
    if math.isnan(one.within):
        return "hidden by error of measuring"
    return _with_interval(one.within, one.low, one.high)


def _with_interval(share: float, low: float, high: float) -> str:
    said = f"{percent(share)} ({percent(low)} to {percent(high)})"
    same = percent(share) == percent(low) == percent(high)
    return (percent(share) if same else said).replace("%", "\u00a0%")


def _tally(figures: SurveyFigures, one: ClauseShare) -> Mapping[Outcome, int]:
    return figures.whole.findings[one.clause.number] if figures.whole else one.findings


def _values(table: SurveyTable, share: ClauseShare, standard: Standard) -> NDArray[np.float64]:
    asked = table.adults(standard.adult_from_months)
    if share.clause.sex != "both":
        asked &= table.where(sex=share.clause.sex)
    values = table.traits[share.clause.trait].values
    return np.asarray(values[asked & np.isfinite(values)])


def _clause_title(one: ClauseShare) -> str:
    sex = "" if one.clause.sex == "both" else f" ({one.clause.sex})"
    return trait(one.clause.trait).title + sex


def _findings(found: Mapping[Outcome, int]) -> str:
    order = [outcome for outcome in Outcome if found.get(outcome)]
    return ", ".join(f"{thousands(found[outcome])} {outcome.value}" for outcome in order)


def _study_section(figures: SurveyFigures) -> Section | None:
    studied, catalogue = figures.studied, figures.catalogue
    if not studied:
        return None
    by_trait = study_of_traits(figures.table, catalogue)
    definitions = [catalogue.measurement(one.key) for one in studied]
    bars = variance_bars(studied, [d.title for d in definitions],
                         [d.kind.unit for d in definitions])  # fmt: skip
    return Section(
        "Can the measurers be trusted?",
        ("From the dogs that several hands measured, each more than once. One hand repeats to the "
         "technical error (TEM) beside it; readings of several hands have that and what hands add. "
         "The intraclass correlation says which part of what differs is the dogs. Measurers of "
         f"people are asked for R of {ACCEPTED_RELIABILITY:g} and %TEM of {ACCEPTED_WITHIN:g} "
         f"(one hand) and {ACCEPTED_BETWEEN:g} (several), from memory; a living dog seldom allows "
         "it.",),
        (Drawn("where_differences_come_from", bars, "Each bar is all that differs between the "
               "readings of one measurement."), *_worst_pair(studied, catalogue)),
        (_listing("Each measurement", studied, [(d.title, d.kind) for d in definitions]),
         _listing("Each trait, derived anew from every stand by every hand", by_trait,
                  [(trait(one.key).title, trait(one.key).kind) for one in by_trait])),
    )  # fmt: skip


def _listing(
    caption: str, studied: Sequence[Studied], names: Sequence[tuple[str, Kind]]
) -> Listing:
    rows = tuple(
        (title, _error(one.within.tem, kind), _percent(one.within.percent),
         number(one.within.reliability, 2), _error(one.between_error, kind), _correlation(one),
         _leaning(one, kind))
        for one, (title, kind) in zip(studied, names, strict=True)
    )  # fmt: skip
    head = ("", "TEM, one hand", "%TEM", "R", "TEM, several", "ICC(2,1), 95 %", "leans most")
    return Listing(caption, head, rows, (2.6, 1.2, 0.8, 0.7, 1.2, 1.9, 1.8))


def _percent(size: float) -> str:
    """Leave out what is a percentage of next to nothing, as of a dip that may be above or below."""
    return f"{number(size, 1)} %" if size < 50.0 else "–"


def _error(size: float, kind: Kind) -> str:
    return f"±{number(size, 3 if kind is Kind.RATIO else 2)}{SUFFIX[kind]}"


def _correlation(one: Studied) -> str:
    if one.between is None:
        return "–"
    form = one.between["2,1"]
    return f"{number(form.value, 2)} ({number(form.low, 2)} to {number(form.high, 2)})"


def _leaning(one: Studied, kind: Kind) -> str:
    if not one.bias:
        return "–"
    who = max(one.bias, key=lambda name: abs(one.bias[name]))
    sign = "+" if one.bias[who] > 0 else ""
    return f"{who} {sign}{number(one.bias[who], 3 if kind is Kind.RATIO else 2)}"


def _worst_pair(studied: Sequence[Studied], catalogue: Catalogue) -> tuple[Drawn, ...]:
    """Draw the pair of hands that differs most for its repeat error."""
    pairs = [
        (abs(a.bias.value) / one.within.tem, one.key, names, a)
        for one in studied
        for names, a in one.pairs.items()
        if one.within.tem > 0
    ]
    if not pairs:
        return ()
    _, key, (first, second), agreement = max(pairs, key=lambda row: row[0])
    definition = catalogue.measurement(key)
    title = f"{definition.title[:1].upper()}{definition.title[1:]}: the two hands farthest apart"
    scene = two_hands(agreement, first, second, title, definition.kind.unit)
    return (Drawn("two_hands", scene, "Each point is a dog. Bands: 95 % confidence of each line "
                  "(Bland and Altman)."),)  # fmt: skip
