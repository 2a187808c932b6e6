"""The litter panel: one measurement round the litter, then the next; one widget for notebooks.

It speaks with its page as the measuring panel does: what was typed carries an identity of its own
and is shown as stored only when the records have read it back.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from threading import RLock
from typing import Any

import anywidget

from kit.growth.round import COLLARS, Cell, Planned
from kit.panels.litter_table import BOTH, USUAL, LitterTable, Turn
from kit.panels.pages import script, styles
from kit.panels.snapshot import clock
from kit.panels.table import echo
from kit.quantities.errors import KitError
from kit.records.puppies import mark_of
from kit.records.store import open_store
from kit.records.values import Dog

_SCRIPTS = ("page/elements.js", "page/line.js", "litter_page/choose.js",
            "litter_page/litter.js")  # fmt: skip
Message = Mapping[str, Any]
Json = dict[str, Any]


class LitterPanel(anywidget.AnyWidget):
    """Measure a litter, round by round.

    Parameters
    ----------
    database : str or Path, optional
        The records file; without one, the user's own records.
    units : str
        What a bare weight means: ``g``, ``kg`` or ``lb``.
    """

    _esm = script(*_SCRIPTS)
    _css = styles(".kit-litter", "litter_page/litter.css")

    def __init__(self, database: str | Path | None = None, units: str = "g") -> None:
        super().__init__()
        self._settings = (database, units)
        self._guard = RLock()
        self._answers: dict[str, Json] = {}
        self.table: LitterTable | None = None
        self.on_msg(self._receive)

    def _receive(self, _widget: object, message: Message, _buffers: object) -> None:
        """Take one message, on whatever thread it comes; nothing may escape unseen."""
        with self._guard:
            try:
                self._act(message)
            except KitError as fault:
                self._refuse(message, str(fault))
            except Exception as fault:  #  (a callback's error is shown nowhere else)
                text = (
                    f"Something the kit did not foresee went wrong ({type(fault).__name__}: "
                    f"{fault}); do: run the notebook again. All that is shown as stored is safe."
                )
                self._refuse(message, text)

    def _refuse(self, message: Message, text: str) -> None:
        kind = "answer" if message.get("op") in _ACTIONS else "fault"
        self.send({"op": kind, "id": message.get("id", ""), "ok": False, "text": text})

    def _act(self, message: Message) -> None:
        name = str(message.get("op"))
        if name == "ping":
            self.send({"op": "pong"})
        elif name == "hello":
            self._show(self._opened())
        elif name in _ACTIONS:
            self._do(name, message)
        else:
            raise KitError("the panel does not know this", ", ".join(_ACTIONS), name)

    def _do(self, name: str, message: Message) -> None:
        """Do an order once: the page sends it again where it heard no answer."""
        table, identity = self._opened(), str(message.get("id", ""))
        if identity not in self._answers:
            said = _ACTIONS[name](table, message)
            self._answers[identity] = {"op": "answer", "id": identity, "ok": True, **said}
        self.send(self._answers[identity])
        self._show(table)

    def _opened(self) -> LitterTable:
        if self.table is None:
            database, units = self._settings
            self.table = LitterTable(open_store(database), units)
        return self.table

    def _show(self, table: LitterTable) -> None:
        with table.lock:
            shown = _round_part(table) if table.round else _choose_part(table)
        self.send({"op": "state", "records": f"litter {table.store.where}", **shown})


def litter_panel(database: str | Path | None = None, units: str = "g") -> LitterPanel:
    """Make the litter panel; see `LitterPanel`."""
    return LitterPanel(database, units)


def _choose_part(table: LitterTable) -> Json:
    measurements = table.catalogue.measurements
    return {
        "screen": "choose",
        "litters": [
            {"born": born, "puppies": [_puppy(dog) for dog in dogs if not dog.died],
             "lost": [_puppy(dog) for dog in dogs if dog.died]}
            for born, dogs in table.litters().items()
        ],
        "collars": COLLARS,
        "usual": USUAL,
        "units": table.units,
        "measurements": [[key, one.title] for key, one in measurements.items()],
        "sided": [key for key, one in measurements.items() if one.sided],
    }  # fmt: skip


def _puppy(dog: Dog) -> Json:
    return {"id": dog.id, "name": dog.name, "sex": dog.sex, "mark": mark_of(dog),
            "died": dog.died}  # fmt: skip


def _round_part(table: LitterTable) -> Json:
    going = table.round
    assert going is not None  # noqa: S101  (asked for only where a round goes on)
    return {
        "screen": "round",
        "puppies": [{"id": p.identity, "name": p.name, "mark": p.mark} for p in going.puppies],
        "plan": [_planned(table, planned) for planned in going.plan],
        "now": _cell(going.now),
        "following": _cell(going.following),
        "done": [
            {**_named(step.cell), "reading": step.reading,
             "value": echo(table.rows[step.reading].reading) if step.reading else ""}
            for step in going.done
        ],
    }  # fmt: skip


def _planned(table: LitterTable, planned: Planned) -> Json:
    one = table.catalogue.measurement(planned.measurement)
    return {"key": one.key, "sides": planned.sides, "title": one.title,
            "unit": table.bare(one.kind), "how": one.how, "caution": one.caution}  # fmt: skip


def _cell(cell: Cell | None) -> Json | None:
    return None if cell is None else _named(cell)


def _named(cell: Cell) -> Json:
    return {"puppy": cell.puppy, "key": cell.measurement, "side": cell.side}


def _cell_of(message: Message) -> Cell:
    return Cell(str(message["puppy"]), str(message["key"]), str(message.get("side", "")))


def _enter(table: LitterTable, message: Message) -> Json:
    turn = Turn(
        str(message["text"]), _cell_of(message), str(message.get("id", "")), str(message["time"])
    )
    row = table.keep(turn)
    try:
        asked = table.asked(row)
    except KitError as fault:  # it is stored; what follows from it can wait
        asked = str(fault)
    return {"stored": clock(row.stored_at), "echo": echo(row.reading), "asked": asked}


def _said(action: Callable[[LitterTable, Message], object]) -> Callable[..., Json]:
    """Let an action's text, if it returns one, be said to the person."""

    def answer(table: LitterTable, message: Message) -> Json:
        text = action(table, message)
        return {"text": text if isinstance(text, str) else ""}

    return answer


_ACTIONS: Mapping[str, Callable[[LitterTable, Message], Json]] = {
    "enter": _enter,
    "skip": _said(lambda table, _: table.skip()),
    "undo": _said(lambda table, _: table.undo()),
    "go": _said(lambda table, m: table.go_to(_cell_of(m))),
    "begin": _said(lambda table, m: table.begin([str(one) for one in m["puppies"]],
                                                [str(one) for one in m["measurements"]],
                                                str(m.get("sides", BOTH)))),
    "leave": _said(lambda table, _: table.leave()),
    "units": _said(lambda table, m: table.set_units(str(m["units"]))),
    "change": _said(lambda table, m: table.change_puppy(
        *(str(m[field]) for field in ("puppy", "name", "sex", "born", "died")))),
    "lives": _said(lambda table, m: table.undo_death(str(m["puppy"]))),
    "mark": _said(lambda table, m: table.set_mark(str(m["puppy"]), str(m["mark"]))),
    "add": _said(lambda table, m: table.add_puppy(str(m["name"]), str(m["sex"]), str(m["born"]),
                                                  str(m["mark"]))),
}  # fmt: skip
