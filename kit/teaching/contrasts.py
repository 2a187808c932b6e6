"""The contrasts the kit can draw: what changes, what goes with it, and the words for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from kit.protocol.catalogue import catalogue, did_you_mean
from kit.quantities.errors import DataFileError
from kit.quantities.formatting import number
from kit.quantities.kinds import Kind
from kit.quantities.toml_table import Table, read_toml
from kit.teaching.plane import plane_traits
from kit.traits.declarations import trait

_KEYS = ("trait", "title", "under", "over", "step", "part_of", "gives", "follows")
SLIGHT = 0.3  # from this part of a step on a dog is "slightly", from 0.8 "clearly" so
CLEAR = 0.8


@dataclass(frozen=True)
class Contrast:
    """One trait to teach.

    Attributes
    ----------
    key, trait, title : str
    under, over : str
        What a dog with too little, and with too much of it is called.
    step : float
        A change every eye sees, in the unit of the trait.
    part_of : str
        What a ratio is a part of; empty for angles.
    gives : frozenset of str
        Measurements that may change.
    follows : frozenset of str
        Traits that go with it by anatomy.
    """

    key: str
    trait: str
    title: str
    under: str
    over: str
    step: float
    part_of: str
    gives: frozenset[str]
    follows: frozenset[str]

    @property
    def kind(self) -> Kind:
        """The kind of the trait."""
        return trait(self.trait).kind

    def amount_text(self, amount: float) -> str:
        """Write a change: ``3.5 %`` or ``6°``, without its sign."""
        if self.kind is Kind.ANGLE:
            return f"{_short(abs(amount))}°"
        return f"{_short(abs(amount) * 100.0)}\u00a0%"

    def grade(self, amount: float) -> str:
        """Say in words how a dog changed by this amount looks."""
        part = amount / self.step
        if abs(part) < SLIGHT:
            return "as asked"
        word = self.over if part > 0 else self.under
        return f"{'clearly' if abs(part) >= CLEAR else 'slightly'} {word}"


def _short(value: float) -> str:
    """Write a number with one decimal, two where it is small, none where that says nothing."""
    shown = number(value, 2 if value < 0.5 else 1)
    return shown.rstrip("0").removesuffix(".") if "." in shown else shown


def _known(table: Table, key: str, names: tuple[str, ...], known: Mapping[str, object]) -> None:
    for name in names:
        if name not in known:
            raise table.fault(key, "keys of the kit", name)


def _contrast(key: str, table: Table) -> Contrast:
    table.only(_KEYS)
    plane = dict.fromkeys(plane_traits())
    gives, follows = table.texts("gives"), table.texts("follows")
    declared = table.choice("trait", plane)
    _known(table, "gives", gives, catalogue().measurements)
    _known(table, "follows", follows, plane)
    ratio = trait(declared).kind is Kind.RATIO
    return Contrast(
        key,
        declared,
        table.text("title"),
        table.text("under"),
        table.text("over"),
        table.number("step"),
        table.text("part_of") if ratio else "",
        frozenset(gives),
        frozenset(follows),
    )


@cache
def contrasts() -> Mapping[str, Contrast]:
    """Return every contrast by key.

    Raises
    ------
    DataFileError
        Naming file, table and key of the first fault.
    """
    root = read_toml(Path(__file__).with_name("contrasts.toml"))
    root.only(("source", "contrasts"))
    root.text("source")
    tables = root.tables("contrasts")
    return MappingProxyType({key: _contrast(key, table) for key, table in tables.items()})


def contrast(name: str) -> Contrast:
    """Return one contrast by its own key or by that of its trait.

    Raises
    ------
    DataFileError
        If there is none, with near names.
    """
    by_trait = {one.trait: one for one in contrasts().values()}
    found = contrasts().get(name) or by_trait.get(name)
    if found is None:
        hint = did_you_mean(name, {**contrasts(), **by_trait})
        raise DataFileError(f"no contrast is called '{name}'", ", ".join(contrasts()), name, hint)
    return found
