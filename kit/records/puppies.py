"""Dogs of the records as the puppies of their litter.

The collar or mark, and the name of the litter, stand in the dog's note: ``collar: red; litter: B``.
"""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from kit.growth.puppies import Puppy
from kit.protocol.readings import Reading
from kit.records.store import Store
from kit.records.values import Dog

FULL_DATE = len("2026-03-01")
DECEMBER = 12
_NOTED = re.compile(r"\b(collar|litter): *([^;,\n]+)", re.IGNORECASE)
_COLLAR = re.compile(r"\bcollar: *([^;,\n]+)", re.IGNORECASE)


def has_age(dog: Dog) -> bool:
    """Tell whether a dog's day of birth is known, so that its readings have an age in days."""
    return len(dog.born) == FULL_DATE


def puppy_of(dog: Dog, name: str = "") -> Puppy:
    """Return a stored dog as a puppy; its day of birth must be known.

    A date of death known only to the month or year counts as its last day, so that no reading
    taken while the puppy lived is lost.
    """
    noted = {key.lower(): text.strip() for key, text in _NOTED.findall(dog.note)}
    return Puppy(
        name=name or dog.name,
        born=date.fromisoformat(dog.born),
        sex=dog.sex,
        mark=noted.get("collar", ""),
        died=_last_day(dog.died) if dog.died else None,
        litter=noted.get("litter", ""),
    )


def _last_day(known: str) -> date:
    """Return the last day a date known to the year, month or day can mean."""
    year, *rest = (int(part) for part in known.split("-"))
    month = rest[0] if rest else DECEMBER
    return date(year, month, rest[1] if len(rest) > 1 else monthrange(year, month)[1])


def mark_of(dog: Dog) -> str:
    """Return a puppy's collar or mark; empty where it has none."""
    found = _COLLAR.search(dog.note)
    return found[1].strip() if found else ""


def with_mark(note: str, mark: str) -> str:
    """Return a note with another collar or mark, or none; the rest of the note stays."""
    rest = re.sub(r"^[;, ]+|[;, ]+$", "", re.sub(r"([;,] *){2,}", "; ", _COLLAR.sub("", note)))
    return "; ".join(filter(None, (f"collar: {plain(mark)}" if plain(mark) else "", rest)))


def plain(mark: str) -> str:
    """Return a mark without what separates the parts of a note."""
    return " ".join(re.sub(r"[;,\n]", " ", mark).split())


def followed(store: Store, dogs: Sequence[Dog]) -> tuple[tuple[Reading, ...], tuple[Puppy, ...]]:
    """Return what was read of these dogs, and the dogs as puppies; namesakes are told apart."""
    named = labels(dogs)
    readings = tuple(
        replace(row.reading, dog=named[dog.id]) for dog in dogs for row in store.readings(dog.id)
    )
    return readings, tuple(puppy_of(dog, named[dog.id]) for dog in dogs)


def labels(dogs: Sequence[Dog]) -> dict[str, str]:
    """Return a name for each dog by identity; dogs of one name are told apart by date or number."""
    found: dict[str, str] = {}
    for dog in dogs:
        namesakes = [one for one in dogs if one.name == dog.name]
        label = dog.name
        if len(namesakes) > 1:
            alike = [one for one in namesakes if one.born == dog.born]
            label += f" ({dog.born})" if len(alike) == 1 else f" ({dog.transponder or dog.id[:8]})"
        found[dog.id] = label
    return found
