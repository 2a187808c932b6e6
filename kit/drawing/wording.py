"""Figures of a trait, a clause and a finding in the few words pictures and reports share."""

from __future__ import annotations

from kit.protocol.catalogue import catalogue
from kit.quantities.formatting import SUFFIX, decimals_for, number
from kit.quantities.kinds import Kind
from kit.standards.conformity import Outcome, Probabilities
from kit.standards.findings import Finding
from kit.standards.standard import Clause
from kit.traits.estimates import TraitEstimate

LOPSIDED = 0.15  # part of an interval by which its halves may differ and still be written as ±
WHOSE = {"kit": "the kit’s reading", "standard": "printed"}
COMPARED = frozenset(Outcome) - {Outcome.NOT_MEASURED, Outcome.NOT_COMPARABLE}


def best_value(estimate: TraitEstimate) -> str:
    """Write the value alone, to the decimals its standard uncertainty bears."""
    kind = estimate.trait.kind
    return number(estimate.value, decimals_for(estimate.uncertainty, kind)) + SUFFIX[kind]


def value_text(estimate: TraitEstimate) -> str:
    """Write the value with half the width of its 95 % interval, or alone where it is lopsided."""
    if is_lopsided(estimate):
        return best_value(estimate)
    kind = estimate.trait.kind
    decimals = decimals_for(estimate.uncertainty, kind)
    half = number((estimate.high95 - estimate.low95) / 2.0, decimals)
    value, unit = number(estimate.value, decimals), SUFFIX[kind]
    return f"{value}{unit} ± {half}{unit}" if kind is Kind.ANGLE else f"{value} ± {half}{unit}"


def is_lopsided(estimate: TraitEstimate) -> bool:
    """Return whether ± would misrepresent the interval."""
    upper, lower = estimate.high95 - estimate.value, estimate.value - estimate.low95
    return abs(upper - lower) > LOPSIDED * (estimate.high95 - estimate.low95)


def interval_text(estimate: TraitEstimate) -> str:
    """Write the ends of the 95 % interval."""
    kind = estimate.trait.kind
    decimals = decimals_for(estimate.uncertainty, kind)
    low, high = (number(end, decimals) for end in (estimate.low95, estimate.high95))
    return f"{low}{SUFFIX[kind]} to {high}{SUFFIX[kind]}"


def limit_text(limit: float, kind: Kind) -> str:
    """Write one limit of a clause: ratios to two or three decimals, others as short as they are."""
    if kind is Kind.RATIO:
        shown = number(limit, 3)
        return shown[:-1] if shown.endswith("0") else shown
    return number(limit, 1).removesuffix(".0") + SUFFIX[kind]


def limits_text(clause: Clause, kind: Kind) -> str:
    """Write what a clause takes as in order."""
    if clause.low is None:
        return "at most " + limit_text(clause.high or 0.0, kind)
    if clause.high is None:
        return "at least " + limit_text(clause.low, kind)
    return f"{limit_text(clause.low, kind)} to {limit_text(clause.high, kind)}"


def whose(clause: Clause) -> str:
    """Say whose reading of the words the limits are."""
    return WHOSE.get(clause.reading, f"reading of {clause.reading}")


def percent(probability: float) -> str:
    """Write a probability; never 0 % or 100 %, because no reading bears that."""
    if probability > 0.99:
        return ">99\u00a0%"
    if probability < 0.01:
        return "<1\u00a0%"
    return part_text(probability)


def part_text(part: float) -> str:
    """Write a part in whole percent, with a space that does not break before the sign."""
    return f"{part:.0%}".replace("%", "\u00a0%")


def chances_text(chance: Probabilities, outcome: Outcome) -> str:
    """Write the chances that matter: the largest, and where undecided the next one too."""
    named = [(chance.within, "within"), (chance.below, "below"), (chance.above, "above")]
    named.sort(key=lambda row: -row[0])
    shown = named[: 2 if outcome is Outcome.UNDECIDED else 1]
    return ", ".join(f"{percent(part)} {name}" for part, name in shown)


def missing_text(finding: Finding) -> str:
    """Write why nothing could be compared, measurements by their titles."""
    known = catalogue().measurements
    names = finding.reason.split(", ")
    if finding.outcome is Outcome.NOT_MEASURED and all(name in known for name in names):
        return "needs " + ", ".join(known[name].title for name in names)
    return finding.reason
