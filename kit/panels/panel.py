"""The measuring panel: one widget for JupyterLab and Voilà.

The page sends what was typed with an identity of its own and shows it as stored only when this
side answers, which it does after the records have read it back. Every other fault reaches the
page as a sentence.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from threading import RLock
from typing import Any

import anywidget

from kit.panels.easel import Easel
from kit.panels.pages import script, styles
from kit.panels.pictures import drawn_angles, drawn_values, warm_up, where_svg
from kit.panels.sitting import STANDARD
from kit.panels.snapshot import (
    Json,
    Part,
    clock,
    findings_part,
    fixed_part,
    list_part,
    questions_part,
    setup_part,
)
from kit.panels.state import Target
from kit.panels.table import Entry, Table, echo
from kit.quantities.errors import KitError
from kit.records.store import open_store

_SCRIPTS = ("page/elements.js", "page/line.js", "page/note.js", "page/entry.js", "page/lists.js",
            "page/setup.js", "page/panel.js")  # fmt: skip
Message = Mapping[str, Any]
REMEMBERED = 200
"""Answers kept, so that an order sent twice is done once."""


class MeasuringPanel(anywidget.AnyWidget):
    """Measure dogs: entries in, pictures and findings out.

    Parameters
    ----------
    database : str or Path, optional
        The records file; without one, the user's own records.
    standard : str
        Name of a shipped standard, or the path of a file.
    units : str
        What a bare number means: ``cm`` or ``in``.
    easel : Easel, optional
        What draws the dog; without one it is drawn in this process.
    """

    _esm = script(*_SCRIPTS)
    _css = styles(".kit-panel", "page/panel.css")

    def __init__(self, database: str | Path | None = None, standard: str = STANDARD,
                 units: str = "cm", easel: Easel | None = None) -> None:  # fmt: skip
        super().__init__()
        self._settings = (database, standard, units)
        self._guard = RLock()
        self._easel = easel or Easel()
        self._sent: dict[str, Json] = {}
        self._answered: dict[str, Message] = {}
        self._owes = False  # whether something was done that the page does not show yet
        self.table: Table | None = None
        self.on_msg(self._receive)

    def _receive(self, _widget: object, message: Message, _buffers: object) -> None:
        """Take one message, on whatever thread it comes; nothing may escape unseen."""
        with self._guard:
            try:
                self._act(message)
            except KitError as fault:
                self._refuse(message, str(fault))
            except Exception as fault:  #  (a callback's error is shown nowhere else)
                self._refuse(message, _unforeseen(fault))

    def _refuse(self, message: Message, text: str) -> None:
        kind = "answer" if message.get("op") in _ACTIONS else "fault"
        self._answer({"op": kind, "id": message.get("id", ""), "ok": False, "text": text})

    def _answer(self, answer: Message) -> None:
        """Send an answer and remember it: the page asks again where it hears none."""
        self._answered[str(answer["id"])] = answer
        while len(self._answered) > REMEMBERED:
            del self._answered[next(iter(self._answered))]
        self.send(answer)

    def _act(self, message: Message) -> None:
        name = message.get("op")
        if name == "ping":
            self.send({"op": "pong"})
            if self.table is not None and self.table.refresh():
                self._show(self.table, follow=False)
        elif name == "hello":
            self._open()
        elif name == "where":
            keys = [str(key) for key in message["keys"]]
            self.send({"op": "where", "pictures": {key: where_svg(key) for key in keys}})
        else:
            self._do(message)

    def _open(self) -> None:
        """Open the records and send everything; a fault is a sentence and can be tried again."""
        if self.table is None:
            database, standard, units = self._settings
            self.table = Table(open_store(database), standard, units)
        self.table.refresh()
        self._sent.clear()
        self._show(self.table, follow=True)
        warm_up()

    def _do(self, message: Message) -> None:
        if message.get("id") in self._answered:
            self.send(self._answered[message["id"]])
            return
        table = self.table
        action = _ACTIONS.get(str(message.get("op")))
        if table is None or action is None:
            raise KitError("the panel is not ready", do="wait a moment, then do it again")
        try:
            said = action(table, message)
        except KitError as fault:
            self._refuse(message, str(fault))
        else:
            self._answer({"op": "answer", "id": message.get("id", ""), "ok": True, **said})
            self._owes = True
        # Of several orders in a row the last brings the picture, also where it was refused itself.
        if self._owes and not message.get("more"):
            self._show_or_say(table, message)

    def _show_or_say(self, table: Table, message: Message) -> None:
        self._owes = False
        try:
            self._show(table, follow=message["op"] in _MOVING)
        except Exception as fault:  #  (what was stored is stored; say the rest)
            text = f"What was entered is stored. {_unforeseen(fault)}"
            self.send({"op": "fault", "text": text})

    def _show(self, table: Table, *, follow: bool) -> None:
        """Send every part that changed since it was last sent."""
        with table.lock:
            # The dog is drawn while the rest is worked out; its angles are what comes of it first.
            values = drawn_values(table.assessment.estimates)
            self._easel.begin(values)
            self._easel.ask(values, drawn_angles(table.assessment))
            parts: dict[str, Part] = {
                "setup": setup_part(table),
                "list": list_part(table),
                "questions": questions_part(table),
                "findings": findings_part(table),
            }
            at = {"key": table.state.at.measurement, "side": table.state.at.side}
        if "fixed" not in self._sent:
            parts["fixed"] = fixed_part(table)
        # The picture goes with the rest: the page then has one thing to lay out and to paint.
        try:
            parts["view"] = {"svg": self._easel.take()}
        finally:  # without a picture, the rest all the same
            self.send({"op": "state", "parts": self._changed(parts), "at": at, "follow": follow})

    def _changed(self, parts: Mapping[str, Part]) -> dict[str, Json]:
        """Return the parts that differ from what the page has; of the list, the lines that do."""
        fresh: dict[str, Json] = {}
        for name, part in parts.items():
            if name == "list":
                lines = {key: line for key, line in part.items()
                         if self._is_new(f"list.{key}", line)}  # fmt: skip
                if lines:
                    fresh[name] = lines
            elif self._is_new(name, part):
                fresh[name] = part
        return fresh

    def _is_new(self, name: str, value: Json) -> bool:
        if name in self._sent and self._sent[name] == value:
            return False
        self._sent[name] = value
        return True


def measuring_panel(database: str | Path | None = None, standard: str = STANDARD,
                    units: str = "cm") -> MeasuringPanel:  # fmt: skip
    """Make the measuring panel, which draws on the machine's other core; see `MeasuringPanel`."""
    return MeasuringPanel(database, standard, units, Easel(aside=True))


