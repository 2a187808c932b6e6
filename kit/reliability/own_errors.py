"""A club's own repeat errors: from a measurer study into the protocol, instead of typical ones."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from kit.protocol.catalogue import Catalogue, Definition, Source
from kit.quantities.errors import DataFileError
from kit.quantities.toml_table import Table, read_toml
from kit.reliability.study import MEASURER, PAIR, Studied

T = TypeVar("T")
OWN_STUDY = "own_study"
"""Key of the source of errors that a club's own study found."""
FEWEST_DOF = 15
"""Degrees of freedom below which a study tells less than the typical error (common practice)."""


@dataclass(frozen=True)
class OwnError:
    """Errors of one measurement as a club's own measurers make them, in the unit of its kind."""

    measurement: str
    repeat_error: float
    posture_error: float
    dof: int


def own_errors(studied: Iterable[Studied], catalogue: Catalogue) -> tuple[OwnError, ...]:
    """Turn a study into errors for the protocol.

    What one hand repeats to is the repeat error. The error from one stand to the next becomes what
    different hands add, because any one of them may measure a dog, and the typical error of
    posture unless the study's repeats, each a stand of its own, hold that already. A study with
    too few repeats is left out.
    """
    found = []
    for one in studied:
        known = catalogue.measurements.get(one.key)
        if known is None or one.within.dof < FEWEST_DOF:
            continue
        hands = math.sqrt(one.components.variance(MEASURER, PAIR))
        posture = hands if one.stood_anew else math.hypot(hands, known.posture_error)
        found.append(OwnError(one.key, _rounded(one.within.tem), _rounded(posture), one.within.dof))
    return tuple(found)


def _rounded(value: float) -> float:
    """Keep two digits: the study bears no more."""
    return float(f"{value:.2g}")


def own_errors_text(errors: Iterable[OwnError], club: str, when: str) -> str:
    """Write own errors as a TOML file; read it with `with_own_errors`."""
    lines = [
        "# Errors of our own measurers, from a measurer study. They replace the typical errors of",
        "# the kit's catalogue: cm, degrees or kg, standard deviations.",
        "",
        "[study]",
        f"club = {_quoted(club)}",
        f"when = {_quoted(when)}",
    ]
    for one in errors:
        lines += ["", f"[measurements.{one.measurement}]",
                  f"repeat_error = {one.repeat_error!r}", f"posture_error = {one.posture_error!r}",
                  f"dof = {one.dof}"]  # fmt: skip
    return "\n".join([*lines, ""])


def _quoted(text: str) -> str:
    plain = "".join(sign for sign in text if sign.isprintable())
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


def with_own_errors(catalogue: Catalogue, path: Path) -> Catalogue:
    """Return the catalogue with the errors of a club's own file in place of the typical ones.

    Raises
    ------
    DataFileError
        Naming file, table and key of the first fault.
    """
    root = read_toml(path)
    root.only(("study", "measurements"))
    head = root.table("study")
    head.only(("club", "when"))
    source = Source(OWN_STUDY, f"measurer study of {head.text('club')}, {head.text('when')}",
                    "measured")  # fmt: skip
    tables = root.tables("measurements")
    if not tables:
        raise DataFileError(f"{path.name} replaces no error", "[measurements.<key>] tables")
    changed = {key: _changed(catalogue, key, table) for key, table in tables.items()}
    measurements = {**catalogue.measurements, **changed}
    sources = {**catalogue.sources, source.key: source}
    return replace(catalogue, sources=_frozen(sources), measurements=_frozen(measurements))


def _changed(catalogue: Catalogue, key: str, table: Table) -> Definition:
    table.only(("repeat_error", "posture_error", "dof"))
    known = catalogue.measurement(key)
    posture = table.optional_number("posture_error")
    errors = (table.number("repeat_error"), known.posture_error if posture is None else posture)
    for name, error in zip(("repeat_error", "posture_error"), errors, strict=True):
        if not error >= 0:
            raise table.fault(name, "zero or more", error)
    return replace(known, repeat_error=errors[0], posture_error=errors[1],
                   error_source=OWN_STUDY)  # fmt: skip


def _frozen(table: dict[str, T]) -> Mapping[str, T]:
    return MappingProxyType(table)
