"""Read TOML data files strictly: every fault names the file, the table and the key."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kit.quantities.errors import DataFileError

MAXIMUM_BYTES = 2_000_000


@dataclass(frozen=True)
class Table:
    """One TOML table together with where it stands.

    Attributes
    ----------
    where : str
        File and table, as shown in errors.
    content : Mapping
        The parsed keys.
    """

    where: str
    content: Mapping[str, Any]

    def fault(self, key: str, needed: str, given: object = "") -> DataFileError:
        """Build the error for one key of this table."""
        shown = "" if given == "" else repr(given)
        return DataFileError(f"{self.where}, key '{key}'", needed, shown, "correct the file")

    def only(self, allowed: Iterable[str]) -> None:
        """Raise DataFileError for a key that is not among `allowed`."""
        known = set(allowed)
        for key in self.content:
            if key not in known:
                raise self.fault(key, "one of " + ", ".join(sorted(known)), key)

    def text(self, key: str, default: str | None = None) -> str:
        """Return a non-empty string."""
        value = self.content.get(key, default)
        if not isinstance(value, str) or (not value.strip() and default is None):
            raise self.fault(key, "a text", "nothing" if value is None else value)
        return value.strip()

    def number(self, key: str) -> float:
        """Return a finite number."""
        value = self.optional_number(key)
        if value is None:
            raise self.fault(key, "a number", "nothing")
        return value

    def optional_number(self, key: str) -> float | None:
        """Return a finite number, or None where the key is absent."""
        value = self.content.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > 1e12:
            raise self.fault(key, "a number", value)
        if value != value:
            raise self.fault(key, "a number", value)
        return float(value)

    def flag(self, key: str, *, default: bool = False) -> bool:
        """Return true or false."""
        value = self.content.get(key, default)
        if not isinstance(value, bool):
            raise self.fault(key, "true or false", value)
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of strings; an absent key is an empty list."""
        value = self.content.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.fault(key, "a list of texts", value)
        return tuple(value)

    def choice(self, key: str, allowed: Iterable[str], default: str | None = None) -> str:
        """Return one of the allowed words."""
        value = self.text(key, default)
        words = tuple(allowed)
        if value not in words:
            raise self.fault(key, "one of " + ", ".join(words), value)
        return value

    def table(self, key: str) -> Table:
        """Return a sub-table; an absent one is empty."""
        value = self.content.get(key, {})
        if not isinstance(value, dict):
            raise self.fault(key, "a table", value)
        return Table(f"{self.where}, table [{key}]", value)

    def tables(self, key: str) -> dict[str, Table]:
        """Return named sub-tables in file order."""
        return {name: self.table(key).table(name) for name in self.table(key).content}

    def array(self, key: str) -> tuple[Table, ...]:
        """Return an array of tables; an absent one is empty."""
        value = self.content.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise self.fault(key, f"tables written [[{key}]]", value)
        return tuple(
            Table(f"{self.where}, [[{key}]] number {number}", item)
            for number, item in enumerate(value, start=1)
        )


def read_toml(path: Path) -> Table:
    """Parse one TOML file.

    Raises
    ------
    DataFileError
        If the file cannot be read, is too large, or is no TOML.
    """
    try:
        if path.stat().st_size > MAXIMUM_BYTES:
            raise DataFileError(f"{path} is too large", f"at most {MAXIMUM_BYTES} bytes")
        with path.open("rb") as file:
            return Table(path.name, tomllib.load(file))
    except OSError as fault:
        raise DataFileError(
            f"cannot read {path}", "a readable file", str(fault.strerror)
        ) from fault
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise DataFileError(f"{path} is not valid TOML", given=str(fault)) from fault
