"""The dogs of a survey by sex, age, line and year, what is missing, and every figure."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kit.protocol.catalogue import Catalogue
from kit.protocol.plausibility import HEIGHT
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind
from kit.reliability.bland_altman import bland_altman
from kit.reports.survey_figures import SurveyFigures
from kit.reports.survey_parts import DECIMALS, Listing, Section, named, shown, with_ends
from kit.survey.dogs import SurveyTable
from kit.survey.groups import GroupFigures, Grouping, gaps
from kit.survey.relations import trends
from kit.survey.summary import FEWEST, Summary, compare_populations, summarise

SURE = 0.05
MOST_FIGURES, MOST_GAPS, MOST_TRENDS = 4, 6, 8
LEADING = ("length_to_height_from_prosternum", "length_to_height_from_point_of_shoulder", HEIGHT)
HEAD = ("dogs", "mean", "SD", "5 %", "median (95 %)", "95 %")
WIDTHS = (0.7, 1.0, 1.0, 1.0, 2.2, 1.0)


def summary_row(one: Summary, kind: Kind) -> tuple[str, ...]:
    """Return count, mean, SD and centiles as text."""
    digits = DECIMALS[kind]
    centiles = {centile.percent: centile for centile in one.centiles}
    middle = centiles[50.0]
    return (f"{one.count}", number(one.mean, digits), number(one.sd, digits),
            number(centiles[5.0].value, digits),
            with_ends(middle.value, middle.low, middle.high, digits),
            number(centiles[95.0].value, digits))  # fmt: skip


def missing_section(table: SurveyTable, catalogue: Catalogue) -> Section | None:
    """Say which readings are missing and where; None where none is."""
    found = gaps(table)
    if not found:
        return None
    lacking = sum(one.missing for one in found)
    asked = len(table) * len(table.values)
    rows = tuple(
        (named(one.key, catalogue)[0], f"{one.missing}", _percent(one.missing / one.dogs),
         f"{one.worst}: {_percent(one.worst_share)}" if one.worst else "–")
        for one in found[:MOST_GAPS]
    )  # fmt: skip
    more = f" The other {len(found) - MOST_GAPS} lack fewer." if len(found) > MOST_GAPS else ""
    return Section(
        "What is missing",
        (f"{_percent(lacking / asked)} of the values that these dogs could have are missing. "
         "Nothing is put in their place: each figure counts the dogs that have it, and says how "
         "many these are." + more,),
        tables=(Listing("Measurements that most dogs lack", ("", "dogs without", "of all",
                        "above all in"), rows, (3.0, 1.2, 1.0, 2.4)),),
    )  # fmt: skip


def _percent(part: float) -> str:
    return f"{100 * part:.1f} %" if part < 0.1 else f"{100 * part:.0f} %"


def sexes_section(table: SurveyTable, catalogue: Catalogue) -> Section | None:
    """Compare dogs with bitches on every figure; None where one sex is too few."""
    dogs, bitches = table.where(sex="dog"), table.where(sex="bitch")
    if min(dogs.sum(), bitches.sum()) < FEWEST:
        return None
    found = compare_populations(
        *({key: table.column(key)[sex] for key in table.figures()} for sex in (dogs, bitches))
    )
    differ = sorted((p, key) for key, p in ((k, -abs(one.effect)) for k, one in found.items()
                                            if one.p_adjusted < SURE))  # fmt: skip
    rows = []
    for _, key in differ:
        one, (title, kind) = found[key], named(key, catalogue)
        interval = with_ends(one.difference, one.low, one.high, DECIMALS[kind]) + SUFFIX[kind]
        percent = f"{number(one.percent, 1)} %" if abs(one.percent) < 100.0 else "–"
        rows.append((title, shown(one.first.mean, kind), shown(one.second.mean, kind), interval,
                     percent, number(one.effect, 2)))  # fmt: skip
    said = f"{len(rows)} of {len(found)} figures differ between dogs and bitches beyond chance"
    return Section(
        "Dogs and bitches",
        (said + " (Welch’s test, adjusted for how many were asked, Holm).",),
        tables=(Listing("Dogs less bitches, the clearest first",
                        ("", "dogs", "bitches", "difference (95 %)", "of the mean",
                         "in standard deviations"), tuple(rows), (2.6, 1.1, 1.1, 2.2, 1.0, 1.4)),)
        if rows else (),
    )  # fmt: skip


def groups_section(figures: SurveyFigures) -> Section | None:
    """Say which figures differ between groups and show those; None where nothing is known."""
    table, catalogue = figures.table, figures.catalogue
    texts, listings = [], []
    for grouping, found in figures.groups:
        if not any(len(one.groups) > 1 for one in found):
            continue
        differ = sorted((one for one in found if one.p_adjusted < SURE),
                        key=lambda one: one.p_value)  # fmt: skip
        if grouping.name != "sex":  # that has a section of its own
            texts.append(_said(grouping, differ, len(found), catalogue))
        listings.append(_group_listing(grouping, _worth_showing(found, differ), catalogue))
    if not listings:
        return None
    text, trend_listing = _trends(table, catalogue)
    texts.append(text)
    texts.append("Every figure of every group, with the interval of each centile, is in "
                 "figures.csv beside this report.")  # fmt: skip
    return Section("Sexes, ages, lines, years", tuple(texts), tables=(*listings, *trend_listing))


def _said(
    grouping: Grouping, differ: Sequence[GroupFigures], asked: int, catalogue: Catalogue
) -> str:
    names = ", ".join(named(one.key, catalogue)[0] for one in differ[:8])
    more = f" and {len(differ) - 8} more" if len(differ) > 8 else ""
    if not differ:
        return f"By {grouping.name}: none of {asked} figures differs beyond chance."
    differ_ = "differs" if len(differ) == 1 else "differ"
    return f"By {grouping.name}: {len(differ)} of {asked} figures {differ_}: {names}{more}."


def _worth_showing(
    found: Sequence[GroupFigures], differ: Sequence[GroupFigures]
) -> list[GroupFigures]:
    leading = [one for key in LEADING for one in found if one.key == key and one.groups]
    chosen = [*leading, *(one for one in differ if one not in leading)]
    return chosen[:MOST_FIGURES]


def _group_listing(
    grouping: Grouping, figures: Sequence[GroupFigures], catalogue: Catalogue
) -> Listing:
    rows = []
    for one in figures:
        title, kind = named(one.key, catalogue)
        for place, (label, summary) in enumerate(one.groups.items()):
            rows.append((title if place == 0 else "", label, *summary_row(summary, kind)))
    return Listing(f"By {grouping.name}: centiles, 95 % bootstrap interval of the median",
                   ("", grouping.name, *HEAD), tuple(rows), (2.4, 1.6, *WIDTHS))  # fmt: skip


def _trends(table: SurveyTable, catalogue: Catalogue) -> tuple[str, tuple[Listing, ...]]:
    """Say how many figures changed over the years, and list the leading and the clear ones."""
    years = np.array([float(year) if year.isdecimal() else math.nan for year in table.year])
    known = years[np.isfinite(years)]
    if known.size == 0 or not np.ptp(known) > 0:
        return "Of one year only, or of none that is given: no trend.", ()
    found = trends(years, {key: table.column(key) for key in table.figures()})
    clear = sorted((key for key, one in found.items() if one.p_adjusted < SURE),
                   key=lambda key: found[key].p_value)  # fmt: skip
    rows = []
    for key in dict.fromkeys([*(key for key in LEADING if key in found), *clear[:MOST_TRENDS]]):
        one, (title, kind) = found[key], named(key, catalogue)
        change = with_ends(one.slope, one.low, one.high, DECIMALS[kind] + 1) + SUFFIX[kind]
        rows.append((title, f"{one.count}", change, "yes" if key in clear else "no"))
    text = (f"{len(clear)} of {len(found)} figures changed over the years beyond chance (straight "
            "line, adjusted for how many were asked, Holm).")  # fmt: skip
    return text, (Listing("Change a year", ("", "dogs", "a year (95 %)", "beyond chance"),
                          tuple(rows), (3.4, 0.8, 2.6, 1.4)),)  # fmt: skip


def sides_section(table: SurveyTable, catalogue: Catalogue) -> Section | None:
    """Compare left with right; None where both sides of too few dogs were measured."""
    rows = []
    for key, sides in table.sides.items():
        both = np.isfinite(sides.left) & np.isfinite(sides.right)
        if int(both.sum()) >= FEWEST:
            title, kind = named(key, catalogue)
            one = bland_altman(sides.left, sides.right)
            digits = DECIMALS[kind] + 1
            rows.append(
                (
                    title,
                    f"{int(both.sum())}",
                    with_ends(one.bias.value, one.bias.low, one.bias.high, digits) + SUFFIX[kind],
                    f"±{number(1.96 * one.sd, digits)}{SUFFIX[kind]}",
                )
            )
    if not rows:
        return None
    return Section(
        "Left and right",
        ("Left less right over the dogs of which both were measured. A mean off zero is a "
         "population, or a hand, that leans; the spread holds the error of both readings.",),
        tables=(Listing("Sides", ("", "dogs", "mean difference (95 %)", "95 % of differences"),
                        tuple(rows), (3.0, 0.8, 2.4, 1.6)),),
    )  # fmt: skip


def figures_section(table: SurveyTable, catalogue: Catalogue) -> Section:
    """List every trait and measurement."""
    rows: list[tuple[str, ...]] = []
    for key in table.figures():
        values, (title, kind) = table.column(key), named(key, catalogue)
        if np.isfinite(values).sum() >= FEWEST:
            one = summarise(values)
            rows.append((title, *summary_row(one, kind), f"{one.missing}"))
    return Section(
        "All figures",
        ("Ratios without unit, lengths in cm, angles in degrees, weight in kg.",),
        tables=(Listing("Traits, then measurements; 95 % bootstrap interval of the median",
                        ("", *HEAD, "missing"), tuple(rows),
                        (2.9, 0.6, 0.8, 0.7, 0.8, 1.9, 0.8, 0.8)),),
    )  # fmt: skip
