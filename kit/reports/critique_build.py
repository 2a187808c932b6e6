"""From an assessed dog, its grades and its movement to a critique."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date

from kit import __version__
from kit.drawing.balance import balance
from kit.drawing.movement import similarity, tracks
from kit.drawing.movement_feet import footfalls
from kit.movement.assessment import Movement, movement_of
from kit.movement.body import body_of
from kit.movement.findings import MovementFinding, movement_findings
from kit.movement.observations import Observation
from kit.reports.critique import (
    LONG,
    Critique,
    Evidence,
    Paragraph,
    Part,
    Piece,
    Sentence,
    sentences_of,
)
from kit.reports.critique_facts import Told, balance_told, movement_told, opening_told
from kit.reports.critique_items import BALANCE, Item, items_of
from kit.reports.critique_writer import (
    Pieces,
    Voice,
    departures,
    not_judged,
    short_lines,
    strengths,
    undecided,
)
from kit.reports.pictures import Picture
from kit.reports.sentences import capital
from kit.reports.welfare import short_caution, welfare_notes
from kit.standards.assessment import Assessment
from kit.standards.points import Grade
from kit.standards.seen import PointFinding, graders, see
from kit.standards.standard import Standard

Placed = Iterable[tuple[str, list[Pieces]]]
PART_TITLES = (
    ("strengths", "What is good"),
    ("departures", "What departs, and by how much"),
    ("undecided", "What is undecided, and why"),
    ("not_judged", "What could not be judged"),
)


@dataclass(frozen=True)
class Looked:
    """One dog as measured, as seen, and as it moved.

    Attributes
    ----------
    seen : tuple of PointFinding
    movement : Movement or None
        None where nothing was written down of its movement.
    moving : tuple of MovementFinding
    graders : tuple of str
        Who graded.
    """

    assessment: Assessment
    seen: tuple[PointFinding, ...] = ()
    movement: Movement | None = None
    moving: tuple[MovementFinding, ...] = ()
    graders: tuple[str, ...] = ()
    items: tuple[Item, ...] = field(default=(), repr=False)


def look(
    assessment: Assessment,
    grades: Sequence[Grade] = (),
    observations: Sequence[Observation] = (),
) -> Looked:
    """Bring together what is known of one dog; nothing seen enters a figure."""
    standard, dog = assessment.standard, assessment.dog
    own = [grade for grade in grades if grade.dog == dog]
    seen = see(dog, own, standard.points if standard else ())
    movement: Movement | None = None
    moving: tuple[MovementFinding, ...] = ()
    if any(one.dog == dog for one in observations):
        movement = movement_of(dog, observations, body_of(assessment), assessment.levels)
        asked = standard.movement if standard else ()
        moving = movement_findings(movement, asked, assessment.levels)
    measured = [f for f in assessment.findings if f.clause.trait != BALANCE]
    items = _with_thresholds(items_of(measured, seen, moving), assessment)
    return Looked(assessment, seen, movement, moving, graders(own), items)


def _with_thresholds(items: Iterable[Item], assessment: Assessment) -> tuple[Item, ...]:
    """Say beside a figure what was published of harm, where it may lie past the limit."""
    notes = {note.trait: f"{note.text} {capital(note.scope)}. {note.source}."
             for note in welfare_notes(assessment.traits)}  # fmt: skip
    return tuple(
        item if note is None
        else replace(item, evidence=replace(item.evidence, text=f"{item.evidence.text} {note}"))
        for item in items
        for note in [notes.get(item.key.split(":")[1])]
    )  # fmt: skip


def write_critique(looked: Looked, form: str = LONG, written: str = "", by: str = "") -> Critique:
    """Write the critique of one dog.

    Parameters
    ----------
    form : str
        LONG for the owner, SHORT for the ringside.
    written : str
        ISO 8601 date.
    by : str
        Whose critique it is; empty for nobody's yet.
    """
    assessment = looked.assessment
    told = _told(looked)
    texts = _long(looked, told) if form == LONG else _short(looked, told)
    parts = tuple(_numbered(texts))
    evidence = _evidence(parts, looked.items, told)
    pictures = _pictures(looked) if form == LONG else ()
    return Critique(
        dog=assessment.dog,
        form=form,
        standard=assessment.standard.title if assessment.standard else "",
        version=standard_version(assessment.standard),
        written=written,
        facts=_facts(looked, written, by),
        caution=short_caution(),
        parts=_with_pictures(parts, pictures),
        evidence=evidence,
        pictures=pictures,
        footer=f"{assessment.dog} · conformation kit {__version__} · no score is given",
    )


def standard_version(standard: Standard | None) -> str:
    """Say which version of a standard was held against the dog."""
    if standard is None:
        return "no standard"
    dated = "undated" if standard.dated == "not seen" else f"dated {standard.dated}"
    valid = "" if standard.valid_from == "not seen" else f", valid from {standard.valid_from}"
    return f"{standard.document if standard.document != 'none' else standard.key}, {dated}{valid}"


def _told(looked: Looked) -> dict[str, list[Told]]:
    balanced = balance_told(looked.assessment)
    moved = list(movement_told(looked.movement)) if looked.movement else []
    opening = opening_told(looked.assessment, _days(looked.assessment))
    return {"opening": [opening] if opening else [], "balance": [balanced] if balanced else [],
            "movement": moved}  # fmt: skip


def _long(
    looked: Looked, told: Mapping[str, Sequence[Told]]
) -> Iterator[tuple[str, str, list[tuple[str, list[Pieces]]]]]:
    voice, items = Voice.of(looked.assessment.dog, looked.assessment.scope.sex), looked.items
    found: dict[str, Placed] = {
        "strengths": strengths(items, voice),
        "departures": departures(items),
        "undecided": undecided(items),
        "not_judged": [*not_judged(items), *_movement_left(looked)],
    }
    if told["opening"]:
        yield "opening", "", [("", [(piece,) for piece, _ in told["opening"]])]
    for key, title in PART_TITLES:
        yield key, title, list(found[key]) or [("", [(Piece(_NOTHING[key]),)])]
    for key, title in (("balance", "Front against rear"), ("movement", "In movement")):
        if told[key]:
            yield key, title, [("", [(piece,) for piece, _ in told[key]])]


_NOTHING = {
    "strengths": "Nothing could be shown to be as asked; that is a matter of the readings.",
    "departures": "Nothing departs as far as these readings and grades can show.",
    "undecided": "Nothing was left open.",
    "not_judged": "Everything that was asked could be judged.",
}


def _movement_left(looked: Looked) -> Placed:
    if looked.movement is None:
        return [("", [(Piece("Nothing was written down of the dog in movement."),)])]
    left = [(Piece(f"{text[:1].upper()}{text[1:]}."),) for text in looked.movement.left_out]
    return [("", list(left))] if left else []


def _short(
    looked: Looked, told: Mapping[str, Sequence[Told]]
) -> Iterator[tuple[str, str, list[tuple[str, list[Pieces]]]]]:
    voice = Voice.of(looked.assessment.dog, looked.assessment.scope.sex)
    lines = list(short_lines(looked.items, voice))
    lines += [("Balance", [(piece,)]) for piece, _ in told["balance"]]
    yield "ringside", "", [(place, said) for place, said in lines if said]


def _numbered(
    texts: Iterable[tuple[str, str, list[tuple[str, list[Pieces]]]]],
) -> Iterator[Part]:
    count = 0
    for key, title, placed in texts:
        paragraphs = []
        for heading, said in placed:
            numbered = [Sentence(f"s{count + n}", pieces) for n, pieces in enumerate(said, start=1)]
            count += len(said)
            paragraphs.append(Paragraph(heading, tuple(numbered)))
        yield Part(key, title, tuple(paragraphs))


def _evidence(
    parts: Sequence[Part], items: Sequence[Item], told: Mapping[str, Sequence[Told]]
) -> tuple[Evidence, ...]:
    """Return what the sentences rest on, in the order it is first used."""
    known = {item.key: item.evidence for item in items}
    known.update({one.key: one for group in told.values() for _, one in group})
    used = dict.fromkeys(key for sentence in sentences_of(parts) for key in sentence.rests_on)
    return tuple(known[key] for key in used)


def _facts(looked: Looked, written: str, by: str) -> tuple[tuple[str, str], ...]:
    case, standard = looked.assessment, looked.assessment.standard
    measurers = dict.fromkeys(one.measurer for one in case.readings if one.measurer)
    return (
        ("Sex", {"dog": "dog (male)"}.get(case.scope.sex, case.scope.sex) or "not given"),
        ("Measured", _days(case) or "date not given"),
        ("Measured by", ", ".join(measurers) or "not given"),
        ("Graded by", ", ".join(looked.graders) or "nobody"),
        ("Standard", standard.title if standard else "none"),
        ("Its version", standard_version(standard)),
        ("Written", " by ".join(part for part in (written or "date not given", by) if part)),
    )


def _days(assessment: Assessment) -> str:
    """Write the days the readings were taken on; what is no ISO 8601 date is left out."""
    days = set()
    for reading in assessment.readings:
        with suppress(ValueError):
            days.add(date.fromisoformat(reading.time[:10]))
    return " and ".join(f"{day.day} {day:%B %Y}" for day in sorted(days))


def _pictures(looked: Looked) -> tuple[Picture, ...]:
    found = []
    if balance_told(looked.assessment) is not None:
        scene = balance(looked.assessment)
        found.append(Picture("balance", "Front against rear",
                             "The fan is where the lower bone may truly lie, with 95 % "
                             "probability; the band is what is asked.", scene))  # fmt: skip
    return (*(replace_background(one) for one in [*found, *_moving_pictures(looked)]),)


def replace_background(picture: Picture) -> Picture:
    """Return a picture on white, as a page is."""
    return replace(picture, scene=replace(picture.scene, background="white"))


def _moving_pictures(looked: Looked) -> Iterator[Picture]:
    movement = looked.movement
    if movement is None:
        return
    if any("stride_ratio" in pace.figures for pace in movement.paces.values()):
        yield Picture("steps", "Steps for the speed and size",
                      "The curve is the published relation for bodies of like build, the band "
                      "what the kit takes as alike; lines reach over the 95 % interval.",
                      similarity(movement, looked.moving))  # fmt: skip
    widths = _widths(movement)
    if any(widths.values()):
        yield Picture("tracks", "Tracks against the stance",
                      "Seen from above, feet to scale in breadth; lines under the feet are the "
                      "95 % interval.", tracks(movement, widths))  # fmt: skip
    for pace in movement.paces.values():
        for work in pace.footwork:
            yield Picture(f"footfalls-{work.run}", f"Footfalls of run {work.run}",
                          "A bar is a foot on the ground.", footfalls(work, pace.pace))  # fmt: skip


def _widths(movement: Movement) -> dict[str, dict[str, tuple[float, float]]]:
    found: dict[str, dict[str, tuple[float, float]]] = {}
    for end in ("front", "rear"):
        rows: dict[str, tuple[float, float]] = {}
        stance = movement.body.stance.get(end)
        if stance:
            rows["standing"] = (stance.value, stance.uncertainty)
        for pace, width in movement.widths.get(end, {}).items():
            rows[pace] = (width.value, width.uncertainty)
        found[end] = rows if len(rows) > ("standing" in rows) else {}
    return found


def _with_pictures(parts: Sequence[Part], pictures: Sequence[Picture]) -> tuple[Part, ...]:
    names = tuple(one.name for one in pictures)
    wanted = {"balance": tuple(n for n in names if n == "balance"),
              "movement": tuple(n for n in names if n != "balance")}  # fmt: skip
    return tuple(replace(part, picture_names=wanted.get(part.key, ())) for part in parts)