def _unforeseen(fault: Exception) -> str:
    return (
        f"Something the kit did not foresee went wrong ({type(fault).__name__}: {fault}); do: run "
        "the notebook again. All that is shown as stored is safe."
    )


def _target(message: Message) -> Target:
    return Target(str(message["key"]), str(message.get("side", "")))


def _particulars(message: Message) -> list[str]:
    return [str(message.get(name, "")) for name in ("name", "sex", "born", "transponder")]


def _enter(table: Table, message: Message) -> Part:
    row = table.keep(
        Entry(
            text=str(message["text"]),
            target=_target(message),
            identity=str(message.get("id", "")),
            dog=str(message.get("dog", "")),
            time=str(message.get("time", "")),
            instead=str(message.get("instead", "")),
            stay=bool(message.get("stay")),
        )
    )
    return {"stored": clock(row.stored_at), "echo": echo(row.reading), "reading": row.id}


def _said(action: Callable[[Table, Message], object]) -> Callable[[Table, Message], Part]:
    """Let an action's text, if it returns one, be said to the person."""

    def answer(table: Table, message: Message) -> Part:
        text = action(table, message)
        return {"text": text if isinstance(text, str) else ""}

    return answer


_ACTIONS: Mapping[str, Callable[[Table, Message], Part]] = {
    "enter": _enter,
    "confirm": _said(lambda table, m: table.confirm(str(m["reading"]))),
    "note": _said(lambda table, m: table.add_note(str(m["reading"]), str(m["text"]))),
    "undo": _said(lambda table, _: table.undo()),
    "redo": _said(lambda table, _: table.redo()),
    "skip": _said(lambda table, m: table.skip(_target(m))),
    "stand": _said(lambda table, _: table.stand_anew()),
    "side": _said(lambda table, m: table.choose_side(str(m["side"]))),
    "dog": _said(lambda table, m: table.choose_dog(str(m["dog"]))),
    "add_dog": _said(lambda table, m: table.add_dog(*_particulars(m))),
    "change_dog": _said(lambda table, m: table.change_dog(str(m["dog"]), *_particulars(m))),
    "session": _said(lambda table, m: table.choose_session(str(m["session"]))),
    "standard": _said(lambda table, m: table.choose_standard(str(m["standard"]))),
    "units": _said(lambda table, m: table.set_units(str(m["units"]))),
    "hands": _said(lambda table, m: table.set_hands(str(m["measurer"]), str(m["writer"]))),
    "tool": _said(lambda table, m: table.set_instrument(str(m["key"]), str(m["tool"]))),
    "repeats": _said(lambda table, m: table.set_repeats(int(m["repeats"]))),
}
_MOVING = frozenset({"dog", "add_dog", "session", "stand", "side", "undo", "redo"})
