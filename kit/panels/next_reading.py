"""What is still needed for each finding, and which single reading to take next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from kit.protocol.catalogue import Catalogue
from kit.standards.assessment import Assessment
from kit.standards.conformity import Outcome
from kit.standards.findings import Finding
from kit.traits.declarations import trait

NAMED = 3


@dataclass(frozen=True)
class NextReading:
    """The reading that helps most now.

    Attributes
    ----------
    measurement : str
        Its key; empty where no single reading helps.
    again : bool
        True where it is a repeat in a new stand.
    text : str
        What to do and why, in words.
    """

    measurement: str
    again: bool
    text: str


def needs_of(finding: Finding, assessment: Assessment) -> tuple[str, ...]:
    """Return the measurements a finding still lacks; none where it can be made or never will."""
    if finding.outcome is not Outcome.NOT_MEASURED:
        return ()
    return tuple(assessment.traits.needs.get(finding.clause.trait, ()))


def next_reading(
    assessment: Assessment, known: Catalogue, skipped: Iterable[str] = ()
) -> NextReading:
    """Choose the missing measurement that completes most findings, else the repeat that decides.

    Parameters
    ----------
    skipped : iterable of str
        Measurements the person left out; they are not proposed.
    """
    left_out = set(skipped)
    missing = {
        finding.clause.trait: needs_of(finding, assessment) for finding in assessment.findings
    }
    open_ones = {
        key: needs for key, needs in missing.items() if needs and not left_out & set(needs)
    }
    if open_ones:
        return _missing(open_ones, known)
    return _repeat(assessment, known)


def _missing(needs: Mapping[str, tuple[str, ...]], known: Catalogue) -> NextReading:
    completes: dict[str, list[str]] = {}
    helps: dict[str, Fraction] = {}
    for key, lacking in needs.items():
        for name in lacking:
            helps[name] = helps.get(name, Fraction()) + Fraction(1, len(lacking))
        if len(lacking) == 1:
            completes.setdefault(lacking[0], []).append(key)
    best = max(helps, key=lambda name: (len(completes.get(name, ())), helps[name]))
    title = known.measurement(best).title
    if best in completes:
        return NextReading(best, again=False, text=f"{title}: it completes "
                           f"{_listed(completes[best])}.")  # fmt: skip
    count = sum(best in lacking for lacking in needs.values())
    return NextReading(best, again=False, text=f"{title}: {_findings(count)} still need it.")


def _repeat(assessment: Assessment, known: Catalogue) -> NextReading:
    """Choose the repeat that is advised for most undecided findings, the quickest first."""
    wanted: dict[str, list[str]] = {}
    times: dict[str, int] = {}
    for finding in assessment.findings:
        advice = finding.advice
        if advice is not None and advice.decides:
            wanted.setdefault(advice.measurement, []).append(finding.clause.trait)
            times[advice.measurement] = min(
                advice.repeats, times.get(advice.measurement, advice.repeats)
            )
    if not wanted:
        return NextReading("", again=False, text=_nothing(assessment))
    best = max(wanted, key=lambda name: (len(wanted[name]), -times[name]))
    title = known.measurement(best).title
    count = "once more" if times[best] == 1 else f"{times[best]} more times"
    text = f"Stand the dog anew and take {title} {count}: to decide {_listed(wanted[best])}."
    return NextReading(best, again=True, text=text)


def _nothing(assessment: Assessment) -> str:
    undecided = sum(finding.outcome is Outcome.UNDECIDED for finding in assessment.findings)
    if undecided:
        return (
            f"{_findings(undecided)} stay undecided: so near the limit that no repeating of one "
            "reading would decide them."
        )
    return "Every finding that can be decided is decided."


def _findings(count: int) -> str:
    return f"{count} finding" + ("s" if count > 1 else "")


def _listed(keys: list[str]) -> str:
    titles = [trait(key).title for key in keys]
    if len(titles) <= NAMED:
        return " and ".join(filter(None, (", ".join(titles[:-1]), titles[-1])))
    return f"{', '.join(titles[:NAMED])} and {len(titles) - NAMED} more"
