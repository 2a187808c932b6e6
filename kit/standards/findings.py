"""Traits held against the clauses of a standard."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kit.quantities.errors import EstimationError
from kit.standards.advice import Advice, advise
from kit.standards.conformity import Levels, Outcome, Probabilities, decide, probabilities
from kit.standards.standard import Clause, Standard
from kit.traits.declarations import trait, traits
from kit.traits.estimates import TraitEstimate, TraitTable
from kit.traits.inputs import Estimates

MOST_MONTHS = 400.0


@dataclass(frozen=True)
class Finding:
    """What the readings bear about one clause.

    Attributes
    ----------
    chance : Probabilities or None
        None where nothing could be compared.
    estimate : TraitEstimate or None
        The trait, where it is known.
    reason : str
        Why nothing could be compared, or which readings are missing.
    advice : Advice or None
        For an undecided finding: which reading to repeat.
    """

    clause: Clause
    outcome: Outcome
    chance: Probabilities | None = None
    estimate: TraitEstimate | None = None
    reason: str = ""
    advice: Advice | None = None


@dataclass(frozen=True)
class Scope:
    """Who the dog is, as far as clauses ask: sex (``dog``, ``bitch`` or empty) and age."""

    sex: str = ""
    age_months: float | None = None

    def __post_init__(self) -> None:
        age = self.age_months
        if age is not None and not 0.0 <= age <= MOST_MONTHS:
            needed = f"months from 0 to {MOST_MONTHS:g}"
            raise EstimationError("unusable age", needed, f"{age}", "check --age")


def asked_of(standard: Standard) -> frozenset[str]:
    """Return the traits findings on a standard are made of: its own, and what answers the same."""
    families = {trait(clause.trait).family for clause in standard.clauses}
    return frozenset(key for key, one in traits().items() if one.family in families)


def find(
    table: TraitTable, estimates: Estimates, standard: Standard, scope: Scope, levels: Levels
) -> tuple[Finding, ...]:
    """Hold a dog's traits against every clause that may concern it."""
    return tuple(
        _finding(clause, table, estimates, standard, scope, levels)
        for clause in standard.clauses
        if clause.sex in {"both", scope.sex} or not scope.sex
    )


def _finding(
    clause: Clause,
    table: TraitTable,
    estimates: Estimates,
    standard: Standard,
    scope: Scope,
    levels: Levels,
) -> Finding:
    reason = _out_of_scope(clause, standard, scope)
    if reason:
        return Finding(clause, Outcome.NOT_COMPARABLE, None, table.known.get(clause.trait), reason)
    if clause.trait not in table.known:
        return _unknown(clause, table)
    estimate = table.known[clause.trait]
    chance = chances(estimate, clause.low, clause.high)
    outcome = decide(chance, levels)
    advice = advise(estimate, clause, estimates, levels) if outcome is Outcome.UNDECIDED else None
    return Finding(clause, outcome, chance, estimate, "", advice)


def chances(estimate: TraitEstimate, low: float | None, high: float | None) -> Probabilities:
    """Return the probabilities of a trait lying below, within and above two limits."""
    drawn = estimate.simulation
    if drawn is None:
        return probabilities(estimate.value, estimate.uncertainty, low, high, estimate.dof)
    within, possible = drawn.probability(low, high), 1.0 - drawn.impossible
    above = 0.0 if high is None else possible - drawn.probability(None, high)
    return Probabilities(max(0.0, possible - within - above), within, above)


def _out_of_scope(clause: Clause, standard: Standard, scope: Scope) -> str:
    if clause.sex != "both" and not scope.sex:
        return f"asked of a {clause.sex} only, and the sex was not given"
    if scope.age_months is not None and scope.age_months < standard.adult_from_months:
        return (
            f"an adult clause (from {standard.adult_from_months:g} months) does not judge a puppy"
        )
    return ""


def _unknown(clause: Clause, table: TraitTable) -> Finding:
    if clause.trait in table.faults:
        return Finding(clause, Outcome.NOT_MEASURED, reason=table.faults[clause.trait])
    sibling = _sibling(clause.trait, table.known)
    if sibling is not None:
        reason = (
            f"measured by another definition: {sibling.trait.definition}; "
            f"the clause takes {trait(clause.trait).definition}"
        )
        return Finding(clause, Outcome.NOT_COMPARABLE, None, None, reason)
    return Finding(clause, Outcome.NOT_MEASURED, reason=", ".join(table.needs[clause.trait]))


def _sibling(key: str, known: Mapping[str, TraitEstimate]) -> TraitEstimate | None:
    """Find a known trait that answers the same question by another definition."""
    family = trait(key).family
    for other, declared in traits().items():
        if other != key and declared.family == family and other in known:
            return known[other]
    return None
