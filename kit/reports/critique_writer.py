"""Items put into sentences: strengths, departures, what is undecided, what was not judged."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from kit.drawing.regions import regions
from kit.reports.critique import MEASURED, MOVING, SEEN, Piece, capitalised, joined
from kit.reports.critique_items import Item, Verdict
from kit.reports.sentences import capital

GOOD = (Verdict.GOOD, Verdict.PROBABLY_GOOD)
OUTSIDE = (Verdict.DEPARTS, Verdict.PROBABLY_DEPARTS)
AFTER_REGIONS = ("Coat and colour", "Movement")
MOST_SHORT_STRENGTHS, MOST_SHORT_DEPARTURES = 5, 4
Pieces = tuple[Piece, ...]


@dataclass(frozen=True)
class Voice:
    """How the dog is spoken of: its name and pronoun."""

    name: str
    pronoun: str

    @classmethod
    def of(cls, name: str, sex: str) -> Voice:
        """Choose he, she or, where the sex is not given, the dog."""
        return cls(name or "This dog", {"dog": "he", "bitch": "she"}.get(sex, "the dog"))

    @property
    def has_leads(self) -> tuple[str, ...]:
        """Beginnings before a list of nouns, to be taken in turn; the empty one begins with it."""
        he = capital(self.pronoun)
        return (f"{self.name} has ", "", f"{he} shows ", "", f"{he} has ")


def by_place(items: Iterable[Item]) -> list[tuple[str, list[Item]]]:
    """Group items by section or region: regions in their order, sections as they come."""
    found: dict[str, list[Item]] = {}
    for item in items:
        found.setdefault(item.place, []).append(item)
    usual = {title: place for place, title in enumerate((*regions(), *AFTER_REGIONS))}
    return sorted(found.items(), key=lambda row: usual.get(row[0], -1))


def strengths(items: Sequence[Item], voice: Voice) -> Iterator[tuple[str, list[Pieces]]]:
    """Yield the strengths of each place; the seen ones in a sentence of their own."""
    good = [item for item in items if item.verdict in GOOD]
    for turn, (place, group) in enumerate(by_place(good)):
        yield place, list(_strengths(group, voice, turn))


def _strengths(group: Sequence[Item], voice: Voice, turn: int) -> Iterator[Pieces]:
    sure = [i for i in group if i.verdict is Verdict.GOOD and i.evidence.kind != SEEN]
    probable = [i for i in group if i.verdict is Verdict.PROBABLY_GOOD]
    lead = voice.has_leads[turn % len(voice.has_leads)]
    if sure:
        yield capitalised([Piece(lead), *_listed(sure), Piece(".")])
    if probable:
        also = " also" if sure else ""
        opening, end = (
            (f"Probably{also} ", ", though the readings stop short of certain."),
            (f"Very likely{also} ", "."),
        )[turn % 2]
        yield (Piece(opening), *_listed(probable), Piece(end))
    seen = [i for i in group if i.verdict is Verdict.GOOD and i.evidence.kind == SEEN]
    if seen:
        opening = ("To the eye ", "Seen by eye, ", "Looked at and handled, ")[turn % 3]
        yield (Piece(opening), *_statements(seen), Piece("."))


def _listed(items: Sequence[Item]) -> list[Piece]:
    """List nouns; what would be said twice in the same words is said once, with both figures."""
    twins: dict[str, list[Item]] = {}
    for item in items:
        twins.setdefault(item.praise, []).append(item)
    return joined(
        Piece(praise + _paces(group), tuple(item.key for item in group))
        for praise, group in twins.items()
    )


def _paces(items: Sequence[Item]) -> str:
    paces = [item.pace for item in items if item.pace]
    if len(paces) > 1:
        return f" at {' and '.join(paces)} alike"
    return f" at the {paces[0]}" if paces else ""


def _statements(items: Sequence[Item]) -> list[Piece]:
    """Join statements, the verb dropped where the one before has the same and no comma is near."""
    comma = any("," in item.praise for item in items)
    found, verb = [], ""
    for item in items:
        words = item.praise
        this = " are " if " are " in words else " is "
        short = this == verb and not comma
        found.append(Piece(words.replace(this, " ", 1) if short else words, (item.key,)))
        verb = this
    return joined(found, "; " if comma else ", ", "; and " if comma else " and ")


def departures(items: Sequence[Item]) -> Iterator[tuple[str, list[Pieces]]]:
    """Yield the departures of each place, the clearest first, each with by how much."""
    out = [item for item in items if item.verdict in OUTSIDE]
    turn = 0
    for place, group in by_place(out):
        said = []
        for item in sorted(group, key=lambda item: -item.clarity):
            said.append(_departure(item, turn))
            turn += item.evidence.kind == MEASURED
        yield place, said


def _departure(item: Item, turn: int) -> Pieces:
    if item.evidence.kind == SEEN:
        return _seen_departure(item)
    states = item.states if item.verdict is Verdict.DEPARTS else item.probably
    way = _steps if "strides" in item.amount else _WAYS[turn % len(_WAYS)]
    return capitalised([Piece(way(item, states), (item.key,))])


def _plain(item: Item, states: str) -> str:
    return f"{states}: {item.amount}, {item.excess} past what {item.asked}."


def _amount_first(item: Item, states: str) -> str:
    return f"at {item.amount}, {states}; past what {item.asked} by {item.excess}."


def _by_so_much(item: Item, states: str) -> str:
    return f"{states}, by {item.excess}; the figure is {item.amount}, and {item.read_as}."


def _steps(item: Item, states: str) -> str:
    alike = item.read_as.rpartition(" as ")[2]
    return f"{states}: {item.amount}, where the kit takes {alike} as alike."


_WAYS: tuple[Callable[[Item, str], str], ...] = (_plain, _by_so_much, _amount_first)


def _seen_departure(item: Item) -> Pieces:
    end = "this standard does not accept that" if item.excess else f"‘{item.asked}’ is asked"
    return capitalised([Piece(f"{item.states}, seen by eye; {end}.", (item.key,))])


def undecided(items: Sequence[Item]) -> Iterator[tuple[str, list[Pieces]]]:
    """Yield what is undecided in each place, why, and what would decide it."""
    open_ones = [item for item in items if item.verdict is Verdict.UNDECIDED]
    for turn, (place, group) in enumerate(by_place(open_ones)):
        yield place, list(_undecided(group, turn))


def _undecided(group: Sequence[Item], turn: int) -> Iterator[Pieces]:
    measured = [item for item in group if item.evidence.kind != SEEN]
    helped = [item for item in measured if item.repeat]
    stuck = [item for item in measured if not item.repeat]
    if helped:
        yield _open(helped, turn)
        yield _remedy(helped, turn)
    if stuck:
        yield _stuck(stuck, turn)
    for item in group:
        if item.evidence.kind == SEEN:
            yield _seen_undecided(item)


def _whether(items: Sequence[Item], last: str) -> list[Piece]:
    return joined((Piece(f"whether {item.either} ({item.reason})", (item.key,)) for item in items),
                  ", ", last)  # fmt: skip


def _open(items: Sequence[Item], turn: int) -> Pieces:
    """Say what is open, and that it is so because the interval reaches over a limit."""
    if turn % 2:
        return (Piece("The readings do not yet tell "), *_whether(items, ", nor "), Piece("."))
    interval = "the interval reaches" if len(items) == 1 else "each interval reaches"
    return (Piece(f"Still open, because {interval} over a limit: "), *_whether(items, " and "),
            Piece("."))  # fmt: skip


def _remedy(items: Sequence[Item], turn: int) -> Pieces:
    """Say which readings to repeat, each once and the most often that any of these needs."""
    needed: dict[str, list[Item]] = {}
    for item in items:
        needed.setdefault(item.repeat, []).append(item)
    readings = joined(
        Piece(
            f"{title}{',' * (',' in title)} {_times(max(i.times for i in group))}",
            tuple(i.key for i in group),
        )
        for title, group in needed.items()
    )
    it = "it" if len(items) == 1 else "them"
    if turn % 2:
        end = f", the dog stood anew each time, would settle {it}."
        return capitalised([*readings, Piece(end)])
    return (Piece(f"To settle {it}, stand the dog anew and take the "), *readings, Piece("."))


def _times(count: int) -> str:
    words = ("once", "twice", "three times", "four times", "five times", "six times",
             "seven times", "eight times", "nine times", "ten times", "eleven times",
             "twelve times")  # fmt: skip
    return f"{words[count - 1]} more" if 0 < count <= len(words) else f"{count} times more"


def _stuck(items: Sequence[Item], turn: int) -> Pieces:
    """Say of several at once that they lie too near a limit for repeats to settle."""
    if turn % 3 == 0:
        end = ": too near the limit for any one reading to settle it, however often repeated."
        return (Piece("It will stay open "), *_whether(items, " and "), Piece(end))
    if turn % 3 == 1:
        return (Piece("No repeating of one reading will settle "), *_whether(items, " or "),
                Piece("."))  # fmt: skip
    lie = "lies too close to the limit" if len(items) == 1 else "lie too close to their limits"
    return (*capitalised(_whether(items, " and ")), Piece(f" {lie} to be settled by repeats."))


def _seen_undecided(item: Item) -> Pieces:
    if item.either.startswith("whether "):
        said = f"whoever looked was unsure {item.either}."
    else:
        said = f"the graders differ: {item.either}; a third pair of eyes, another day, would help."
    return capitalised([Piece(said, (item.key,))])


def not_judged(items: Sequence[Item]) -> Iterator[tuple[str, list[Pieces]]]:
    """Yield, in one paragraph, what could not be judged and why."""
    left = [item for item in items if item.verdict is Verdict.NOT_JUDGED]
    said = []
    measured = [item for item in left if item.evidence.kind == MEASURED]
    seen = [item for item in left if item.evidence.kind == SEEN]
    moving = [item for item in left if item.evidence.kind == MOVING]
    for opening, group in (("Not measured, or not comparable: ", measured),
                           ("In movement: ", moving)):  # fmt: skip
        if group:
            each = (Piece(f"{item.title} ({item.reason})", (item.key,)) for item in group)
            said.append((Piece(opening), *joined(each, "; ", "; "), Piece(".")))
    if seen:
        pieces = joined(Piece(item.title, (item.key,)) for item in seen)
        said.append((Piece("Not graded by eye: "), *pieces, Piece(".")))
    silent = [item for item in items if item.verdict is Verdict.DESCRIBED]
    if silent:
        opening = "Seen, though the standard says nothing of it: "
        said.append((Piece(opening), *_statements(silent), Piece(".")))
    if said:
        yield "", said


def short_lines(items: Sequence[Item], voice: Voice) -> Iterator[tuple[str, list[Pieces]]]:
    """Yield a critique for the ringside: a few lines, strengths first."""
    good = [item for item in items if item.verdict is Verdict.GOOD]
    best = _spread([i for i in good if i.evidence.kind != SEEN], MOST_SHORT_STRENGTHS)
    eye = _spread([i for i in good if i.evidence.kind == SEEN], 3)
    said: list[Pieces] = []
    if best:
        said.append((Piece(f"{voice.name} has "), *_listed(best), Piece(".")))
    if eye:
        said.append((Piece("To the eye "), *_statements(eye), Piece(".")))
    yield "Good", said
    yield "Departs", [_short_departures(items)]
    open_ones = [item for item in items if item.verdict is Verdict.UNDECIDED]
    if open_ones:
        named = [Piece(i.subject.partition(",")[0], (i.key,)) for i in open_ones[:3]]
        more = len(open_ones) - 3
        rest = [Piece(f"{more} more points in the long form")] if more > 0 else []
        yield "Open", [(Piece("Not settled by these readings: "), *joined([*named, *rest]),
                        Piece("."))]  # fmt: skip


def _spread(items: Sequence[Item], most: int) -> list[Item]:
    """Take one from each place in turn, so that no part of the dog fills the lines."""
    groups = [group for _, group in by_place(items)]
    rounds = max((len(group) for group in groups), default=0)
    taken = [group[n] for n in range(rounds) for group in groups if n < len(group)][:most]
    said = {item.praise for item in taken}
    return [item for item in items if item.praise in said]


def _short_departures(items: Sequence[Item]) -> Pieces:
    out = sorted((i for i in items if i.verdict in OUTSIDE), key=lambda item: -item.clarity)
    if not out:
        return (Piece("Nothing that these readings and grades could show."),)
    pieces = joined((Piece(_short(item), (item.key,)) for item in out[:MOST_SHORT_DEPARTURES]),
                    "; ", "; ")  # fmt: skip
    more = len(out) - MOST_SHORT_DEPARTURES
    rest = f"; {more} more in the long form." if more > 0 else "."
    return capitalised([*pieces, Piece(rest)])


def _short(item: Item) -> str:
    states = item.states if item.verdict is Verdict.DEPARTS else item.probably
    if item.evidence.kind == SEEN:
        return f"{item.states} (seen{'; not accepted' if item.excess else ''})"
    return f"{states} (by {item.excess})"
