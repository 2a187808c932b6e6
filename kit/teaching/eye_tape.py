"""An evaluator's written judgement beside the measured findings of the same dogs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from scipy import special

from kit.estimation.agreement import Agreement, gwet_ac1
from kit.protocol.catalogue import did_you_mean
from kit.quantities.errors import DataFileError, EstimationError
from kit.standards.conformity import Outcome
from kit.standards.findings import Finding
from kit.teaching.group import rows_of
from kit.traits.declarations import traits

COLUMNS = ("dog", "trait", "judgement")
SIGN = {"under": -1, "as asked": 0, "over": 1}
_TAPE = {
    Outcome.BELOW: -1, Outcome.PROBABLY_BELOW: -1, Outcome.WITHIN: 0, Outcome.PROBABLY_WITHIN: 0,
    Outcome.ABOVE: 1, Outcome.PROBABLY_ABOVE: 1,
}  # fmt: skip
COVERAGE = 0.95


class Standing(StrEnum):
    """How eye and tape stand to each other on one dog and trait."""

    AGREE = "agree"
    DIFFER = "differ"
    EYE_ALONE = "the eye decides"
    TAPE_ALONE = "not measured or not comparable"


@dataclass(frozen=True)
class Judgement:
    """One written judgement: ``under``, ``as asked`` or ``over``."""

    dog: str
    trait: str
    said: str


@dataclass(frozen=True)
class Beside:
    """A judgement beside its finding."""

    judgement: Judgement
    finding: Finding
    standing: Standing

    @property
    def sentence(self) -> str:
        """What to make of it."""
        said, dog = self.judgement.said, self.judgement.dog
        title = traits()[self.judgement.trait].title
        tape = self.finding.outcome.value
        if self.standing is Standing.EYE_ALONE:
            return (
                f"{dog}, {title}: the tape is undecided, the eye says {said}. Here the eye is "
                "better than the tape; measure again before contradicting it."
            )
        if self.standing is Standing.TAPE_ALONE:
            return f"{dog}, {title}: the eye says {said}; the tape says nothing ({tape})."
        if self.standing is Standing.AGREE:
            return f"{dog}, {title}: eye and tape agree ({said})."
        return f"{dog}, {title}: the eye says {said}, the tape {tape}."


@dataclass(frozen=True)
class EyeAndTape:
    """What an evaluator's judgements show against the tape.

    Attributes
    ----------
    rows : tuple of Beside
    agreement : Agreement or None
        Gwet's AC1 of eye and tape where the tape decides; None for fewer than two such rows.
    same, decided : int
        How many judgements agree, of those the tape decides.
    over, under : int
        How many of the others lie above, and below what was measured.
    leaning95 : (float, float)
        Exact 95 % interval of the part of differing judgements that lie above; (0, 1) for none.
    """

    rows: tuple[Beside, ...]
    agreement: Agreement | None
    same: int
    decided: int
    over: int
    under: int
    leaning95: tuple[float, float]

    @property
    def sentences(self) -> tuple[str, ...]:
        """The whole in sentences."""
        alone = sum(row.standing is Standing.EYE_ALONE for row in self.rows)
        text = [f"Eye and tape agree on {self.same} of the {self.decided} judgements the tape "
                "can decide."]  # fmt: skip
        if self.agreement is not None:
            one = self.agreement
            text.append(f"Agreement beyond chance (AC1) {one.value:.2f}, 95\u00a0% interval "
                        f"{one.low95:.2f} to {one.high95:.2f}.")  # fmt: skip
        text.append(self._leaning())
        text.append(f"On {alone} more the tape is undecided and the eye alone decides: there the "
                    "eye is the better tool.")  # fmt: skip
        return tuple(text)

    def _leaning(self) -> str:
        low, high = self.leaning95
        if self.over + self.under == 0:
            return "Nowhere does the eye contradict the tape."
        counts = f"{self.over} times more, {self.under} times less than measured"
        if low <= 0.5 <= high:
            return f"The eye leans neither way for certain ({counts})."
        return f"The eye leans towards {'too much' if low > 0.5 else 'too little'} ({counts})."


def read_judgements(path: Path) -> tuple[Judgement, ...]:
    """Read a CSV with the columns dog, trait, judgement.

    Raises
    ------
    DataFileError
        Naming the row and what is wrong with it.
    """
    found = []
    for number, row in enumerate(rows_of(path, COLUMNS), start=2):
        said = row["judgement"].lower()
        if said not in SIGN:
            raise DataFileError(f"{path.name}, row {number}", " or ".join(SIGN), row["judgement"])
        if row["trait"] not in traits():
            hint = did_you_mean(row["trait"], traits())
            raise DataFileError(f"{path.name}, row {number}", "a trait's key", row["trait"], hint)
        found.append(Judgement(row["dog"], row["trait"], said))
    return tuple(found)


def compare(
    judgements: Sequence[Judgement], findings: Mapping[str, Sequence[Finding]]
) -> EyeAndTape:
    """Hold judgements beside the findings of the same dogs.

    Parameters
    ----------
    judgements : sequence of Judgement
    findings : mapping of dog to its findings

    Raises
    ------
    EstimationError
        If a judged dog was not measured, or no clause asks about the trait.
    """
    rows = tuple(_beside(one, findings) for one in judgements)
    both = [row for row in rows if row.standing in (Standing.AGREE, Standing.DIFFER)]
    steps = [SIGN[row.judgement.said] - _TAPE[row.finding.outcome] for row in both]
    over, under = sum(step > 0 for step in steps), sum(step < 0 for step in steps)
    return EyeAndTape(rows, _agreement(both), steps.count(0), len(both), over, under,
                      _interval(over, over + under))  # fmt: skip


def _beside(judgement: Judgement, findings: Mapping[str, Sequence[Finding]]) -> Beside:
    if judgement.dog not in findings:
        raise EstimationError(f"'{judgement.dog}' was judged but not measured",
                              "one of " + ", ".join(findings), judgement.dog)  # fmt: skip
    for finding in findings[judgement.dog]:
        if finding.clause.trait == judgement.trait:
            return Beside(judgement, finding, _standing(judgement, finding))
    raise EstimationError(f"the standard asks nothing about '{judgement.trait}'",
                          do="leave the row out or choose another standard")  # fmt: skip


def _standing(judgement: Judgement, finding: Finding) -> Standing:
    if finding.outcome is Outcome.UNDECIDED:
        return Standing.EYE_ALONE
    if finding.outcome not in _TAPE:
        return Standing.TAPE_ALONE
    same = SIGN[judgement.said] == _TAPE[finding.outcome]
    return Standing.AGREE if same else Standing.DIFFER


def _agreement(rows: Sequence[Beside]) -> Agreement | None:
    if len(rows) < 2:
        return None
    counts = []
    for row in rows:
        pair = (SIGN[row.judgement.said], _TAPE[row.finding.outcome])
        counts.append([pair.count(sign) for sign in (-1, 0, 1)])
    return gwet_ac1(counts)


def _interval(successes: int, total: int) -> tuple[float, float]:
    """Return the exact interval of a part (Clopper and Pearson 1934)."""
    if total == 0:
        return 0.0, 1.0
    tail, failures = (1 - COVERAGE) / 2, total - successes
    low = special.betaincinv(successes, failures + 1, tail) if successes else 0.0
    high = special.betaincinv(successes + 1, failures, 1 - tail) if failures else 1.0
    return float(low), float(high) if not math.isnan(high) else 1.0
