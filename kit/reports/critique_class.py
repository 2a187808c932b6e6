"""Several dogs side by side, ordered only where the data tell them apart; two dogs as a pair."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from kit.drawing.regions import regions
from kit.quantities.errors import EstimationError
from kit.reports.critique_build import Looked
from kit.reports.critique_items import Item, Verdict, items_of
from kit.reports.sentences import capital, phrase
from kit.standards.comparison import Difference, compare_all, expected_by_chance
from kit.traits.estimates import TraitEstimate

IN, OUT, OPEN = "in", "out", ""
KINDS = {Verdict.GOOD: IN, Verdict.PROBABLY_GOOD: IN, Verdict.DEPARTS: OUT,
         Verdict.PROBABLY_DEPARTS: OUT}  # fmt: skip
DESCRIPTION_ONLY = (
    "This sets two dogs side by side as they were measured and seen. It says nothing of what their "
    "offspring would be."
)


@dataclass(frozen=True)
class Cell:
    """What is known of one point of one dog: the figure or grade, and the finding."""

    text: str
    finding: str
    kind: str


@dataclass(frozen=True)
class Row:
    """One point of several dogs.

    Attributes
    ----------
    said : str
        Which dogs can be told apart in it, and how; empty where that is not asked.
    """

    place: str
    title: str
    cells: tuple[Cell, ...]
    said: str = ""


@dataclass(frozen=True)
class SideBySide:
    """Dogs beside one another: rows by region of the dog, and what is to be said of all."""

    title: str
    dogs: tuple[str, ...]
    standard: str
    notes: tuple[str, ...]
    sections: tuple[tuple[str, tuple[Row, ...]], ...]


def class_of(dogs: Sequence[Looked]) -> SideBySide:
    """Put several dogs side by side: a class, a litter, the offspring of one sire.

    No dog is put before another as a whole, and there is no total.

    Raises
    ------
    EstimationError
        If there are fewer than two dogs, two of one name, or they were held against different
        standards.
    """
    names = _names(dogs)
    pairs: list[Difference] = []
    rows = []
    for title, place, items in _rows(dogs):
        known = _known(dogs, items)
        compared = compare_all(known) if len(known) > 1 else ()
        pairs += compared
        said = _order(known, compared) if compared else ""
        rows.append(Row(place, title, tuple(_cell(item) for item in items), said))
    told = sum(pair.can_be_told for pair in pairs)
    note = (
        f"Dogs are named in order only where the 95 % interval of their difference leaves out "
        f"zero: {told} of {len(pairs)} pairs. If all were alike, about "
        f"{expected_by_chance(pairs):.0f} would look different by chance alone."
    )
    return SideBySide("Side by side", names, _standard(dogs), (note, "No dog is placed: that is "
                      "the judge’s business, and not every point weighs the same."),
                      _by_place(rows))  # fmt: skip


def pair_of(first: Looked, second: Looked) -> SideBySide:
    """Put two dogs side by side by what they share; a description, never a prediction.

    Raises
    ------
    EstimationError
        If both have one name, or they were held against different standards.
    """
    names = _names([first, second])
    rows: dict[str, list[Row]] = {title: [] for title, _ in _SHARED}
    for title, _, (one, other) in _rows([first, second]):
        heading = _shared(one, other)
        rows[heading].append(Row(heading, title, (_cell(one), _cell(other))))
    sections = tuple((f"{title}: {said}" if said else title, tuple(rows[title]))
                     for title, said in _SHARED if rows[title])  # fmt: skip
    return SideBySide(f"{names[0]} and {names[1]}", names, _standard([first, second]),
                      (DESCRIPTION_ONLY,), sections)  # fmt: skip


_SHARED = (
    ("Both as asked", "clearly or probably"),
    ("Both depart, the same way", "clearly or probably"),
    ("Both depart, in different ways", ""),
    ("One departs, the other is as asked", ""),
    ("Not known of both", "undecided or not judged in at least one"),
)


def _names(dogs: Sequence[Looked]) -> tuple[str, ...]:
    names = tuple(one.assessment.dog for one in dogs)
    if len(names) < 2 or len(set(names)) < len(names):
        raise EstimationError("nothing to put side by side", "two dogs or more, each once",
                              ", ".join(names) or "none")  # fmt: skip
    titles = {_standard([one]) for one in dogs}
    if len(titles) > 1:
        raise EstimationError("dogs held against different standards are not comparable",
                              "one standard", ", ".join(sorted(titles)))  # fmt: skip
    return names


def _standard(dogs: Sequence[Looked]) -> str:
    standard = dogs[0].assessment.standard
    return standard.title if standard else "no standard"


def _rows(dogs: Sequence[Looked]) -> Iterator[tuple[str, str, list[Item | None]]]:
    """Yield title, place and the item of each dog, for every point any of them has."""
    tables = [{item.key: item for item in _every(one)} for one in dogs]
    keys = dict.fromkeys(key for table in tables for key in table)
    for key in keys:
        items = [table.get(key) for table in tables]
        one = next(item for item in items if item is not None)
        yield capital(one.title), one.place, items


def _every(looked: Looked) -> tuple[Item, ...]:
    """Return the items of a dog, that of its balance among them."""
    return items_of(looked.assessment.findings, looked.seen, looked.moving)


def _known(dogs: Sequence[Looked], items: Iterable[Item | None]) -> dict[str, TraitEstimate]:
    key = next((item.key for item in items if item is not None), "")
    if not key.startswith("trait:"):
        return {}
    name = key.split(":")[1]
    return {
        one.assessment.dog: one.assessment.traits.known[name]
        for one in dogs
        if name in one.assessment.traits.known
    }


def _cell(item: Item | None) -> Cell:
    if item is None:
        return Cell("–", "nothing written down", OPEN)
    kind = KINDS.get(item.verdict, OPEN)
    if item.key.startswith("seen:"):
        return Cell(_grade(item), item.excess or _SEEN.get(item.verdict, item.verdict.value), kind)
    figure = item.reason if item.amount else "–"
    if item.key.startswith("moving:"):
        figure = figure.partition(" are ")[2] or figure
        figure = figure.partition(" of the ")[0]
    return Cell(figure, _finding(item), kind)


_SEEN = {Verdict.GOOD: "as asked", Verdict.DEPARTS: "a fault",
         Verdict.DESCRIBED: "nothing asked", Verdict.NOT_JUDGED: "not graded"}  # fmt: skip


def _grade(item: Item) -> str:
    if item.verdict is Verdict.UNDECIDED:
        return "graders differ or unsure"
    if item.verdict is Verdict.NOT_JUDGED:
        return "–"
    return item.praise.removeprefix(item.subject).strip().partition(" ")[2]


def _finding(item: Item) -> str:
    if item.verdict in {Verdict.DEPARTS, Verdict.PROBABLY_DEPARTS}:
        states = item.states if item.verdict is Verdict.DEPARTS else item.probably
        for verb in (" is ", " are ", " the dog "):
            if verb in states:
                return states.partition(verb)[2].removesuffix(" than asked")
    words = {Verdict.GOOD: "as asked", Verdict.PROBABLY_GOOD: "probably as asked",
             Verdict.NOT_JUDGED: "not judged"}  # fmt: skip
    return words.get(item.verdict, item.verdict.value)


def _order(known: Mapping[str, TraitEstimate], pairs: Sequence[Difference]) -> str:
    """Say which dogs can be told apart in one trait."""
    told = [pair for pair in pairs if pair.can_be_told]
    if not told:
        return "In this the dogs cannot be told apart."
    words = phrase(next(iter(known.values())).trait.key)
    ranked = sorted(known, key=lambda name: -known[name].value)
    beaten = {name: [p.second for p in told if p.first == name] for name in ranked}
    groups = groupby([name for name in ranked if beaten[name]], key=lambda name: set(beaten[name]))
    said = [
        f"{words.above} in {_named(list(group))} than in "
        f"{_named([name for name in ranked if name in less])}"
        for less, group in groups
    ]
    rest = [name for name in ranked if not any(name in (p.first, p.second) for p in told)]
    alone = f" {_named(rest)} cannot be told from any." if rest else ""
    return capital(f"{words.subject} is {'; '.join(said)}.") + alone


def _named(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]


def _by_place(rows: Sequence[Row]) -> tuple[tuple[str, tuple[Row, ...]], ...]:
    places = dict.fromkeys(row.place for row in rows)
    usual = {
        title: place for place, title in enumerate((*regions(), "Coat and colour", "Movement"))
    }
    ordered = sorted(places, key=lambda place: usual.get(place, -1))
    return tuple((place, tuple(row for row in rows if row.place == place)) for place in ordered)


def _shared(one: Item | None, other: Item | None) -> str:
    kinds = [KINDS.get(item.verdict, OPEN) if item else OPEN for item in (one, other)]
    if one is None or other is None or OPEN in kinds:
        return _SHARED[4][0]
    if kinds == [IN, IN]:
        return _SHARED[0][0]
    if kinds != [OUT, OUT]:
        return _SHARED[3][0]
    return _SHARED[1][0] if one.states == other.states else _SHARED[2][0]
