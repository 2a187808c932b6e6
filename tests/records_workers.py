"""Programs that tests start beside themselves, and the readings they all enter."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from kit.protocol.catalogue import catalogue
from kit.protocol.readings import Reading, make_reading

ENTER = """
import sys
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import make_reading
from kit.records.store import open_store
target, dog, session, hand, count = sys.argv[1:]
store = open_store(target, wait=30)
for number in range(int(count)):
    written = f"{30 + number % 400 / 10:.1f}"
    reading = make_reading(catalogue(), "x", "height_at_withers", written, "cm", measurer=hand)
    print(store.store_reading(dog, session, reading).id, flush=True)
"""

HOLD = """
import sqlite3, sys
held = sqlite3.connect(sys.argv[1], isolation_level=None)
if sys.argv[2] == "alone":
    held.execute("pragma locking_mode = exclusive")
    held.execute("pragma journal_mode = delete")
held.execute("begin exclusive")
print("held", flush=True)
sys.stdin.read()
"""


def reading(written: str = "41.5", unit: str = "cm", measurement: str = "height_at_withers",
            **details: str) -> Reading:  # fmt: skip
    """Return a reading of the dog Alder."""
    return make_reading(catalogue(), "Alder", measurement, written, unit, **details)


def start(script: str, *arguments: str | Path) -> subprocess.Popen[str]:
    """Start a program that can be talked to."""
    return subprocess.Popen(
        [sys.executable, "-c", script, *map(str, arguments)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
