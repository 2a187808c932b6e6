"""What the page shows, as parts of plain JSON values: a part is sent only when it changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import lru_cache

from kit.drawing.finding_marks import role_of
from kit.drawing.palette import PALETTE
from kit.drawing.regions import by_region
from kit.drawing.wording import COMPARED, chances_text, limits_text, missing_text, value_text
from kit.estimation.repeats import Estimate
from kit.panels.next_reading import needs_of, next_reading
from kit.panels.pictures import mark_svg
from kit.panels.questions import CONFIRMED
from kit.panels.sitting import WRITTEN_BY
from kit.panels.state import Target, targets
from kit.panels.table import Table, bare_unit, echo
from kit.protocol.catalogue import Definition
from kit.quantities.formatting import with_unit
from kit.records.values import Dog, Session, StoredReading
from kit.reports.sheet_plan import sheet_plan
from kit.standards.conformity import Outcome
from kit.standards.findings import Finding
from kit.standards.standard import load_standard, shipped_standards
from kit.traits.declarations import trait

Json = None | bool | int | float | str | Sequence["Json"] | Mapping[str, "Json"]
Part = Mapping[str, Json]

_EXAMPLES = {"cm": "56,5 or 22 1/2 in", "in": "22 1/2 or 57 cm", "deg": "112", "kg": "28,4",
             "lb": "62 or 28 kg"}  # fmt: skip


def fixed_part(table: Table) -> Part:
    """Return what never changes: the measurements in order, the marks and the standards."""
    known = table.catalogue
    return {
        "measurements": [_measurement(d) for d in known.measurements.values()],
        "sections": {row.definition.key: section.title
                     for section in sheet_plan().sections for row in section.rows},
        "instruments": {key: [tool.title, tool.kind.value]
                        for key, tool in known.instruments.items()},
        "marks": {outcome.value: mark_svg(outcome) for outcome in Outcome},
        "standards": [[key, load_standard(key).title] for key in shipped_standards()],
        "palette": dict(PALETTE),
        "records": table.store.where,
    }  # fmt: skip


def _measurement(definition: Definition) -> Part:
    return {
        "key": definition.key,
        "title": definition.title,
        "kind": definition.kind.value,
        "sided": definition.sided,
        "how": definition.how,
        "caution": definition.caution,
    }


def setup_part(table: Table) -> Part:
    """Return who is on the table, in whose hands, and how it is set."""
    state = table.state
    return {
        "dogs": [[dog.id, name] for dog, name in zip(table.dogs, _names(table.dogs), strict=True)],
        "dog": state.dog.id if state.dog else "",
        "dogName": state.dog.name if state.dog else "",
        "sex": state.dog.sex if state.dog else "",
        "born": state.dog.born if state.dog else "",
        "transponder": state.dog.transponder if state.dog else "",
        "sessions": [[one.id, _day(one)] for one in reversed(table.sessions)],
        "session": state.session.id if state.session else "",
        "standard": state.standard.key,
        "standardTitle": state.standard.title,
        "units": state.units,
        "measurer": state.measurer,
        "writer": state.writer,
        "stand": state.stand,
        "side": state.side,
        "repeats": state.repeats,
        "canUndo": bool(state.rows),
        "canRedo": bool(state.undone),
    }


def _names(dogs: Sequence[Dog]) -> list[str]:
    """Return the dogs' names, and beside equal ones what tells them apart."""
    times = Counter(dog.name for dog in dogs)
    shown = []
    for dog in dogs:
        about = [dog.sex, dog.born and f"born {dog.born}"] if times[dog.name] > 1 else []
        shown.append(", ".join(filter(None, (dog.name, *about))))
    return [name if shown.count(name) == 1 else f"{name}, record {dog.id[-4:]}"
            for dog, name in zip(dogs, shown, strict=True)]  # fmt: skip


def _day(session: Session) -> str:
    moment = datetime.fromisoformat(session.started)
    shown = f"{moment.day} {moment:%b %Y}"
    clock = f", {moment:%H:%M}" if "T" in session.started else ""
    return f"{shown}{clock}" + (f", {session.place}" if session.place else "")


