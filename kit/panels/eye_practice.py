"""The panel for seeing practice: drawings, two answers, five minutes, and what they show."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from threading import RLock
from typing import Any

import anywidget

from kit.drawing.contrast import single, together
from kit.drawing.practice import curve, progress
from kit.drawing.svg import to_svg
from kit.figure.model import Figure
from kit.panels.pages import script, styles
from kit.quantities.errors import EstimationError, KitError
from kit.quantities.formatting import number
from kit.records.connection import data_folder
from kit.standards.standard import load_standard, shipped_standards
from kit.standards.target import own_height, target_figure
from kit.teaching.contrast import changed
from kit.teaching.contrasts import contrast, contrasts
from kit.teaching.practice import Plan, Session, result
from kit.teaching.progress import FILE_NAME, Kept, append, read, stages
from kit.teaching.psychometric import Answers
from kit.teaching.words import choices, in_words, question

_SCRIPTS = ("page/elements.js", "eye_page/eye.js")
Message = Mapping[str, Any]
STANDARD = "common-practice-terrier"


class EyePractice(anywidget.AnyWidget):
    """Practise seeing one trait at a time.

    Parameters
    ----------
    file : Path, optional
        Where sessions are kept; without one, beside the user's own records.
    seconds : float
        How long a session lasts.
    seed : int, optional
        For the order of the drawings; without one, a new one each session.
    """

    _esm = script(*_SCRIPTS)
    _css = styles(".kit-eye", "eye_page/eye.css")

    def __init__(self, file: Path | None = None, seconds: float = 300.0,
                 seed: int | None = None) -> None:  # fmt: skip
        super().__init__()
        self._file = file or data_folder() / FILE_NAME
        self._seconds, self._seed = seconds, seed
        self._guard = RLock()
        self.session: Session | None = None
        self.learner, self.began = "", ""
        self.on_msg(self._receive)

    def _receive(self, _widget: object, message: Message, _buffers: object) -> None:
        """Take one message, on whatever thread it comes; nothing may escape unseen."""
        with self._guard:
            try:
                self.send(self.act(message))
            except KitError as fault:
                self.send({"op": "fault", "text": str(fault)})
            except Exception as fault:  #  (a callback's error is shown nowhere else)
                text = f"Something went wrong here: {type(fault).__name__}: {fault}"
                self.send({"op": "fault", "text": text})

    def act(self, message: Message) -> dict[str, Any]:
        """Do what a message asks and return what the page shows next.

        Raises
        ------
        KitError
            If it cannot be done.
        """
        action = _ACTIONS.get(str(message.get("op")))
        if action is None:
            raise KitError("the panel does not know this", ", ".join(_ACTIONS), str(message))
        return action(self, message)

    def _hello(self, _: Message) -> dict[str, Any]:
        if self.session is not None:
            return self._trial()
        titles = {name: load_standard(name).title for name in shipped_standards()}
        return {
            "op": "setup",
            "contrasts": [[one.key, one.title] for one in contrasts().values()],
            "standards": sorted(titles.items(), key=lambda pair: pair[1]),
            "standard": STANDARD,
            "learners": sorted({kept.learner for kept in read(self._file)}),
            "minutes": round(self._seconds / 60.0, 1),
        }

    def _start(self, message: Message) -> dict[str, Any]:
        seed = secrets.randbelow(10**6) if self._seed is None else self._seed
        plan = Plan(str(message["contrast"]), str(message["standard"]), str(message["choice"]),
                    str(message["method"]), seed, self._seconds, bool(message["tell"]))  # fmt: skip
        self.learner = str(message["learner"]).strip() or "somebody"
        self.session = Session(plan)
        self.began = datetime.now().astimezone().isoformat(timespec="seconds")
        return self._trial()

    def _answer(self, message: Message) -> dict[str, Any]:
        session = self._under_way()
        if int(message["number"]) != len(session.answers):
            return self._trial()  # sent twice: taken once
        at = float(message["at"])
        given = session.answer(bool(message["over"]), at)
        if session.is_over(at):
            return self._finish(message)
        told = ""
        if session.plan.tell:
            truth = session.contrast.amount_text(given.trial.level)
            which = choices(session.contrast, session.plan.choice)[given.trial.level > 0]
            said = "Right" if given.right else "Not so"
            told = f"{said}: {which} by {truth}." if given.trial.level else "They were alike."
        return self._trial(told)

    def _finish(self, _: Message) -> dict[str, Any]:
        session = self._under_way()
        kept = Kept(self.learner, self.began, session.plan, tuple(session.answers))
        self.session = None
        if not kept.answers:
            return self._hello({})
        append(self._file, kept)
        return {"op": "result", **self._shown(kept)}

    def _shown(self, kept: Kept) -> dict[str, Any]:
        plan, one = kept.plan, contrast(kept.plan.contrast)
        try:
            found = result(plan, kept.answers)
        except EstimationError as fault:
            text = f"Too little to judge yet ({fault}). The session is kept."
            return {"sentences": [text], "pictures": []}
        answers = Answers.of([a.trial.level for a in kept.answers], [a.over for a in kept.answers])
        way = stages(read(self._file), kept.learner, plan.contrast, plan.choice)
        pictures = [curve(found, answers, plan.choice), progress(way, one)]
        score = f"{found.right} of {found.total} answers were right"
        score += f" (d′ {number(found.detection.d_prime, 1)})."
        return {"sentences": [*in_words(found, plan.choice), score],
                "pictures": [to_svg(scene) for scene in pictures]}  # fmt: skip

    def _trial(self, told: str = "") -> dict[str, Any]:
        session = self._under_way()
        plan = session.plan
        drawn = tuple(round(amount, 9) for amount in session.trial.amounts)
        return {
            "op": "trial",
            "number": len(session.answers),
            "svg": _picture(plan.standard, plan.contrast, drawn),
            "question": question(session.contrast, plan.choice),
            "choices": list(choices(session.contrast, plan.choice)),
            "seconds": plan.seconds,
            "told": told,
        }

    def _under_way(self) -> Session:
        if self.session is None:
            raise KitError("no session is under way", do="start one")
        return self.session


_ACTIONS: Mapping[str, Callable[[EyePractice, Message], dict[str, Any]]] = {
    "hello": EyePractice._hello,
    "start": EyePractice._start,
    "answer": EyePractice._answer,
    "finish": EyePractice._finish,
}


@lru_cache(maxsize=8)
def _target(standard: str) -> Figure:
    read_standard = load_standard(standard)
    return target_figure(read_standard, own_height(read_standard))


@lru_cache(maxsize=256)
def _picture(standard: str, key: str, amounts: tuple[float, ...]) -> str:
    figures = [changed(_target(standard), key, amount) for amount in amounts]
    return to_svg(single(figures[0]) if len(figures) == 1 else together(figures))


def eye_practice(file: Path | None = None) -> EyePractice:
    """Make the panel; see `EyePractice`."""
    return EyePractice(file)
