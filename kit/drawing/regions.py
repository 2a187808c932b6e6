"""Which part of the dog a trait belongs to: the order pictures and tables go round the dog in."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from kit.quantities.toml_table import read_toml

T = TypeVar("T")
ELSEWHERE = "Further"


@cache
def regions() -> Mapping[str, tuple[str, ...]]:
    """Return the trait keys of each region by its title, in the order they are shown."""
    tables = read_toml(Path(__file__).with_name("regions.toml")).array("region")
    return MappingProxyType({table.text("title"): table.texts("traits") for table in tables})


@cache
def _places() -> Mapping[str, str]:
    return {key: title for title, keys in regions().items() for key in keys}


def region_of(key: str) -> str:
    """Return the title of a trait's region; a trait of no region is ELSEWHERE."""
    return _places().get(key, ELSEWHERE)


def by_region(items: Iterable[T], key: Callable[[T], str]) -> list[tuple[str, list[T]]]:
    """Group items by the region of their trait, in its order; empty regions are left out."""
    found: dict[str, list[T]] = {title: [] for title in (*regions(), ELSEWHERE)}
    order = {name: place for place, name in enumerate(_places())}
    for item in sorted(items, key=lambda item: order.get(key(item), len(order))):
        found[region_of(key(item))].append(item)
    return [(title, group) for title, group in found.items() if group]
