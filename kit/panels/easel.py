"""The side view of the panel, drawn on the machine's other core where it can be.

While one process works out what an entry means, a second, started with the panel, draws the dog.
It reads requests as lines of JSON and ends when its input does, whatever became of the kernel.
Where it is not there, not ready or does not answer, the dog is drawn here.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import weakref
from collections.abc import Mapping
from queue import Empty, SimpleQueue
from threading import Thread
from typing import IO

from kit.panels.pictures import Angles, SideView, rehearse_drawing

READY = "ready"
PATIENCE = 2.0  # seconds for one picture, which takes some hundredths
STEPS_BACK = 5  # of niceness
_COMMAND = (sys.executable, "-m", "kit.panels.easel")


class Easel:
    """Draws one dog after the other; not for several threads at once.

    Parameters
    ----------
    aside : bool
        Whether to draw in a process of its own, once that is ready.
    """

    def __init__(self, *, aside: bool = False) -> None:
        self._own = SideView()
        self._asked: tuple[dict[str, float], Angles] | None = None
        self._number = 0
        self._sent = False
        self._worker = _Worker() if aside else None

    def begin(self, values: Mapping[str, float]) -> None:
        """Say what was read, before it is known what follows from it: the dog can be drawn."""
        self._tell({"values": dict(values)})

    def ask(self, values: Mapping[str, float], angles: Angles) -> None:
        """Ask for the picture."""
        self._asked = dict(values), angles
        self._number += 1
        request = {"number": self._number, "values": dict(values), "angles": angles}
        self._sent = self._tell(request)

    def take(self) -> str:
        """Return the picture asked for, as SVG; readings that place no dog leave it as it was."""
        assert self._asked is not None  # noqa: S101  (asked for before)
        if self._sent and self._worker is not None:
            try:
                return self._worker.answer(self._number)
            except (Empty, ValueError, KeyError):
                self.close()
        return self._own.svg(*self._asked)

    def _tell(self, request: Mapping[str, object]) -> bool:
        if self._worker is None or not self._worker.ready():
            return False
        try:
            self._worker.tell(request)
        except (OSError, ValueError):
            self.close()
            return False
        return True

    def close(self) -> None:
        """End the other process; from then on the dog is drawn here."""
        if self._worker is not None:
            self._worker.end()
            self._worker = None


class _Worker:
    """The other process and the lines it writes."""

    def __init__(self) -> None:
        # A session of its own: an interrupt meant for the kernel leaves it alone.
        process = subprocess.Popen(  # noqa: S603  (our own interpreter and module)
            _COMMAND, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            encoding="utf-8", bufsize=1, start_new_session=True,
        )  # fmt: skip
        assert process.stdin is not None  # noqa: S101  (asked for above)
        assert process.stdout is not None  # noqa: S101
        self._input = process.stdin
        self._lines: SimpleQueue[str] = SimpleQueue()
        self._is_ready = False
        reader = Thread(target=_read, args=(process.stdout, self._lines), daemon=True)
        reader.start()
        self.end = weakref.finalize(self, _end, process, reader)

    def ready(self) -> bool:
        """Tell whether it has come up; never waits."""
        if not self._is_ready and not self._lines.empty():
            self._is_ready = self._lines.get().strip() == READY
        return self._is_ready

    def tell(self, request: Mapping[str, object]) -> None:
        self._input.write(json.dumps(request) + "\n")
        self._input.flush()

    def answer(self, number: int) -> str:
        """Return the picture of one request; an earlier one that nobody took is passed over."""
        while True:
            drawn = json.loads(self._lines.get(timeout=PATIENCE))
            if drawn["number"] == number:
                return str(drawn["svg"])


def _read(lines: IO[str], into: SimpleQueue[str]) -> None:
    """Pass lines on; the empty one at the end tells whoever waits that nothing more comes."""
    with lines:
        for line in lines:
            into.put(line)
    into.put("")


def _end(process: subprocess.Popen[str], reader: Thread) -> None:
    process.kill()
    process.wait()
    reader.join(PATIENCE)
    if process.stdin is not None:
        with contextlib.suppress(OSError):  # what it never read is lost with it
            process.stdin.close()


def serve(requests: IO[str], answers: IO[str]) -> None:
    """Answer requests, one JSON object a line, until they end.

    ``values`` alone draws the dog; with ``angles`` and a ``number`` its picture is the answer.
    """
    view = SideView()
    rehearse_drawing(view)
    print(READY, file=answers, flush=True)
    for line in requests:
        request = json.loads(line)
        if "angles" in request:
            svg = view.svg(request["values"], request["angles"])
            drawn = json.dumps({"number": request["number"], "svg": svg})
            print(drawn, file=answers, flush=True)
        else:
            view.prepare(request["values"])


if __name__ == "__main__":
    # What an entry means takes longer to work out than to draw: that goes first where both wait.
    if hasattr(os, "nice"):
        os.nice(STEPS_BACK)
    serve(sys.stdin, sys.stdout)
