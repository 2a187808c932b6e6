"""`conformation open` as a person runs it, for tests."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def _free() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def opened(home: Path, *options: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """Run the real command in a home of its own; yields it and the address it says."""
    variables = {key: value for key, value in os.environ.items() if not key.startswith("XDG_")}
    variables |= {"HOME": str(home), "CONFORMATION_DATA": str(home / "data")}
    command = [sys.executable, "-m", "kit.cli.main", "open", "--no-browser", "--port",
               str(_free()), *options]  # fmt: skip
    running = subprocess.Popen(command, env=variables, stdout=subprocess.PIPE, text=True, cwd=home)
    try:
        assert running.stdout is not None
        line = running.stdout.readline()
        assert line.startswith("Open: http://127.0.0.1:")
        yield running, line.removeprefix("Open: ").strip()
    finally:
        if running.poll() is None:
            running.kill()
        running.wait()
        if running.stdout is not None:
            running.stdout.close()
