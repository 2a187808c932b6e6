"""A written critique: sentences, each tied to the figures or grades it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from zlib import crc32

from kit.reports.pictures import Picture

SHORT, LONG = "short", "long"
FORMS = (SHORT, LONG)
MEASURED, SEEN, MOVING, ADDED = "measured", "seen by eye", "in movement", "added by hand"


@dataclass(frozen=True)
class Evidence:
    """What one statement rests on.

    Attributes
    ----------
    key : str
        Stable name, such as ``trait:loin_to_back``, ``seen:feet`` or ``moving:similarity:trot``.
    kind : str
        MEASURED, SEEN or MOVING.
    label, text : str
        The figure's title, and everything that is known about it.
    """

    key: str
    kind: str
    label: str
    text: str


@dataclass(frozen=True)
class Piece:
    """A stretch of a sentence and the keys of the evidence it rests on."""

    text: str
    rests_on: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sentence:
    """One sentence.

    Attributes
    ----------
    id : str
        ``s1``, ``s2``, ... in reading order; ``e1`` for one added by hand.
    original : str
        What the kit wrote, where a person has changed it; else empty.
    """

    id: str
    pieces: tuple[Piece, ...]
    original: str = ""

    @property
    def text(self) -> str:
        """The sentence as it reads."""
        return "".join(piece.text for piece in self.pieces)

    @property
    def rests_on(self) -> tuple[str, ...]:
        """Keys of all evidence it rests on."""
        return tuple(dict.fromkeys(key for piece in self.pieces for key in piece.rests_on))

    @property
    def edited(self) -> bool:
        """True where a person has changed or added it."""
        return bool(self.original)


@dataclass(frozen=True)
class Paragraph:
    """Sentences of one section of the standard, or of one region of the dog."""

    heading: str
    sentences: tuple[Sentence, ...]


@dataclass(frozen=True)
class Part:
    """Strengths, departures, what is undecided, what could not be judged, and so on."""

    key: str
    title: str
    paragraphs: tuple[Paragraph, ...]
    picture_names: tuple[str, ...] = ()


@dataclass(frozen=True)
class Critique:
    """A critique of one dog. It holds no score, and none can be had from it.

    Attributes
    ----------
    form : str
        SHORT for the ring, LONG for the owner.
    standard, version : str
        Title of the standard, and its date and validity.
    facts : tuple of (str, str)
        Who, when, by whom.
    left_out : tuple of str
        Sentences a person has taken out.
    """

    dog: str
    form: str
    standard: str
    version: str
    written: str
    facts: tuple[tuple[str, str], ...]
    caution: str
    parts: tuple[Part, ...]
    evidence: tuple[Evidence, ...]
    pictures: tuple[Picture, ...]
    footer: str
    left_out: tuple[str, ...] = ()

    @property
    def sentences(self) -> tuple[Sentence, ...]:
        """Every sentence in reading order."""
        return tuple(sentences_of(self.parts))

    @property
    def numbers(self) -> dict[str, int]:
        """The number of each piece of evidence, in order of first use."""
        return {one.key: number for number, one in enumerate(self.evidence, start=1)}

    @property
    def fingerprint(self) -> str:
        """What tells a text written from these readings from any other."""
        told = [(s.id, s.original or s.text) for s in self.sentences if s.id.startswith("s")]
        return f"{crc32(repr((self.dog, self.form, sorted(told))).encode()):08x}"

    def picture(self, name: str) -> Picture | None:
        """Return one of its pictures; None where it has none of that name."""
        return next((one for one in self.pictures if one.name == name), None)


def sentences_of(parts: Iterable[Part]) -> Iterator[Sentence]:
    """Yield every sentence in reading order."""
    for part in parts:
        for paragraph in part.paragraphs:
            yield from paragraph.sentences


def joined(phrases: Iterable[Piece], separator: str = ", ", last: str = " and ") -> list[Piece]:
    """Join phrases as one does in running text."""
    listed = list(phrases)
    found: list[Piece] = []
    for place, phrase in enumerate(listed):
        if place:
            found.append(Piece(last if place == len(listed) - 1 else separator))
        found.append(phrase)
    return found


def capitalised(pieces: list[Piece]) -> tuple[Piece, ...]:
    """Return pieces whose first letter is a capital."""
    first = next((n for n, piece in enumerate(pieces) if piece.text), None)
    if first is None:
        return tuple(pieces)
    text = pieces[first].text
    changed = Piece(text[:1].upper() + text[1:], pieces[first].rests_on)
    return (*pieces[:first], changed, *pieces[first + 1 :])
