"""Everything that can be said of one dog, as items: measured, seen and in movement alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from pathlib import Path
from types import MappingProxyType

from kit.drawing.regions import region_of
from kit.drawing.wording import limits_text, value_text
from kit.movement.findings import MovementFinding
from kit.protocol.catalogue import catalogue
from kit.quantities.formatting import SUFFIX, decimals_for, number
from kit.quantities.kinds import Kind
from kit.quantities.toml_table import Table, read_toml
from kit.reports.critique import MEASURED, MOVING, SEEN, Evidence
from kit.reports.sentences import capital, finding_sentence, phrase, spoken_value
from kit.standards.conformity import Outcome, Probabilities
from kit.standards.findings import Finding
from kit.standards.points import point
from kit.standards.seen import PointFinding, Seen
from kit.traits.declarations import trait

WORTH_NAMING = 0.10  # a possibility is named from this probability on
BALANCE = "front_rear_balance"
NOT_RECORDED = "not recorded"


class Verdict(StrEnum):
    """What can be said of one thing."""

    GOOD = "good"
    PROBABLY_GOOD = "probably good"
    DEPARTS = "departs"
    PROBABLY_DEPARTS = "probably departs"
    UNDECIDED = "undecided"
    NOT_JUDGED = "not judged"
    DESCRIBED = "described"


VERDICTS = MappingProxyType(
    {
        Outcome.WITHIN: Verdict.GOOD,
        Outcome.PROBABLY_WITHIN: Verdict.PROBABLY_GOOD,
        Outcome.BELOW: Verdict.DEPARTS,
        Outcome.ABOVE: Verdict.DEPARTS,
        Outcome.PROBABLY_BELOW: Verdict.PROBABLY_DEPARTS,
        Outcome.PROBABLY_ABOVE: Verdict.PROBABLY_DEPARTS,
        Outcome.UNDECIDED: Verdict.UNDECIDED,
        Outcome.NOT_MEASURED: Verdict.NOT_JUDGED,
        Outcome.NOT_COMPARABLE: Verdict.NOT_JUDGED,
    }
)
SEEN_VERDICTS = MappingProxyType(
    {
        Seen.AS_ASKED: Verdict.GOOD,
        Seen.FAULT: Verdict.DEPARTS,
        Seen.NOT_ACCEPTED: Verdict.DEPARTS,
        Seen.UNDECIDED: Verdict.UNDECIDED,
        Seen.DESCRIBED: Verdict.DESCRIBED,
        Seen.NOT_GRADED: Verdict.NOT_JUDGED,
    }
)


@dataclass(frozen=True)
class Item:
    """One thing that can be said.

    Attributes
    ----------
    place : str
        The section of the standard, or the region of the dog where no section is recorded.
    praise : str
        Words for where it is as asked: after "has" if measured or moving, else a whole statement.
    states, probably : str
        What it is where it departs, and where it probably does: "the loin is longer than asked".
    amount : str
        The figure with its interval; empty for what was seen.
    asked, read_as : str
        What was asked and by whose reading, without its limits and with them.
    excess : str
        How far past the nearest limit, with its interval; empty where it is not past one.
    subject : str
        What a sentence about it begins with.
    either : str
        For an undecided item, what is left open: "the body is as asked or longer".
    reason : str
        Why it was not judged, or is undecided.
    repeat, times : str, int
        The reading whose repetition would decide it, and how often; empty where none would.
    pace : str
        The pace it was found at, for movement.
    clarity : float
        How clear the finding is, for the order of departures.
    """

    evidence: Evidence
    verdict: Verdict
    place: str
    title: str
    praise: str
    states: str = ""
    probably: str = ""
    amount: str = ""
    asked: str = ""
    read_as: str = ""
    excess: str = ""
    subject: str = ""
    either: str = ""
    reason: str = ""
    repeat: str = ""
    times: int = 0
    pace: str = ""
    clarity: float = 0.0

    @property
    def key(self) -> str:
        """Key of its evidence."""
        return self.evidence.key


@dataclass(frozen=True)
class MovementWords:
    """How a figure of movement is spoken of."""

    subject: str
    praise: str
    below: str
    above: str


@cache
def praises() -> Mapping[str, str]:
    """Return the words of praise for every trait."""
    table = _words().table("praise")
    return MappingProxyType({trait(key).key: table.text(key) for key in table.content})


@cache
def movement_words() -> Mapping[str, MovementWords]:
    """Return the words for every figure of movement."""
    return MappingProxyType(
        {
            key: MovementWords(*(table.text(n) for n in ("subject", "praise", "below", "above")))
            for key, table in _words().tables("movement").items()
        }
    )


def _words() -> Table:
    return read_toml(Path(__file__).with_name("critique_words.toml"))


def measured_item(finding: Finding) -> Item:
    """Return what a measured finding allows to be said."""
    clause, known = finding.clause, finding.estimate
    said, words = finding_sentence(finding), phrase(clause.trait)
    evidence = Evidence(
        f"trait:{clause.trait}:{clause.number}", MEASURED, said.title,
        f"{capital(finding.outcome.value)}. {said.evidence} Taken on: "
        f"{trait(clause.trait).definition}.",
    )  # fmt: skip
    item = Item(
        evidence, VERDICTS[finding.outcome],
        region_of(clause.trait) if clause.section == NOT_RECORDED else clause.section,
        trait(clause.trait).title, praises()[clause.trait], subject=words.subject.rstrip(","),
    )  # fmt: skip
    if known is None or finding.chance is None:
        return replace(item, reason=_wanting(finding))
    chance = finding.chance
    below = chance.below > chance.above
    outside = words.below if below else words.above
    return replace(
        item,
        states=f"{words.subject} is {outside} than asked",
        probably=f"{words.subject} is probably {outside} than asked",
        amount=spoken_value(known),
        asked=_asked(clause.reading, clause.words),
        read_as=_read_as(clause.reading, clause.words, limits_text(clause, known.trait.kind)),
        excess=_excess(known.value, clause.low if below else clause.high,
                       (known.high95 - known.low95) / 2, known.trait.kind),
        either=f"{words.subject} is {_either(chance, words.below, words.above)}",
        repeat=_repeat(finding),
        times=finding.advice.repeats if finding.advice else 0,
        reason=value_text(known),
        clarity=_clarity(known.value, clause.low if below else clause.high,
                         (known.high95 - known.low95) / 2),
    )  # fmt: skip


def _wanting(finding: Finding) -> str:
    known = catalogue().measurements
    names = finding.reason.split(", ")
    if all(name in known for name in names):
        return "for want of " + " and ".join(known[name].title for name in names)
    return finding.reason


def _repeat(finding: Finding) -> str:
    advice = finding.advice
    if advice is None or not advice.decides:
        return ""
    return catalogue().measurement(advice.measurement).title


def _asked(reading: str, words: str) -> str:
    if reading == "standard":
        return f"the standard prints for ‘{words}’"
    reader = "the kit" if reading == "kit" else reading
    return f"{reader} reads into ‘{words}’"


def _read_as(reading: str, words: str, limits: str) -> str:
    if reading == "standard":
        return f"the standard prints {limits} for ‘{words}’"
    return f"{'the kit' if reading == 'kit' else reading} reads ‘{words}’ as {limits}"


def _excess(value: float, limit: float | None, half: float, kind: Kind) -> str:
    if limit is None:
        return ""
    past = abs(value - limit)
    decimals = decimals_for(half / 2, kind)
    unit = SUFFIX[kind]
    first = f"{number(past, decimals)}{unit if kind is Kind.ANGLE else ''}"
    return f"{first} ± {number(half, decimals)}{unit}"


def _clarity(value: float, limit: float | None, half: float) -> float:
    """Return how many half intervals a value lies past a limit."""
    return 0.0 if limit is None or half == 0.0 else abs(value - limit) / half


def _either(chance: Probabilities, below: str, above: str) -> str:
    """Name the possibilities that are left, the likeliest first."""
    named = [(chance.within, "as asked"), (chance.below, below), (chance.above, above)]
    named.sort(key=lambda row: -row[0])
    left = [name for part, name in named if part >= WORTH_NAMING] or [named[0][1]]
    return " or ".join([", ".join(left[:-1]), left[-1]]) if len(left) > 1 else left[0]


def seen_item(finding: PointFinding) -> Item:
    """Return what the graders' eyes allow to be said."""
    one, clause = point(finding.point), finding.clause
    words = [f"{g.grader or 'not named'}: ‘{g.grade}’ ({g.sure})" for g in finding.grades]
    asked = (
        f"Asked: ‘{clause.words}’ ({clause.evidence})."
        if clause
        else "The standard says nothing of it."
    )
    graded = f" Graded by eye. {'; '.join(words)}." if words else ""
    scale = "; ".join(clause.scale if clause else one.scale)
    evidence = Evidence(
        f"seen:{one.key}",
        SEEN,
        capital(one.title),
        f"{capital(finding.seen.value)}.{graded} {asked} Scale: {scale}.",
    )
    section = clause.section if clause else NOT_RECORDED
    states = f"{one.subject} {one.verb} {finding.grade}"
    return Item(
        evidence, SEEN_VERDICTS[finding.seen], one.region if section == NOT_RECORDED else section,
        one.title, states, states,
        asked=clause.words if clause else "", subject=one.subject,
        excess="not accepted" if finding.seen is Seen.NOT_ACCEPTED else "",
        either=_graders_differ(finding), reason=finding.reason or "not graded",
        clarity=99.0 if finding.seen is Seen.NOT_ACCEPTED else 1.0,
    )  # fmt: skip


