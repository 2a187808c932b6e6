"""What the dogs of a survey are like: sexes, groups, shape, growth, and every figure."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kit.drawing.survey_components import component_picture
from kit.protocol.catalogue import Catalogue
from kit.protocol.plausibility import HEIGHT
from kit.quantities.errors import EstimationError
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind
from kit.reports.survey_parts import DECIMALS, Drawn, Listing, Section, shown
from kit.survey.again import Again
from kit.survey.dogs import SurveyTable, subset
from kit.survey.relations import allometry, shared_pairs, trend
from kit.survey.shape import Component, Shape, shape
from kit.survey.summary import FEWEST, Contrast, Summary, compare_populations, summarise
from kit.traits.declarations import trait, traits
from kit.traits.trait import measured

AGE_CLASSES = ((0.0, 12.0, "under 1 year"), (12.0, 36.0, "1 to 2 years"),
               (36.0, 84.0, "3 to 6 years"), (84.0, math.inf, "7 years and more"))  # fmt: skip


def sexes_section(table: SurveyTable) -> Section | None:
    """Compare dogs with bitches on every trait; None where one sex is too few."""
    dogs, bitches = table.where(sex="dog"), table.where(sex="bitch")
    if min(dogs.sum(), bitches.sum()) < FEWEST:
        return None
    found = compare_populations(
        {key: one.values[dogs] for key, one in table.traits.items()},
        {key: one.values[bitches] for key, one in table.traits.items()},
    )
    rows = [_contrast_row(key, one) for key, one in found.items() if one.p_adjusted < 0.05]
    rows.sort(key=lambda row: row[0])
    said = f"{len(rows)} of {len(found)} traits differ between dogs and bitches beyond chance"
    return Section(
        "Dogs and bitches",
        (said + " (Welch’s test, adjusted for how many were asked, Holm).",),
        tables=(Listing("Dogs less bitches", ("trait", "dogs", "bitches", "difference (95 %)",
                        "in standard deviations"), tuple(rows), (2.6, 1.1, 1.1, 2.2, 1.4)),)
        if rows else (),
    )  # fmt: skip


def _contrast_row(key: str, one: Contrast) -> tuple[str, ...]:
    kind = trait(key).kind
    digits = DECIMALS[kind]
    interval = (f"{number(one.difference, digits)} ({number(one.low, digits)} to "
                f"{number(one.high, digits)}){SUFFIX[kind]}")  # fmt: skip
    return (trait(key).title, shown(one.first.mean, kind), shown(one.second.mean, kind),
            interval, number(one.effect, 2))  # fmt: skip


def groups_section(table: SurveyTable) -> Section | None:
    """Show one leading trait by line, year and age; None where no group is large enough."""
    key = next((name for name in ("length_to_height_from_prosternum",
                                  "length_to_height_from_point_of_shoulder", "height_at_withers")
                if name in table.traits), "")  # fmt: skip
    if not key:
        return None
    ages = tuple(_age_class(age) for age in table.age_months)
    rows: list[tuple[str, ...]] = []
    for name, words in (("line", table.line), ("year", table.year), ("age", ages)):
        rows += _group_rows(table, key, name, words)
    text = _trend_text(table, key)
    if not rows:
        return None
    title = trait(key).title
    return Section(
        "Lines, years, ages",
        (f"By {title}. {text}",),
        tables=(Listing(f"Centiles of {title}, 95 % bootstrap interval of the median",
                        ("", "dogs", "mean", "SD", "5 %", "median", "95 %"), tuple(rows),
                        (2.2, 0.7, 1.0, 1.0, 1.0, 2.2, 1.0)),),
    )  # fmt: skip


def _age_class(age: float) -> str:
    return next((name for low, high, name in AGE_CLASSES if low <= age < high), "")


def _group_rows(
    table: SurveyTable, key: str, name: str, words: Sequence[str]
) -> list[tuple[str, ...]]:
    rows = []
    values = table.column(key)
    for word in dict.fromkeys(sorted(set(words) - {""})):
        own = values[np.array([one == word for one in words])]
        if np.isfinite(own).sum() >= FEWEST:
            row = summary_row(summarise(own, f"{key} {word}"), trait(key).kind)
            rows.append((f"{name} {word}" if name != "age" else word, *row))
    return rows


def summary_row(one: Summary, kind: Kind) -> tuple[str, ...]:
    """Return count, mean, SD and centiles as text."""
    digits = DECIMALS[kind]
    centiles = {centile.percent: centile for centile in one.centiles}
    middle = centiles[50.0]
    median = (f"{number(middle.value, digits)} ({number(middle.low, digits)} to "
              f"{number(middle.high, digits)})")  # fmt: skip
    return (f"{one.count}", number(one.mean, digits), number(one.sd, digits),
            number(centiles[5.0].value, digits), median,
            number(centiles[95.0].value, digits))  # fmt: skip


def _trend_text(table: SurveyTable, key: str) -> str:
    years = np.array([float(year) if year.isdecimal() else math.nan for year in table.year])
    try:
        found = trend(years, table.column(key))
    except EstimationError:
        return "Of one year only, so no trend."
    digits = DECIMALS[trait(key).kind] + 1
    return (
        f"Change a year: {number(found.slope, digits)} ({number(found.low, digits)} to "
        f"{number(found.high, digits)}) over {found.count} dogs"
        + ("." if found.low > 0 or found.high < 0 else ", which zero is part of.")
    )


def shape_of(table: SurveyTable, again: Sequence[Again]) -> Shape:
    """Find the components over the dogs without a value to measure again."""
    doubtful = {one.dog for one in again}
    kept = subset(table, np.array([dog not in doubtful for dog in table.dogs]))
    columns = {k: v for k, v in kept.values.items() if np.nanmin(v, initial=np.inf) > 0}
    return shape(columns)


def shape_section(table: SurveyTable, again: Sequence[Again]) -> Section | None:
    """Draw the components of shape; None where too few dogs have every measurement."""
    try:
        found = shape_of(table, again)
    except EstimationError:
        return None
    left_out = len({one.dog for one in again})
    measured = ", ".join(key.replace("_", " ") for key in found.left_out)
    text = (
        f"The lines along which the dogs differ most, over {int(found.rows.sum())} dogs with every "
        f"measurement. {left_out} dogs with a value to measure again are left out here"
        + (f"; so is {measured}, which too many lack." if measured else ".")
    )
    pictures = tuple(
        Drawn(f"component_{one.number}", component_picture(found, one.number), _loadings(one))
        for one in found.components[:3]
    )
    return Section("How the dogs differ", (text,), pictures)


def _loadings(one: Component) -> str:
    strongest = sorted(one.loadings.items(), key=lambda row: -abs(row[1]))[:5]
    said = ", ".join(f"{key.replace('_', ' ')} {100 * size:+.1f} %" for key, size in strongest)
    share = f"{one.share:.0%} of all differences ({one.low:.0%} to {one.high:.0%})"
    return f"{share.replace('%', ' %')}. For one standard deviation: {said}.".replace("-", "−")


def growth_section(table: SurveyTable, catalogue: Catalogue) -> Section | None:
    """Show the parts that do not keep their proportion; None without heights."""
    size = table.values.get("height_at_withers")
    if size is None:
        return None
    rows = []
    for key, values in table.values.items():
        definition = catalogue.measurement(key)
        if definition.kind is Kind.LENGTH and key != "height_at_withers":
            try:
                found = allometry(values, size)
            except EstimationError:
                continue
            if not found.keeps_proportion and found.correlation > 0.3:
                rows.append((definition.title, f"{found.count}", number(found.correlation, 2),
                             f"{number(found.exponent, 2)} ({number(found.low, 2)} to "
                             f"{number(found.high, 2)})"))  # fmt: skip
    text = (
        "Reduced major axis of logarithms against height at the withers: 1 keeps the proportion, "
        "more than 1 means that larger dogs have more of it. Error of measuring flattens the "
        "correlation and pushes exponents of short measurements up, so a weak one proves little."
    )
    listing = Listing("Parts that do not keep their proportion",
                      ("part", "dogs", "correlation", "exponent (95 %)"), tuple(rows),
                      (3.0, 0.8, 1.2, 2.2))  # fmt: skip
    return Section("Larger and smaller dogs", (text,), tables=(listing,) if rows else ())


def shared_section(table: SurveyTable, catalogue: Catalogue) -> Section | None:
    """Show the ratios over the height that go together once the height is held."""
    over_height = [
        key for key in table.values
        if measured(key) / measured(HEIGHT) in {one.expression for one in traits().values()}
    ]  # fmt: skip
    if len(over_height) < 2 or HEIGHT not in table.values:
        return None
    pairs = shared_pairs({key: table.values[key] for key in (*over_height, HEIGHT)}, HEIGHT)
    clear = [(names, one) for names, one in pairs.items() if one.low > 0 or one.high < 0]
    clear.sort(key=lambda row: -abs(row[1].corrected))
    rows = tuple(
        (" and ".join(catalogue.measurement(name).title for name in names), f"{one.count}",
         number(one.correlation, 2), number(one.by_sharing, 2),
         f"{number(one.corrected, 2)} ({number(one.low, 2)} to {number(one.high, 2)})")
        for names, one in clear[:12]
    )  # fmt: skip
    text = (
        "Two ratios over one height go up and down together even where the parts have nothing to "
        "do with one another (Pearson 1897). The last column holds the height; of "
        f"{len(pairs)} pairs {len(clear)} go together there beyond its 95 % interval."
    )
    listing = Listing("Ratios to the height at the withers, the closest pairs first",
                      ("both over height", "dogs", "as they stand", "by sharing alone",
                       "height held (95 %)"), rows, (3.4, 0.7, 1.1, 1.2, 2.0))  # fmt: skip
    return Section("Which parts go together", (text,), tables=(listing,) if rows else ())


def figures_section(table: SurveyTable, catalogue: Catalogue) -> Section:
    """List every trait and measurement."""
    rows: list[tuple[str, ...]] = []
    names: list[tuple[str, str, Kind]] = [
        (key, trait(key).title, trait(key).kind) for key in table.traits
    ]
    names += [(key, catalogue.measurement(key).title, catalogue.measurement(key).kind)
              for key in table.values if key not in table.traits]  # fmt: skip
    for key, title, kind in names:
        values = table.column(key)
        if np.isfinite(values).sum() >= FEWEST:
            one = summarise(values, key)
            rows.append((title, *summary_row(one, kind), f"{one.missing}"))
    return Section(
        "All figures",
        ("Ratios without unit, lengths in cm, angles in degrees, weight in kg.",),
        tables=(Listing("Traits, then measurements; 95 % bootstrap interval of the median",
                        ("", "dogs", "mean", "SD", "5 %", "median", "95 %", "missing"),
                        tuple(rows), (2.9, 0.6, 0.8, 0.7, 0.8, 1.9, 0.8, 0.8)),),
    )  # fmt: skip