def list_part(table: Table) -> Part:
    """Return every measurement by key, with its readings and its state in this stand."""
    asked = {question.reading for question in table.questions}
    groups: dict[Target, list[StoredReading]] = {}
    for row in table.state.rows:
        target = Target(row.reading.measurement, row.reading.side)
        groups.setdefault(target, []).append(row)
    estimates = table.assessment.estimates
    return {
        target.measurement: _item(
            table,
            target,
            groups.get(target, []),
            asked,
            estimates.get((target.measurement, target.side)),
        )
        for target in targets(table.state, table.catalogue)
    }


def _item(
    table: Table,
    target: Target,
    rows: Sequence[StoredReading],
    asked: set[str],
    estimate: Estimate | None,
) -> Part:
    definition = table.catalogue.measurement(target.measurement)
    spread = estimate.spread if estimate and estimate.count > 1 else None
    unit = bare_unit(table.state.units, definition.kind)
    return {
        "key": target.measurement,
        "side": target.side,
        "skipped": target in table.state.skipped,
        "tool": table.instrument_for(target.measurement),
        "unit": {"deg": "°"}.get(unit, unit),
        "example": _EXAMPLES[unit],
        "rows": [_row(row, row.id in asked) for row in rows],
        "spread": "" if spread is None else with_unit(spread, definition.kind),
        "mean": "" if estimate is None else with_unit(estimate.value, definition.kind),
    }


@lru_cache(maxsize=4096)
def _row(row: StoredReading, asked: bool) -> Part:
    return {
        "id": row.id,
        "raw": row.reading.raw,
        "echo": echo(row.reading),
        "stand": row.reading.stand,
        "measurer": row.reading.measurer,
        "asked": asked,
        "stored": clock(row.stored_at),
        "note": words_noted(row),
    }


def words_noted(row: StoredReading) -> str:
    """Return what a person noted on a reading, without what the table itself keeps there."""
    parts = row.reading.note.split("; ")
    return "; ".join(p for p in parts if p != CONFIRMED and not p.startswith(WRITTEN_BY))


@lru_cache(maxsize=4096)
def clock(moment: str) -> str:
    """Return the local time of day of an ISO 8601 moment."""
    return f"{datetime.fromisoformat(moment).astimezone():%H:%M:%S}"


def questions_part(table: Table) -> Part:
    """Return the open questions, the newest reading's first."""
    return {
        "open": [
            {"reading": q.reading, "key": q.target.measurement, "side": q.target.side,
             "raw": q.raw, "text": q.text, "title": table.title(q.target.measurement)}
            for q in table.questions
        ]
    }  # fmt: skip


def findings_part(table: Table) -> Part:
    """Return the findings by region of the dog, what is missing for the others, and what next."""
    assessment = table.assessment
    made = [finding for finding in assessment.findings if finding.outcome in COMPARED]
    rest = [finding for finding in assessment.findings if finding.outcome not in COMPARED]
    skipped = [target.measurement for target in table.state.skipped]
    proposed = next_reading(assessment, table.catalogue, skipped)
    return {
        "made": [
            [region, [_finding(table, finding) for finding in group]]
            for region, group in by_region(made, lambda finding: finding.clause.trait)
        ],
        "rest": [_finding(table, finding) for finding in rest],
        "next": proposed.text,
        "nextKey": proposed.measurement,
        "nextAgain": proposed.again,
    }


def _finding(table: Table, finding: Finding) -> Part:
    declared = trait(finding.clause.trait)
    known, chance = finding.estimate, finding.chance
    compared = finding.outcome in COMPARED and known is not None and chance is not None
    return {
        "title": declared.title,
        "outcome": finding.outcome.value,
        "role": role_of(finding.outcome),
        "value": value_text(known) if compared and known else "",
        "wanted": limits_text(finding.clause, declared.kind),
        "chance": chances_text(chance, finding.outcome) if compared and chance else "",
        "words": finding.clause.words,
        "reason": "" if compared else missing_text(finding),
        "needs": list(needs_of(finding, table.assessment)),
    }