def _graders_differ(finding: PointFinding) -> str:
    one = point(finding.point)
    if finding.grade:
        return f"whether {one.subject} {one.verb} {finding.grade}"
    said = [f"‘{grade.grade}’ to {grade.grader or 'one grader'}" for grade in finding.grades]
    return f"{one.subject} {one.verb} " + " and ".join(said)


def moving_item(finding: MovementFinding) -> Item:
    """Return what a finding of movement allows to be said."""
    words, known, chance = movement_words()[finding.key], finding.estimate, finding.chance
    pace = f" at the {finding.pace}" if finding.pace else ""
    key = f"moving:{finding.key}:{finding.pace}".rstrip(":")
    title = f"{words.subject.strip(',').replace(', in movement', ' in movement')}{pace}"
    evidence = Evidence(key, MOVING, capital(title), _moving_text(finding))
    item = Item(evidence, VERDICTS[finding.outcome],
                "Movement" if finding.section == NOT_RECORDED else finding.section, title,
                words.praise, subject=words.subject.rstrip(","), reason=finding.reason,
                pace=finding.pace)  # fmt: skip
    if known is None or chance is None:
        return item
    below = chance.below > chance.above
    half = (known.high95 - known.low95) / 2
    kind = Kind.ANGLE if known.figure.unit == "deg" else Kind.RATIO
    outside = words.below if below else words.above
    limit = finding.low if below else finding.high
    steps, are = finding.key == "similarity", "feet," in words.subject
    begins = f"{pace.strip()} the dog" if steps else f"{words.subject} {'are' if are else 'is'}"
    return replace(
        item,
        states=f"{begins.strip()} {outside}",
        probably=f"{begins.strip()} probably {outside}",
        amount=_moving_amount(finding),
        asked=_asked(finding.reading, finding.words),
        read_as=_read_as(finding.reading, finding.words, _limits(finding)),
        excess=_excess(known.value, limit, half, kind),
        either=f"{begins.strip()} {_either(chance, words.below, words.above)}",
        reason=_moving_amount(finding),
        clarity=_clarity(known.value, limit, half),
    )  # fmt: skip


