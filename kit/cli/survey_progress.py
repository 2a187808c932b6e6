"""Saying how far a survey is, on one line of standard error, once it takes more than a second."""

from __future__ import annotations

import sys
import time
from threading import Timer
from types import TracebackType

PATIENCE, AGAIN = 1.0, 0.5
"""Seconds before anything is said, and between one word and the next."""


class Progress:
    """Tells what is being worked out, and how many dogs of it are done.

    As a context it clears its line at the end, so that what is printed next starts on its own.
    """

    def __init__(self) -> None:
        self._started = self._last = time.monotonic()
        self._what = ""
        self._width = 0
        self._late = Timer(PATIENCE, self._still)
        self._late.daemon = True

    def __enter__(self) -> Progress:
        self._late.start()
        return self

    def __exit__(self, _: type[BaseException] | None, __: BaseException | None,
                 ___: TracebackType | None) -> None:  # fmt: skip
        self._late.cancel()
        self.clear()

    def clear(self) -> None:
        """Take the line away, before something else is printed."""
        if self._width:
            self._write("")

    def tell(self, what: str) -> Progress:
        """Say what begins; the progress itself may then be told how far it is."""
        self._what = what
        self._say(what, at_once=True)
        return self

    def __call__(self, done: int, total: int) -> None:
        """Say how many dogs of the present step are done."""
        said = f"{self._what or 'worked out'}: {done} of {total} dogs"
        self._say(said, at_once=done == total)

    def _still(self) -> None:
        """Say what began before there was reason to say it."""
        if not self._width:
            self._write(f"… {self._what}")

    def _say(self, text: str, *, at_once: bool) -> None:
        now = time.monotonic()
        if now - self._started > PATIENCE and (at_once or now - self._last > AGAIN):
            self._last = now
            self._write(f"… {text}")

    def _write(self, text: str) -> None:
        print(f"\r{text.ljust(self._width)}", end="" if text else "\r", file=sys.stderr,  # noqa: T201
              flush=True)  # fmt: skip
        self._width = len(text)
