"""Everything a survey shows, worked out once for its report and for JSON."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

from kit.protocol.catalogue import Catalogue
from kit.reliability.study import Studied
from kit.reports.survey_study import study_of
from kit.standards.conformity import Levels
from kit.standards.standard import Standard
from kit.survey.again import Again, to_measure_again
from kit.survey.clauses import ClauseShare, clause_shares
from kit.survey.dogs import SurveyTable
from kit.survey.groups import GroupFigures, Grouping, figures_by, groupings
from kit.survey.sample import Whole
from kit.survey.summary import Contrast, compare_populations

Tell = Callable[[str], object]
"""Told what is being worked out."""


def silent(_: str) -> None:
    """Tell nobody."""


@dataclass(frozen=True)
class Population:
    """Some dogs and what they are called."""

    name: str
    table: SurveyTable


@dataclass(frozen=True)
class Compared:
    """Two populations on every figure both have, first less second."""

    first: Population
    second: Population
    contrasts: Mapping[str, Contrast]


@dataclass(frozen=True)
class SurveyFigures:
    """A survey and what was worked out of it."""

    table: SurveyTable
    catalogue: Catalogue
    standard: Standard | None
    again: tuple[Again, ...]
    shares: tuple[ClauseShare, ...]
    studied: tuple[Studied, ...]
    compared: Compared | None = None
    whole: Whole | None = None

    @property
    def dogs(self) -> int:
        """How many dogs the survey has."""
        return self.whole.dogs if self.whole else len(self.table)

    @cached_property
    def groups(self) -> tuple[tuple[Grouping, tuple[GroupFigures, ...]], ...]:
        """Every figure by sex, age class, line and year, as far as these are known."""
        return tuple(
            (grouping, figures_by(self.table, grouping, self.table.figures()))
            for grouping in groupings(self.table)
        )


def survey_figures(
    table: SurveyTable,
    catalogue: Catalogue,
    standard: Standard | None = None,
    levels: Levels | None = None,
    *,
    beside: tuple[Population, Population] | None = None,
    whole: Whole | None = None,
    tell: Tell = silent,
) -> SurveyFigures:
    """Work out a survey.

    Parameters
    ----------
    beside : two populations, optional
        To be compared.
    whole : Whole, optional
        What is known of all dogs where the table holds only some.
    """
    tell("values to measure again")
    again = whole.again if whole else to_measure_again(table, catalogue)
    tell("dogs against the standard")
    shares = clause_shares(table, standard, levels) if standard else ()
    tell("what the measurers are worth")
    studied = study_of(table)
    compared = None
    if beside:
        tell("two populations")
        compared = compare(*beside)
    return SurveyFigures(table, catalogue, standard, again, shares, studied, compared, whole)


def compare(first: Population, second: Population) -> Compared:
    """Compare two populations on every trait and measurement both have."""
    columns = [
        {key: one.table.column(key) for key in one.table.figures()} for one in (first, second)
    ]
    return Compared(first, second, compare_populations(*columns))
