"""Findings in sentences a breeder understands."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from kit.drawing.wording import (
    chances_text,
    interval_text,
    is_lopsided,
    limits_text,
    missing_text,
    part_text,
    value_text,
)
from kit.protocol.catalogue import catalogue
from kit.quantities.errors import DataFileError
from kit.quantities.toml_table import read_toml
from kit.standards.advice import in_words
from kit.standards.assessment import Assessment
from kit.standards.conformity import Outcome, Probabilities
from kit.standards.findings import Finding
from kit.standards.standard import Clause
from kit.traits.declarations import trait
from kit.traits.estimates import Contribution, TraitEstimate

WORTH_NAMING = 0.10  # a side of an undecided finding is named from this probability on
COMPONENT_WORDS = MappingProxyType(
    {
        "posture": "how the dog stood",
        "repeat": "the hand that read it",
        "resolution": "the step the tool is read to",
        "instrument": "the tool itself",
        "assumption": "a position that was assumed, not measured",
    }
)
_FRACTIONS = (
    (0.90, "nearly all"),
    (0.71, "about three quarters"),
    (0.58, "about two thirds"),
    (0.45, "about half"),
    (0.37, "about two fifths"),
    (0.29, "about a third"),
    (0.20, "about a quarter"),
)
OUTSIDE = (Outcome.BELOW, Outcome.ABOVE, Outcome.PROBABLY_BELOW, Outcome.PROBABLY_ABOVE)
INSIDE = (Outcome.WITHIN, Outcome.PROBABLY_WITHIN)
UNDECIDED = (Outcome.UNDECIDED,)
NONE = (Outcome.NOT_MEASURED, Outcome.NOT_COMPARABLE)


@dataclass(frozen=True)
class Phrase:
    """How one trait is spoken of; see phrases.toml."""

    subject: str
    below: str
    above: str
    measure: str


@dataclass(frozen=True)
class FindingSentence:
    """One finding in words.

    Attributes
    ----------
    title : str
        The trait's title.
    headline : str
        The finding in one sentence.
    evidence : str
        The figure, what was asked and by whose reading, and the probabilities; or what is missing.
    advice : str
        For an undecided finding: what to read again. Else empty.
    place : str
        Where in the standard it stands, and how that was read.
    """

    trait: str
    title: str
    outcome: Outcome
    value: str
    headline: str
    evidence: str
    advice: str
    place: str

    @property
    def text(self) -> str:
        """The finding as running text."""
        return " ".join(part for part in (self.headline, self.evidence, self.advice) if part)


@cache
def phrases() -> Mapping[str, Phrase]:
    """Return the phrase of every trait."""
    root = read_toml(Path(__file__).with_name("phrases.toml"))
    keys = ("subject", "below", "above", "measure")
    found = {}
    for key in root.content:
        table = root.table(key)
        table.only(keys)
        subject, below, above = (table.text(name) for name in keys[:3])
        found[trait(key).key] = Phrase(subject, below, above, table.text("measure", default=""))
    return MappingProxyType(found)


def phrase(key: str) -> Phrase:
    """Return how a trait is spoken of; an unknown key raises DataFileError."""
    if key not in phrases():
        raise DataFileError(f"phrases.toml has no words for '{key}'", "subject, below, above")
    return phrases()[key]


def capital(text: str) -> str:
    """Return a text with a capital first letter."""
    return text[:1].upper() + text[1:]


def finding_sentence(finding: Finding, usual_evidence: str = "") -> FindingSentence:
    """Put one finding into words; `usual_evidence` is that of the standard as a whole."""
    clause, estimate, chance = finding.clause, finding.estimate, finding.chance
    title, where = capital(trait(clause.trait).title), place(clause, usual_evidence)
    if estimate is None or chance is None:
        headline, evidence = f"{title}: {finding.outcome.value}.", _missing(finding)
        return FindingSentence(
            clause.trait, title, finding.outcome, "", headline, evidence, "", where
        )
    return FindingSentence(
        trait=clause.trait,
        title=title,
        outcome=finding.outcome,
        value=spoken_value(estimate),
        headline=_headline(phrase(clause.trait), finding.outcome, chance),
        evidence=_evidence(clause, estimate, chance, finding.outcome),
        advice=_advice(finding),
        place=where,
    )


def _missing(finding: Finding) -> str:
    return capital(missing_text(finding)) + "."


def _headline(words: Phrase, outcome: Outcome, chance: Probabilities) -> str:
    sure = "probably " if outcome.value.startswith("probably") else ""
    if outcome is Outcome.UNDECIDED:
        return f"Undecided: {words.subject} is {_either(words, chance)}."
    if outcome in INSIDE:
        return capital(f"{words.subject} is {sure}as asked.")
    below = outcome in (Outcome.BELOW, Outcome.PROBABLY_BELOW)
    return capital(f"{words.subject} is {sure}{words.below if below else words.above} than asked.")


def _either(words: Phrase, chance: Probabilities) -> str:
    """Name the possibilities that are left, the likeliest first."""
    named = [(chance.within, "as asked"), (chance.below, words.below), (chance.above, words.above)]
    named.sort(key=lambda row: -row[0])
    left = [name for part, name in named if part >= WORTH_NAMING] or [named[0][1]]
    return " or ".join([", ".join(left[:-1]), left[-1]]) if len(left) > 1 else left[0]


def spoken_value(estimate: TraitEstimate) -> str:
    """Write ``1.08 ± 0.04 times the height``, or a lopsided interval by its ends."""
    shown = value_text(estimate)
    if is_lopsided(estimate):
        shown += f" (between {interval_text(estimate).replace(' to ', ' and ')})"
    return f"{shown} {phrase(estimate.trait.key).measure}".strip()


def _evidence(
    clause: Clause, estimate: TraitEstimate, chance: Probabilities, outcome: Outcome
) -> str:
    limits = limits_text(clause, estimate.trait.kind)
    chances = chances_text(chance, outcome).replace(">", "more than ").replace("<", "less than ")
    return f"{spoken_value(estimate)}; {_asked(clause, limits)}. {capital(chances)}."


def _asked(clause: Clause, limits: str) -> str:
    if clause.reading == "standard":
        return f"the standard prints {limits} (‘{clause.words}’)"
    reader = "the kit" if clause.reading == "kit" else clause.reading
    return f"{reader} reads ‘{clause.words}’ as {limits}"


def _advice(finding: Finding) -> str:
    if finding.advice is None:
        return ""
    return in_words(finding.advice, catalogue().measurement(finding.advice.measurement).title)


def place(clause: Clause, usual_evidence: str = "") -> str:
    """Say where a clause stands, and how that was read where unlike the rest of the standard."""
    parts = [] if clause.section == "not recorded" else [clause.section]
    if clause.evidence != usual_evidence:
        parts.append(clause.evidence)
    return ", ".join(parts)


def doubt_sentence(estimate: TraitEstimate) -> str:
    """Say what limits one figure: which source of error, and which reading."""
    sources = shares(estimate.budget, lambda part: part.component)
    readings = shares(estimate.budget, lambda part: part.measurement)
    if not sources:
        return "Nothing is known to be uncertain about it."
    largest = [f"{_part(share)} comes from {COMPONENT_WORDS.get(name, name)}"
               for name, share in sources[:1]]  # fmt: skip
    largest += [f"{_part(share)} from {COMPONENT_WORDS.get(name, name)}"
                for name, share in sources[1:2] if share >= WORTH_NAMING]  # fmt: skip
    text = f"Of the doubt, {', '.join(largest)}."
    if len(readings) == 1:
        return text
    name, share = readings[0]
    return f"{text} The reading that limits it most is {title_of(name)} ({_part(share)})."


def title_of(name: str) -> str:
    """Return the title of a measurement or an assumption."""
    if name in catalogue().assumptions:
        return catalogue().assumptions[name].title
    return catalogue().measurement(name).title


def shares(
    budget: Iterable[Contribution], key: Callable[[Contribution], str]
) -> list[tuple[str, float]]:
    """Sum the shares of a budget by some name of its rows, the largest first."""
    found: dict[str, float] = {}
    for part in budget:
        found[key(part)] = found.get(key(part), 0.0) + part.share
    return sorted(found.items(), key=lambda row: -row[1])


def _part(share: float) -> str:
    words = next((name for least, name in _FRACTIONS if share >= least), "")
    return words or part_text(share)


def summary_lines(assessment: Assessment) -> tuple[str, ...]:
    """Return an assessment in a few lines for a terminal."""
    standard = assessment.standard
    lines = [assessment.dog + (f", held against: {standard.title}" if standard else "")]
    if standard is None:
        lines.append(f"  {len(assessment.traits.known)} figures; held against no standard")
    for finding in assessment.findings:
        if finding.outcome in OUTSIDE:
            said = finding_sentence(finding)
            lines.append(f"  {said.headline} {said.value}")
    for name, outcomes in (("As asked", INSIDE), ("Undecided", UNDECIDED), ("No finding", NONE)):
        titles = [trait(f.clause.trait).title for f in assessment.findings if f.outcome in outcomes]
        lines += [f"  {name}: {', '.join(titles)}"] if titles else []
    return (*lines, *(f"  Look again: {doubt.message}" for doubt in assessment.doubts))
