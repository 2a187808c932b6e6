"""Rows of readings: how they lie in their table, and a digest over them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

from kit.protocol.readings import Reading
from kit.records.rows import Kind
from kit.records.schema import readings
from kit.records.values import StoredReading

_PLAIN = ("measurement", "raw", "unit", "value", "side", "stand", "measurer", "instrument",
          "time", "note")  # fmt: skip


def _stored(cells: Mapping[str, Any]) -> StoredReading:
    reading = Reading(dog=cells["dog_name"], **{name: cells[name] for name in _PLAIN})
    return StoredReading(
        cells["id"], cells["dog_id"], cells["session_id"], reading, cells["supersedes"] or "",
        bool(cells["withdrawn"]), cells["stored_at"],
    )  # fmt: skip


def _cells(row: StoredReading) -> dict[str, object]:
    plain = {name: getattr(row.reading, name) for name in _PLAIN}
    return plain | {
        "id": row.id,
        "dog_id": row.dog,
        "session_id": row.session,
        "supersedes": row.supersedes or None,
        "withdrawn": row.withdrawn,
        "stored_at": row.stored_at,
    }


READINGS = Kind("reading", readings, _stored, _cells)


def digest(rows: Iterable[StoredReading]) -> str:
    """Return a SHA-256 over rows, whatever their order and whatever the dog is called now."""
    lines = sorted(_line(row) for row in rows)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _line(row: StoredReading) -> str:
    content = asdict(row)
    del content["reading"]["dog"]
    return json.dumps(content, sort_keys=True)
