"""Errors that say what failed, what was needed, what was given and what to do."""

from __future__ import annotations


class KitError(Exception):
    """A fault a person can act on.

    Parameters
    ----------
    what : str
        What failed.
    needed, given, do : str
        What was needed, what was given instead, and the way out. Each may be empty.
    """

    def __init__(self, what: str, needed: str = "", given: str = "", do: str = "") -> None:
        super().__init__(what, needed, given, do)
        self.what = what
        self.needed = needed
        self.given = given
        self.do = do

    def __str__(self) -> str:
        parts = [self.what]
        if self.needed:
            parts.append(f"needed: {self.needed}")
        if self.given:
            parts.append(f"given: {self.given}")
        if self.do:
            parts.append(f"do: {self.do}")
        return "; ".join(parts)


class EntryError(KitError):
    """A written entry that cannot be read without guessing."""


class UnitError(KitError):
    """A unit of the wrong dimension, or none the kit knows."""


class DataFileError(KitError):
    """A data file (catalogue, standard, readings) that does not hold what it must."""


class GeometryError(KitError):
    """Readings that no dog can have: a triangle that cannot close, a rise longer than the bone."""


class EstimationError(KitError):
    """An estimate or an uncertainty that cannot be worked out from what was given."""