def _moving_amount(finding: MovementFinding) -> str:
    known = finding.estimate
    if known is None:
        return ""
    kind = Kind.ANGLE if known.figure.unit == "deg" else Kind.RATIO
    half, decimals = (known.high95 - known.low95) / 2, decimals_for(known.uncertainty, kind)
    decimals = min(decimals, 2)
    unit = SUFFIX[kind]
    text = f"{number(known.value, decimals)}{unit} ± {number(half, decimals)}{unit}"
    if finding.key == "similarity":
        pace = f" at the {finding.pace}" if finding.pace else ""
        return f"strides{pace} are {text} of the length like bodies take at this Froude number"
    return text if kind is Kind.ANGLE else f"{text} of the stance"


def _moving_text(finding: MovementFinding) -> str:
    amount = f" {capital(_moving_amount(finding))}." if finding.estimate else ""
    reason = f" {capital(finding.reason)}." if finding.reason else ""
    return (
        f"{capital(finding.outcome.value)}.{amount}{reason} Asked: ‘{finding.words}’, read by the "
        f"{finding.reading} as {_limits(finding)}. {capital(finding.validity)}. "
        f"Source: {finding.source}."
    )


def _limits(finding: MovementFinding) -> str:
    known = finding.estimate
    unit = "°" if known is not None and known.figure.unit == "deg" else ""
    low, high = (None if end is None else f"{end:g}{unit}".replace("-", "−")
                 for end in (finding.low, finding.high))  # fmt: skip
    if low is None:
        return f"at most {high}"
    return f"at least {low}" if high is None else f"{low} to {high}"


def items_of(
    findings: Sequence[Finding], seen: Sequence[PointFinding], moving: Sequence[MovementFinding]
) -> tuple[Item, ...]:
    """Return everything that can be said of one dog."""
    return (
        *(measured_item(one) for one in findings),
        *(seen_item(one) for one in seen),
        *(moving_item(one) for one in moving),
    )
