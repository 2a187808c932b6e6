"""Practice kept over weeks: one line of JSON a session, appended and never rewritten.

What is kept is what was answered; thresholds are worked out anew, so a better fit serves old
sessions too.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from kit.quantities.errors import DataFileError, EstimationError, KitError
from kit.teaching.practice import Answer, Plan, Result, Trial, result

FILE_NAME = "eye-practice.jsonl"
FORM = 1


@dataclass(frozen=True)
class Kept:
    """A session that is over: who, when it began (ISO 8601), what and which answers."""

    learner: str
    began: str
    plan: Plan
    answers: tuple[Answer, ...]


def append(path: Path, kept: Kept) -> None:
    """Add one session to a file, which is made if need be.

    Raises
    ------
    KitError
        If it cannot be written.
    """
    line = json.dumps(_as_json(kept), ensure_ascii=False)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        whole = not path.exists() or path.read_bytes()[-1:] in (b"", b"\n")
        with path.open("a", encoding="utf-8") as file:
            file.write(("" if whole else "\n") + line + "\n")
    except OSError as fault:
        raise KitError("the session is not kept", f"to write {path}", str(fault.strerror),
                       "free the disk or choose another folder") from fault  # fmt: skip


def read(path: Path) -> tuple[Kept, ...]:
    """Read every session; a file that is not there holds none.

    Raises
    ------
    DataFileError
        Naming the line that cannot be read.
    """
    if not path.exists():
        return ()
    lines = path.read_text(encoding="utf-8").splitlines()
    return tuple(
        _of_line(path, number, line) for number, line in enumerate(lines, 1) if line.strip()
    )


def _as_json(kept: Kept) -> dict[str, Any]:
    answers = [[a.trial.level, list(a.trial.amounts), int(a.over), round(a.at, 2)]
               for a in kept.answers]  # fmt: skip
    return {"form": FORM, "learner": kept.learner, "began": kept.began,
            "plan": asdict(kept.plan), "answers": answers}  # fmt: skip


def _of_line(path: Path, number: int, line: str) -> Kept:
    try:
        row = json.loads(line)
        if row["form"] != FORM:
            raise ValueError(f"form {row['form']}")
        datetime.fromisoformat(row["began"])
        answers = tuple(
            Answer(Trial(float(level), tuple(map(float, amounts))), bool(over), float(at))
            for level, amounts, over, at in row["answers"]
        )
        return Kept(str(row["learner"]), row["began"], Plan(**row["plan"]), answers)
    except (ValueError, KeyError, TypeError, KitError) as fault:
        raise DataFileError(f"{path.name}, line {number}", "a session of practice", str(fault),
                            "move that line elsewhere") from fault  # fmt: skip


@dataclass(frozen=True)
class Stage:
    """One session on the way: when, and what it showed."""

    began: str
    result: Result


def stages(sessions: Sequence[Kept], learner: str, contrast: str, choice: str) -> tuple[Stage, ...]:
    """Return what each session of one learner showed in one contrast, the earliest first.

    Sessions too short to fit are left out.
    """
    found = []
    for kept in sorted(sessions, key=lambda one: one.began):
        same = (kept.learner, kept.plan.contrast, kept.plan.choice) == (learner, contrast, choice)
        if same:
            try:
                found.append(Stage(kept.began, result(kept.plan, kept.answers)))
            except EstimationError:
                continue
    return tuple(found)
