"""How the dogs of a survey differ: lines of difference, larger and smaller dogs, parts together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kit.drawing.survey_components import component_picture
from kit.protocol.catalogue import Catalogue
from kit.protocol.plausibility import HEIGHT
from kit.quantities.errors import EstimationError
from kit.quantities.formatting import number
from kit.quantities.kinds import Kind
from kit.reports.survey_parts import Drawn, Listing, Section, with_ends
from kit.survey.again import Again, without_doubtful
from kit.survey.dogs import SurveyTable, subset
from kit.survey.relations import allometry, shared_pairs
from kit.survey.shape import Component, Shape, shape
from kit.traits.declarations import traits
from kit.traits.trait import measured

CLOSE = 0.8
"""Correlation with the height, error taken out, under which no growth with size is told."""


def shape_of(table: SurveyTable, again: Sequence[Again]) -> Shape:
    """Find the components over the dogs without a value to measure again."""
    doubtful = {one.dog for one in again}
    kept = subset(table, np.array([dog not in doubtful for dog in table.dogs]))
    columns = {k: v for k, v in kept.values.items() if np.nanmin(v, initial=np.inf) > 0}
    return shape(columns, {key: kept.error(key) for key in columns})


def shape_section(
    table: SurveyTable, again: Sequence[Again], catalogue: Catalogue
) -> Section | None:
    """Draw the components of shape; None where there are too few dogs."""
    try:
        found = shape_of(table, again)
    except EstimationError:
        return None
    text = [
        f"The lines along which {found.dogs} dogs differ most, what measuring adds taken out; two "
        "measurements go together over the dogs that have both. "
        f"{len({one.dog for one in again})} dogs with a value to measure again are left out here."
    ]
    for why in dict.fromkeys(found.left_out.values()):
        keys = [catalogue.measurement(k).title for k, w in found.left_out.items() if w == why]
        text.append(f"Not used, because {why}: {', '.join(keys)}.")
    pictures = tuple(
        Drawn(f"component_{one.number}", component_picture(found, one.number),
              _loadings(one, catalogue))
        for one in found.components[:3]
    )  # fmt: skip
    return Section("How the dogs differ", tuple(text), pictures)


def _loadings(one: Component, catalogue: Catalogue) -> str:
    strongest = sorted(one.loadings.items(), key=lambda row: -abs(row[1]))[:5]
    said = ", ".join(
        f"{catalogue.measurement(key).title} {100 * size:+.1f} %" for key, size in strongest
    )
    share = f"{one.share:.0%} of all true differences ({one.low:.0%} to {one.high:.0%})"
    return f"{share.replace('%', ' %')}. For one standard deviation: {said}.".replace("-", "−")


def growth_section(
    table: SurveyTable, again: Sequence[Again], catalogue: Catalogue
) -> Section | None:
    """Show the parts that do not keep their proportion; None without heights."""
    table = without_doubtful(table, again)
    size = table.values.get(HEIGHT)
    if size is None:
        return None
    rows, loose = [], 0
    height_error = table.error(HEIGHT)
    for key, values in table.values.items():
        definition = catalogue.measurement(key)
        if definition.kind is not Kind.LENGTH or key == HEIGHT:
            continue
        try:
            found = allometry(values, size, table.error(key), height_error)
        except EstimationError:  # too few dogs, or error hides how they differ
            loose += 1
            continue
        if found.correlation < CLOSE:
            loose += 1
        elif not found.keeps_proportion:
            rows.append(
                (
                    definition.title,
                    f"{found.count}",
                    number(found.correlation, 2),
                    with_ends(found.exponent, found.low, found.high, 2),
                )
            )
    text = (
        "Reduced major axis of logarithms against height at the withers, error of measuring taken "
        "out of both: 1 keeps the proportion, more than 1 means that larger dogs have more of it. "
        f"{loose} parts go with the height too loosely to tell (correlation under {CLOSE:g}): what "
        "varies for reasons of its own turns this line up." + _left_out(again)
    )
    listing = Listing("Parts that do not keep their proportion",
                      ("part", "dogs", "correlation", "exponent (95 %)"), tuple(rows),
                      (3.0, 0.8, 1.2, 2.2))  # fmt: skip
    return Section("Larger and smaller dogs", (text,), tables=(listing,) if rows else ())


def _left_out(again: Sequence[Again]) -> str:
    if not again:
        return ""
    return f" The {len(again)} values to measure again are left out of this."


def shared_section(
    table: SurveyTable, again: Sequence[Again], catalogue: Catalogue
) -> Section | None:
    """Show the ratios over the height that go together once the height is held."""
    table = without_doubtful(table, again)
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
         with_ends(one.corrected, one.low, one.high, 2))
        for names, one in clear[:12]
    )  # fmt: skip
    text = (
        "Two ratios over one height go up and down together even where the parts have nothing to "
        "do with one another (Pearson 1897). The last column holds the height; of "
        f"{len(pairs)} pairs {len(clear)} go together there beyond its 95 % interval."
        + _left_out(again)
    )
    listing = Listing("Ratios to the height at the withers, the closest pairs first",
                      ("both over height", "dogs", "as they stand", "by sharing alone",
                       "height held (95 %)"), rows, (3.4, 0.7, 1.1, 1.2, 2.0))  # fmt: skip
    return Section("Which parts go together", (text,), tables=(listing,) if rows else ())
