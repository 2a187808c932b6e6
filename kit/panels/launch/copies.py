"""Notebooks laid into a person's own folder, never over something they changed."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from kit.panels.launch.notebooks import ENDING, fingerprint
from kit.quantities.errors import DataFileError, KitError

RECORD = ".conformation-kit.json"
NEWER = "-newer"


@dataclass(frozen=True)
class Copy:
    """One notebook in the folder: where it is, and what the person should know about it."""

    path: Path
    message: str = ""


def lay_out(notebooks: Mapping[str, Path], folder: Path) -> dict[str, Copy]:
    """Copy notebooks into a folder and return the copies by name.

    A copy whose cells the person changed stays as it is; where the kit has a newer one meanwhile,
    that is laid beside it as ``NAME-newer.ipynb``. What counts as the kit's own is recorded in
    the folder by the digest of every notebook laid there.

    Raises
    ------
    KitError
        If the folder cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        record = _read_record(folder)
        laid = {name: _lay(path, folder, record) for name, path in notebooks.items()}
        _write_record(folder, record)
    except OSError as fault:
        raise KitError(
            f"the notebooks cannot be laid into {folder}",
            "a folder that can be written",
            str(fault.strerror),
            "name another with --folder",
        ) from fault
    return laid


def _lay(source: Path, folder: Path, record: dict[str, str]) -> Copy:
    target, wanted = folder / source.name, fingerprint(source)
    if not target.exists() or _is_ours(target, record.get(source.name, "")):
        if not target.exists() or fingerprint(target) != wanted:
            _copy(source, target)
        record[source.name] = wanted
        return Copy(target)
    if _digest(target) == wanted:
        record[source.name] = wanted
        return Copy(target)
    if record.get(source.name) == wanted:
        told = f"{target.name} holds changes of yours; move it away to get the kit's own again"
        return Copy(target, told)
    return Copy(target, _lay_beside(source, target, record, wanted))


def _lay_beside(source: Path, target: Path, record: dict[str, str], wanted: str) -> str:
    beside = target.with_name(target.stem + NEWER + ENDING)
    if beside.exists() and _digest(beside) not in {wanted, record.get(beside.name, "")}:
        return (
            f"{target.name} and {beside.name} both hold changes of yours and stay; "
            "move one away to get the kit's newer version"
        )
    _copy(source, beside)
    record[beside.name] = wanted
    return f"{target.name} holds changes of yours and stays; the kit's newer one is {beside.name}"


def _is_ours(target: Path, recorded: str) -> bool:
    return bool(recorded) and _digest(target) == recorded


def _digest(path: Path) -> str:
    """Return the fingerprint of a file; empty where it is no notebook (then it is not ours)."""
    try:
        return fingerprint(path)
    except DataFileError:
        return ""


def _copy(source: Path, target: Path) -> None:
    """Write the whole file or none of it; a copy can be written even if the source cannot."""
    _replace(target, source.read_bytes())


def _replace(target: Path, content: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=".laying-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(name).chmod(0o644)
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _read_record(folder: Path) -> dict[str, str]:
    """Return what was laid here before; a record that cannot be read means: nothing is ours."""
    path = folder / RECORD
    if not path.exists():
        return {}
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except ValueError:
        return {}
    pairs = content.items() if isinstance(content, dict) else ()
    return {key: value for key, value in pairs if isinstance(value, str)}


def _write_record(folder: Path, record: Mapping[str, str]) -> None:
    _replace(folder / RECORD, json.dumps(dict(sorted(record.items())), indent=1).encode())
