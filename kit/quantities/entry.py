"""Read what a hand writes: ``56,5 cm``, ``22 1/2 in``, ``1 ft 10 in``, ``112°``, ``62 lb``.

Text is matched against a fixed grammar and never evaluated. An entry that could mean two things
is refused with what was needed, what was given and what to do.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction

from kit.quantities.errors import EntryError
from kit.quantities.kinds import Kind
from kit.quantities.registry import convert

MAXIMUM_CHARACTERS = 40
LIMITS = {Kind.LENGTH: 300.0, Kind.ANGLE: 360.0, Kind.MASS: 150.0, Kind.RATIO: 100.0}
NEEDED = {
    Kind.LENGTH: "a length such as 56.5 cm, 56,5 cm, 565 mm, 22 1/2 in or 1 ft 10 in",
    Kind.ANGLE: "an angle such as 112° or 112 deg",
    Kind.MASS: "a weight such as 28.4 kg, 650 g, 62 lb or 3 lb 4 oz",
    Kind.RATIO: "a plain number or a percentage",
}

_UNIT_WORDS = {
    "mm": "mm", "cm": "cm", "m": "m",
    "in": "in", "inch": "in", "inches": "in", '"': "in", "''": "in",
    "ft": "ft", "foot": "ft", "feet": "ft", "'": "ft",
    "deg": "deg", "degree": "deg", "degrees": "deg", "°": "deg",
    "kg": "kg", "g": "g", "lb": "lb", "lbs": "lb", "pound": "lb", "pounds": "lb", "oz": "oz",
    "%": "percent", "percent": "percent",
}  # fmt: skip
_KIND_OF_UNIT = {
    "mm": Kind.LENGTH, "cm": Kind.LENGTH, "m": Kind.LENGTH, "in": Kind.LENGTH, "ft": Kind.LENGTH,
    "deg": Kind.ANGLE, "kg": Kind.MASS, "g": Kind.MASS, "lb": Kind.MASS, "oz": Kind.MASS,
    "percent": Kind.RATIO,
}  # fmt: skip
_COMPOUND = {("ft", "in"): 12, ("lb", "oz"): 16}
_FRACTION_UNITS = {"in", "ft", "lb", "oz"}
_TERM = re.compile(
    r"(?P<number>\d+/\d+|\d+(?:[.,]\d+)?(?:[ -]\d+/\d+)?|[.,]\d+)"
    r" ?(?P<unit>[a-z]+|°|%|''|\"|')?"
)
_PRIMES = str.maketrans(
    {"″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'", "º": "°", "−": "-", "–": "-",
     "\u00a0": " ", "\u202f": " ", "\u2009": " ", "⁄": "/"}
)  # fmt: skip


@dataclass(frozen=True)
class Entry:
    """One entry as understood.

    Attributes
    ----------
    raw : str
        The text exactly as written.
    value : float
        In the unit of its kind (cm, deg, kg).
    kind : Kind
    unit : str
        The unit it was written in (the first one of a compound such as 1 ft 10 in).
    """

    raw: str
    value: float
    kind: Kind
    unit: str

    @property
    def echo(self) -> str:
        """The entry as understood, to be shown back to whoever wrote it."""
        shown = f"{self.value:.4g}" if self.kind is not Kind.MASS else f"{self.value:.5g}"
        suffix = {Kind.ANGLE: "°", Kind.RATIO: ""}.get(self.kind, f" {self.kind.unit}")
        return shown + suffix


def parse_entry(text: str, kind: Kind | str, default_unit: str | None = None) -> Entry:
    """Read one written entry.

    Parameters
    ----------
    text : str
        At most 40 characters.
    kind : Kind or str
        What is being measured: length, angle, mass or ratio.
    default_unit : str, optional
        Unit of a bare number. Without one, a bare number is refused (except for a ratio).

    Raises
    ------
    EntryError
        If the entry is empty, too long, ambiguous, of the wrong kind or absurd.
    """
    kind = Kind(kind)
    _check_length(text, kind)
    negative, body = _clean(text)
    terms = _terms(body, text, kind)
    value, unit = _sum(terms, text, kind, default_unit)
    if negative:
        value = -value
    _check_absurd(value, text, kind)
    return Entry(text, value, kind, unit)


def _refuse(what: str, text: str, kind: Kind, do: str) -> EntryError:
    return EntryError(what, NEEDED[kind], repr(text[:MAXIMUM_CHARACTERS]), do)


def _check_length(text: str, kind: Kind) -> None:
    if len(text) > MAXIMUM_CHARACTERS:
        raise _refuse(
            "entry too long", text, kind, f"write at most {MAXIMUM_CHARACTERS} characters"
        )
    if not text.strip():
        raise _refuse("nothing was written", text, kind, "write the reading, or skip it")


def _clean(text: str) -> tuple[bool, str]:
    """Return the sign and the text in lower case with plain primes, spaces and fractions."""
    spelled = "".join(_spell_fraction(character) for character in text)
    body = re.sub(r"\s+", " ", spelled.translate(_PRIMES)).strip().lower()
    if body.startswith(("-", "+")):
        return body[0] == "-", body[1:].strip()
    return False, body


def _spell_fraction(character: str) -> str:
    """Write ½ as `` 1/2`` and leave every other character alone."""
    if unicodedata.category(character) != "No":
        return character
    spelled = unicodedata.normalize("NFKC", character)
    return " " + spelled if re.fullmatch(r"[0-9]+\u2044[0-9]+", spelled) else character


def _terms(body: str, text: str, kind: Kind) -> list[tuple[str, str | None]]:
    """Split into (number, unit word) terms that cover the whole text."""
    terms: list[tuple[str, str | None]] = []
    position = 0
    while position < len(body):
        match = _TERM.match(body, position)
        if match is None or (not body.isascii() and not _known_signs(body)):
            raise _refuse("entry not understood", text, kind, "write one number and its unit")
        terms.append((match["number"], match["unit"]))
        position = match.end()
        while position < len(body) and body[position] == " ":
            position += 1
    if not terms:
        raise _refuse("no number was written", text, kind, "write the reading, or skip it")
    return terms


def _known_signs(body: str) -> bool:
    return all(character.isascii() or character == "°" for character in body)


def _sum(
    terms: list[tuple[str, str | None]], text: str, kind: Kind, default_unit: str | None
) -> tuple[float, str]:
    """Return the value in the unit of the kind, and the unit first written."""
    if len(terms) > 1 and any(word is None for _, word in terms):
        raise _refuse("more than one number", text, kind, "write one reading in one entry")
    units = [_unit(word, text, kind, default_unit) for _, word in terms]
    if len(terms) > 1:
        _check_compound(terms, units, text, kind)
    total = 0.0
    for (number, _), unit in zip(terms, units, strict=True):
        amount = _number(number, unit, text, kind)
        wanted = kind.unit if kind is not Kind.RATIO else "percent"
        factor = 100.0 if kind is Kind.RATIO else 1.0
        total += amount if unit == "1" else convert(amount, unit, wanted) / factor
    return total, units[0]


def _unit(word: str | None, text: str, kind: Kind, default_unit: str | None) -> str:
    if word is None:
        if kind is Kind.RATIO:
            return "1"
        if default_unit is None:
            raise _refuse("no unit was given", text, kind, "add the unit")
        word = default_unit
    unit = _UNIT_WORDS.get(word.lower())
    if unit is None:
        raise _refuse(f"unknown unit '{word}'", text, kind, "use cm, mm, in, deg, kg or lb")
    if _KIND_OF_UNIT[unit] is not kind:
        raise _refuse(
            f"the unit '{word}' is not one of {kind.value}", text, kind, "check the field"
        )
    return unit


def _check_compound(
    terms: list[tuple[str, str | None]], units: list[str], text: str, kind: Kind
) -> None:
    """Accept only feet with inches and pounds with ounces, the first a whole number."""
    per_unit = _COMPOUND.get((units[0], units[1])) if len(terms) == 2 else None
    if per_unit is None or not terms[0][0].isdigit():
        raise _refuse("more than one number", text, kind, "write one reading in one entry")
    if _number(terms[1][0], units[1], text, kind) >= per_unit:
        raise _refuse(
            f"{terms[1][0]} {units[1]} is more than one {units[0]}", text, kind, "check the entry"
        )


def _number(number: str, unit: str, text: str, kind: Kind) -> float:
    parts = re.split(r"[ -]", number)
    value = 0.0
    for part in parts:
        value += _fraction(part, unit, text, kind) if "/" in part else _decimal(part, text, kind)
    if len(parts) > 1 and not parts[0].isdigit():
        raise _refuse("a decimal and a fraction together", text, kind, "write one or the other")
    return value


def _fraction(part: str, unit: str, text: str, kind: Kind) -> float:
    top, bottom = (int(piece) for piece in part.split("/"))
    if unit not in _FRACTION_UNITS:
        raise _refuse(f"a fraction of {unit}", text, kind, "write decimals, or say inches")
    if not 0 < top < bottom or bottom > 64:
        raise _refuse(f"the fraction {part}", text, kind, "write a proper fraction such as 3/8")
    return float(Fraction(top, bottom))


def _decimal(part: str, text: str, kind: Kind) -> float:
    whole, comma, decimals = part.partition(",")
    if comma and len(decimals) == 3 and whole not in {"", "0"}:
        raise _refuse(
            "the comma may mean thousands or decimals", text, kind, "write a point, or two decimals"
        )
    return float(part.replace(",", "."))


def _check_absurd(value: float, text: str, kind: Kind) -> None:
    if abs(value) > LIMITS[kind]:
        unit = "" if kind is Kind.RATIO else kind.unit
        raise _refuse(
            f"{value:g} {unit} is more than any dog", text, kind, "check the number and its unit"
        )
