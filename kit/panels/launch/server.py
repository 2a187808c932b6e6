"""Start a Jupyter server on one notebook, say where it is, and end it with its kernels."""

from __future__ import annotations

import contextlib
import os
import secrets
import signal
import socket
import subprocess
import sys
import time
import webbrowser
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from kit.panels.launch.settings import EXTENSIONS, TEMPLATE, environment, write_settings
from kit.quantities.errors import KitError

ADDRESS = "127.0.0.1"
FIRST_PORT, PORTS, LAST_PORT = 8871, 60, 65535
START_WITHIN, STOP_WITHIN = 60.0, 15.0  # seconds
# A page that is closed leaves its kernel behind; after this many seconds without a page it ends.
IDLE_KERNEL, IDLE_CHECK = 4 * 3600, 300
_CULLED = (
    f"--MappingKernelManager.cull_idle_timeout={IDLE_KERNEL}",
    f"--MappingKernelManager.cull_interval={IDLE_CHECK}",
)
# The class of the server's end of a kernel's websocket; both servers take it by this name.
PROMPT = "kernel_websocket_connection_class=kit.panels.launch.prompt.PromptConnection"
# A larger upload would be dropped without a word; in bytes.
TORNADO = "{'websocket_max_message_size': 209715200}"


@dataclass(frozen=True)
class Plan:
    """What to start: the module and its options, and the address of the page."""

    module: str
    options: tuple[str, ...]
    page: str


def laboratory(notebook: Path, port: int) -> Plan:
    """Plan JupyterLab showing one notebook alone, as a page."""
    page = f"/doc/tree/{notebook.name}"
    return Plan(
        "jupyterlab",
        (
            "--no-browser",
            f"--ServerApp.ip={ADDRESS}",
            f"--ServerApp.port={port}",
            "--ServerApp.port_retries=0",
            f"--ServerApp.root_dir={notebook.parent}",
            f"--ServerApp.tornado_settings={TORNADO}",
            f"--ServerApp.{PROMPT}",
            f"--LabApp.default_url={page}",
            f"--LabApp.extra_labextensions_path={EXTENSIONS}",
            "--LabApp.custom_css=True",
            *_CULLED,
            "--LabApp.extension_manager=readonly",
            *_as_root(),
        ),
        page,
    )


def application(notebook: Path, port: int) -> Plan:
    """Plan the same notebook as an app without code."""
    return Plan(
        "voila",
        (
            str(notebook),
            "--no-browser",
            f"--Voila.ip={ADDRESS}",
            f"--port={port}",
            "--Voila.port_retries=0",
            "--Voila.auto_token=True",
            f"--template={TEMPLATE}",
            *_CULLED,
            f"--Voila.tornado_settings={TORNADO}",
            f"--Voila.{PROMPT}",
        ),
        "/",
    )


def _as_root() -> tuple[str, ...]:
    """Return what lets an administrator run it too, where the system knows such a user."""
    return ("--allow-root",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()


def free_port(asked: int | None = None) -> int:
    """Return the port asked for, or the first free one of the kit's.

    Raises
    ------
    KitError
        If it is taken.
    """
    if asked is not None and not 1 <= asked <= LAST_PORT:
        raise KitError(
            "no such port", f"1 to {LAST_PORT}", str(asked), "choose another with --port"
        )
    for port in [asked] if asked is not None else range(FIRST_PORT, FIRST_PORT + PORTS):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((ADDRESS, port))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    taken = str(asked or f"{FIRST_PORT} to {FIRST_PORT + PORTS - 1}")
    raise KitError(f"port {taken} is taken", "a free port", do="choose another with --port")


def serve(
    plan: Plan, port: int, *, browser: bool, say: Callable[[str], None], database: str = ""
) -> None:
    """Run the server until it is stopped by Ctrl+C, a closed terminal or its own end.

    The token goes by the environment, because a command line can be read by everybody on the
    machine.

    Raises
    ------
    KitError
        If the server does not start, or ends by itself.
    """
    folders, token = write_settings(), secrets.token_hex(24)
    log = folders.root / f"server-{port}.log"
    variables = environment(folders, token, database)
    with _stopped_by_signals(), _started(plan, variables, log) as child:
        _wait_until_up(child, port, log)
        address = f"http://{ADDRESS}:{port}{plan.page}?token={token}"
        say(f"Open: {address}")
        say("Ctrl+C ends it.")
        if browser:
            webbrowser.open(address)
        child.wait()
    if child.returncode and child.returncode > 0:
        raise _fault("Jupyter ended by itself", log)


@contextlib.contextmanager
def _started(plan: Plan, variables: dict[str, str], log: Path) -> Iterator[subprocess.Popen[bytes]]:
    """Run the server in a group of its own, so that Ctrl+C reaches us and we end it in order."""
    command = [sys.executable, "-m", plan.module, *plan.options]
    with log.open("wb") as file:
        child = subprocess.Popen(  # noqa: S603  (our own interpreter and options)
            command,
            env=variables,
            stdin=subprocess.DEVNULL,
            stdout=file,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
    try:
        yield child
    except KeyboardInterrupt:
        pass
    finally:
        _end(child)


def _end(child: subprocess.Popen[bytes]) -> None:
    if child.poll() is None:
        child.terminate()
        try:
            child.wait(STOP_WITHIN)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


@contextlib.contextmanager
def _stopped_by_signals() -> Iterator[None]:
    """Turn every polite request to end into KeyboardInterrupt, also where a shell ignores it."""
    names = [name for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    former = {name: signal.getsignal(getattr(signal, name)) for name in names}
    for name in names:
        signal.signal(getattr(signal, name), signal.default_int_handler)
    try:
        yield
    finally:
        for name, handler in former.items():
            signal.signal(getattr(signal, name), handler)


def _wait_until_up(child: subprocess.Popen[bytes], port: int, log: Path) -> None:
    end = time.monotonic() + START_WITHIN
    while time.monotonic() < end:
        if child.poll() is not None:
            raise _fault("Jupyter did not start", log)
        with contextlib.suppress(OSError), socket.create_connection((ADDRESS, port), 1.0):
            return
        time.sleep(0.1)
    raise _fault(f"Jupyter did not answer within {START_WITHIN:g} s", log)


def _fault(what: str, log: Path) -> KitError:
    lines: Sequence[str] = log.read_text(encoding="utf-8", errors="replace").splitlines()
    last = next((line.strip() for line in reversed(lines) if line.strip()), "it said nothing")
    return KitError(what, given=last, do=f"see {log}")
