"""Two populations beside one another: which figures differ, by how much, and how it looks."""

from __future__ import annotations

import numpy as np

from kit.drawing.survey_compare import Bar, apart, middle_dogs, overlap_said
from kit.protocol.catalogue import Catalogue
from kit.protocol.plausibility import HEIGHT
from kit.quantities.errors import GeometryError
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind
from kit.reports.survey_figures import Compared, Population
from kit.reports.survey_parts import DECIMALS, Drawn, Listing, Section, named, shown, with_ends
from kit.survey.summary import Contrast

SURE = 0.05
MOST_BARS, FEWEST_BARS = 16, 8
UNEVEN = 0.1
"""Difference in the share of dogs (not bitches) from which the sexes may be what differs."""


def compared_section(compared: Compared, catalogue: Catalogue) -> Section:
    """Show which figures of two populations differ beyond chance, the clearest first."""
    found = sorted(compared.contrasts.items(), key=lambda row: -abs(row[1].effect))
    sure = [(key, one) for key, one in found if one.p_adjusted < SURE]
    pictured = (sure or found)[:MOST_BARS] if len(sure) >= FEWEST_BARS else found[:FEWEST_BARS]
    names = compared.first.name, compared.second.name
    bars = [_bar(key, one, catalogue) for key, one in pictured]
    rows = tuple(_row(key, one, catalogue) for key, one in sure)
    text = (
        f"{len(compared.first.table)} dogs of {names[0]} beside {len(compared.second.table)} of "
        f"{names[1]}: {len(sure)} of {len(found)} figures differ beyond chance (Welch’s test, "
        "adjusted for how many were asked, Holm). The last column says in how many of a hundred "
        f"pairs the dog of {names[0]} has more: 50 where they are alike."
    )
    caption = "The clearest differences in standard deviations of a single dog (Hedges’ g)."
    pictures = [Drawn("two_populations", apart(bars, *names), caption)] if bars else []
    return Section(
        f"{names[0][:1].upper()}{names[0][1:]} beside {names[1]}",
        (text, *_caution(compared)), (*pictures, *_drawn_dogs(compared, catalogue)),
        (Listing(f"{names[0]} less {names[1]}, the clearest first",
                 ("", names[0], names[1], "difference (95 %)", "in SD", "has more"),
                 rows, (2.8, 1.1, 1.1, 2.3, 0.8, 1.0)),) if rows else (),
    )  # fmt: skip


def _bar(key: str, one: Contrast, catalogue: Catalogue) -> Bar:
    title, kind = named(key, catalogue)
    return Bar(title, one, _difference(one, kind), one.p_adjusted < SURE)


def _difference(one: Contrast, kind: Kind) -> str:
    return with_ends(one.difference, one.low, one.high, DECIMALS[kind]) + SUFFIX[kind]


def _row(key: str, one: Contrast, catalogue: Catalogue) -> tuple[str, ...]:
    title, kind = named(key, catalogue)
    return (title, shown(one.first.mean, kind), shown(one.second.mean, kind),
            _difference(one, kind), number(one.effect, 2), overlap_said(one.overlap))  # fmt: skip


def _caution(compared: Compared) -> tuple[str, ...]:
    shares = [_males(one) for one in (compared.first, compared.second)]
    said = [
        "They were measured by other hands or on other days perhaps: what hands add is in the "
        "difference."
    ]
    if all(share is not None for share in shares):
        first, second = (float(share or 0.0) for share in shares)
        if abs(first - second) > UNEVEN:
            said.append(f"The sexes are not alike ({100 * first:.0f} % dogs and "
                        f"{100 * second:.0f} %): what differs between dogs and bitches differs "
                        "here for that alone.")  # fmt: skip
    return tuple(said)


def _males(population: Population) -> float | None:
    known = [sex for sex in population.table.sex if sex]
    return known.count("dog") / len(known) if known else None


def _drawn_dogs(compared: Compared, catalogue: Catalogue) -> tuple[Drawn, ...]:
    middles = [_middle(one) for one in (compared.first, compared.second)]
    shared = set(middles[0]) & set(middles[1])
    shared -= {key for key in shared if catalogue.measurement(key).kind is Kind.MASS}
    if HEIGHT not in shared:
        return ()
    try:
        first, second = ({key: one[key] for key in sorted(shared)} for one in middles)
        scene = middle_dogs(first, second, (compared.first.name, compared.second.name))
    except GeometryError:  # no figure closes over these middles: the table still stands
        return ()
    return (Drawn("middle_dogs", scene, "Half of the dogs have less of each measurement, half "
                  "more; what was not measured is drawn from the template."),)  # fmt: skip


def _middle(population: Population) -> dict[str, float]:
    return {
        key: float(np.nanmedian(values))
        for key, values in population.table.values.items()
        if np.isfinite(values).any()
    }
