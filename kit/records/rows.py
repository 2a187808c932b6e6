"""Append-only rows and the chains they form; every function works inside a caller's transaction.

A row is never changed. A correction, a withdrawal and a restoration are rows of their own that
point at the row they supersede. The *current* row of a chain is its last one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar

from sqlalchemy import Connection, Select, Table, func, insert, select

from kit.records.errors import RecordError
from kit.records.schema import dogs

_CHUNK = 500


class Link(Protocol):
    """What a chain needs to know of a row."""

    @property
    def id(self) -> str:
        """Its identity."""

    @property
    def supersedes(self) -> str:
        """The row it follows; empty for a first one."""

    @property
    def withdrawn(self) -> bool:
        """Whether it takes its predecessor back."""

    @property
    def stored_at(self) -> str:
        """ISO 8601, UTC."""


R = TypeVar("R", bound=Link)


@dataclass(frozen=True)
class Kind(Generic[R]):
    """One kind of row.

    Attributes
    ----------
    noun : str
        What a sentence calls one of them.
    stored : callable
        Makes a row of the columns and, as ``dog_name``, the dog's name as it stands now.
    cells : callable
        Gives the columns of a row.
    """

    noun: str
    table: Table
    stored: Callable[[Mapping[str, Any]], R]
    cells: Callable[[R], dict[str, object]]

    @property
    def query(self) -> Select[Any]:
        """The query of every row, with the name of its dog."""
        joined = self.table.join(dogs, self.table.c.dog_id == dogs.c.id)
        return select(self.table, dogs.c.name.label("dog_name")).select_from(joined)


def append(connection: Connection, kind: Kind[R], rows: Iterable[R]) -> None:
    """Append rows as they are."""
    values = [kind.cells(row) for row in rows]
    if values:
        connection.execute(insert(kind.table), values)


def find(connection: Connection, kind: Kind[R], identities: Iterable[str]) -> dict[str, R]:
    """Return those of the rows that are in the records, by identity."""
    wanted = list(identities)
    found: dict[str, R] = {}
    for start in range(0, len(wanted), _CHUNK):
        query = kind.query.where(kind.table.c.id.in_(wanted[start : start + _CHUNK]))
        rows = (kind.stored(row._asdict()) for row in connection.execute(query))
        found |= {row.id: row for row in rows}
    return found


def last_of(connection: Connection, kind: Kind[R], identity: str) -> R:
    """Return a row that nothing supersedes yet.

    Raises
    ------
    RecordError
        If there is no such row, or another entry has superseded it.
    """
    table, noun = kind.table, kind.noun
    # On a server the lock on the row keeps two stations from correcting it at the same moment.
    connection.execute(select(table.c.id).where(table.c.id == identity).with_for_update())
    row = find(connection, kind, [identity]).get(identity)
    if row is None:
        needed = f"the identity of a stored {noun}"
        raise RecordError(f"there is no such {noun}", needed, identity)
    later = connection.scalar(select(table.c.id).where(table.c.supersedes == identity))
    if later is not None:
        raise RecordError(f"this {noun} has been changed since", "its latest state",
                          f"changed by {later}", "look at it again, then decide")  # fmt: skip
    return row


def history(
    connection: Connection, kind: Kind[R], dog: str | None, session: str | None = None
) -> list[R]:
    """Return every row in the order it was taken in, of one dog and session or of all."""
    query = kind.query.order_by(kind.table.c.number)
    if dog is not None:
        query = query.where(kind.table.c.dog_id == dog)
    if session is not None:
        query = query.where(kind.table.c.session_id == session)
    return [kind.stored(row._asdict()) for row in connection.execute(query)]


def count(connection: Connection, table: Table, dog: str | None = None) -> int:
    """Return how many rows there are: it only ever grows."""
    query = select(func.count()).select_from(table)
    if dog is not None:
        query = query.where(table.c.dog_id == dog)
    return connection.scalar(query) or 0


def chains(rows: Sequence[R]) -> list[list[R]]:
    """Return the rows grouped by the first one they go back to, in the order given.

    A row whose predecessor is not among `rows` begins a chain of its own.
    """
    known = {row.id: row for row in rows}
    groups: dict[str, list[R]] = defaultdict(list)
    for row in rows:
        groups[_root(row, known)].append(row)
    return list(groups.values())


def _root(row: R, known: Mapping[str, R]) -> str:
    seen = {row.id}
    while row.supersedes in known and row.supersedes not in seen:
        seen.add(row.supersedes)
        row = known[row.supersedes]
    return row.id


def ends(chain: Sequence[R]) -> list[R]:
    """Return the rows of a chain that nothing supersedes, the latest last.

    There is more than one only where stations that were apart changed the same row.
    """
    superseded = {row.supersedes for row in chain}
    last = [row for row in chain if row.id not in superseded]
    return sorted(last, key=lambda row: (row.stored_at, row.id))


def current(rows: Sequence[R]) -> list[R]:
    """Return the row each chain stands at now, without the withdrawn ones.

    Of two ends the later entry counts; the same rule at every station gives the same answer.
    """
    latest = [end[-1] for end in map(ends, chains(rows)) if end]
    return [row for row in latest if not row.withdrawn]


def statuses(rows: Sequence[R]) -> dict[str, str]:
    """Return what each row is now, by identity: ``current``, ``superseded`` or ``withdrawn``."""
    counting = {row.id for row in current(rows)}
    superseded = {row.supersedes for row in rows}
    return {row.id: "current" if row.id in counting
            else "withdrawn" if row.withdrawn and row.id not in superseded else "superseded"
            for row in rows}  # fmt: skip
