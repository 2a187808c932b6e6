"""What a survey report says: who was measured, how well, what the dogs are like."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.drawing.survey import Row, population, share_text
from kit.drawing.survey_study import two_hands, variance_bars
from kit.protocol.catalogue import Catalogue
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind
from kit.reliability.study import Studied
from kit.reports.survey_parts import Drawn, Listing, Section, shown
from kit.reports.survey_population import (
    figures_section,
    groups_section,
    growth_section,
    sexes_section,
    shape_section,
    shared_section,
)
from kit.reports.survey_study import study_of, study_of_traits
from kit.standards.conformity import Levels, Outcome
from kit.standards.standard import Standard
from kit.survey.again import Again, to_measure_again
from kit.survey.clauses import ClauseShare, clause_shares
from kit.survey.dogs import SurveyTable
from kit.traits.declarations import trait

CAUTION = (
    "A survey describes dogs; it does not judge them and identifies no breed. Figures are no "
    "diagnosis. Every reading counts as it was written: nothing is dropped, and what stands apart "
    "is listed to be measured again."
)


@dataclass(frozen=True)
class SurveyReport:
    """Everything a survey report shows, and the figures behind it."""

    title: str
    facts: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...]
    shares: tuple[ClauseShare, ...]
    again: tuple[Again, ...]
    studied: tuple[Studied, ...]
    footer: str
    caution: str = CAUTION


def survey_report(
    table: SurveyTable,
    catalogue: Catalogue,
    standard: Standard | None = None,
    levels: Levels | None = None,
    file: str = "",
) -> SurveyReport:
    """Put together the report of one survey."""
    again = to_measure_again(table, catalogue)
    studied = study_of(table)
    shares = clause_shares(table, standard, levels) if standard else ()
    sections = [
        _again_section(again),
        _standard_section(table, standard, shares) if standard else None,
        _study_section(studied, study_of_traits(table, catalogue), catalogue),
        sexes_section(table),
        groups_section(table),
        shape_section(table, again),
        growth_section(table, catalogue),
        shared_section(table, catalogue),
        figures_section(table, catalogue),
    ]
    name = file or "survey"
    return SurveyReport(
        f"Survey of {len(table)} dogs", _facts(table, standard, file),
        tuple(one for one in sections if one is not None), shares, again, studied,
        f"{name} · figures describe, they do not judge",
    )  # fmt: skip


def _facts(table: SurveyTable, standard: Standard | None, file: str) -> tuple[tuple[str, str], ...]:
    hands = sorted({one.measurer for one in table.readings} - {""})
    years = sorted(set(table.year) - {""})
    sexes = ", ".join(f"{table.sex.count(sex)} {sex}s".replace("chs", "ches")
                      for sex in ("dog", "bitch") if sex in table.sex)  # fmt: skip
    return (
        ("dogs", f"{len(table)}" + (f": {sexes}" if sexes else "")),
        ("years", ", ".join(years) or "not given"),
        ("measurers", ", ".join(hands) or "not given"),
        ("measurements", f"{len(table.values)} kinds, {len(table.traits)} traits derived"),
        ("held against", standard.title if standard else "no standard"),
        ("file", file or "not named"),
    )


def _again_section(again: Sequence[Again]) -> Section:
    if not again:
        return Section("Measure again", ("No value stands apart from what its dog and the others "
                                         "lead one to expect.",))  # fmt: skip
    rows = tuple(
        (one.dog, one.measurement.replace("_", " "), shown(one.value, one.kind),
         shown(one.expected, one.kind), one.reason or "–")
        for one in again
    )  # fmt: skip
    return Section(
        "Measure again",
        (f"{len(again)} values stand apart. They count until somebody has measured again.",),
        tables=(Listing("Values that stand apart, the farthest first",
                        ("dog", "measurement", "written", "dogs of this size", "perhaps"), rows,
                        (1.3, 2.4, 1.0, 1.3, 2.6)),),
    )  # fmt: skip


def _standard_section(
    table: SurveyTable, standard: Standard, shares: Sequence[ClauseShare]
) -> Section:
    rows = [Row(share, _values(table, share, standard)) for share in shares]
    listing = tuple(
        (_clause_title(one), one.clause.words, f"{one.count}", _findings(one), share_text(one))
        for one in shares
    )
    return Section(
        f"Against {standard.title}",
        (
            "The share within is that of the dogs’ true values: what measuring adds to the spread "
            "is taken out, and the interval says how surely so many dogs tell it. A single dog "
            "can still be undecided where the population is not.",
        ),
        (Drawn("against_the_standard", population(rows), "Columns: dogs as read. Line: their "
               "true spread. Band: what the standard asks."),) if rows else (),
        (Listing("Clauses, and what was found dog by dog",
                 ("trait", "asked", "dogs", "found dog by dog", "truly within (95 %)"), listing,
                 (2.2, 2.0, 0.6, 2.6, 2.2)),),
    )  # fmt: skip


def _values(table: SurveyTable, share: ClauseShare, standard: Standard) -> NDArray[np.float64]:
    asked = table.adults(standard.adult_from_months)
    if share.clause.sex != "both":
        asked &= table.where(sex=share.clause.sex)
    values = table.traits[share.clause.trait].values
    return np.asarray(values[asked & np.isfinite(values)])


def _clause_title(one: ClauseShare) -> str:
    sex = "" if one.clause.sex == "both" else f" ({one.clause.sex})"
    return trait(one.clause.trait).title + sex


def _findings(one: ClauseShare) -> str:
    order = [outcome for outcome in Outcome if one.findings.get(outcome)]
    return ", ".join(f"{one.findings[outcome]} {outcome.value}" for outcome in order)


def _study_section(
    studied: Sequence[Studied], by_trait: Sequence[Studied], catalogue: Catalogue
) -> Section | None:
    if not studied:
        return None
    definitions = [catalogue.measurement(one.key) for one in studied]
    bars = variance_bars(studied, [d.title for d in definitions],
                         [d.kind.unit for d in definitions])  # fmt: skip
    return Section(
        "Can the measurers be trusted?",
        ("From the dogs that several hands measured, each more than once. One hand repeats to the "
         "technical error (TEM) beside it; two hands differ by more. The intraclass correlation "
         "says which part of what differs is the dogs.",),
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
