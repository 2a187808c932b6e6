"""A real Chromium on a real JupyterLab and a real Voilà, all on this machine.

Where CI is set a missing browser fails the tests; elsewhere it skips them. Every page's requests
are watched: one that would leave the machine fails the test that made it.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import pytest

import kit
from kit.panels.launch.server import PROMPT

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
             "--disable-background-networking", "--disable-component-update",
             "--disable-sync"]  # fmt: skip
ROOT = Path(__file__).parents[2]
PANELS = Path(kit.__file__).parent / "panels"
PICTURES = ROOT / ".ci" / "artefacts"
WIDE, TABLET = (1280, 720), (820, 1180)
MEASURING = "from kit.panels.panel import measuring_panel\nmeasuring_panel(database={!r})"
LITTER = "from kit.panels.litter import litter_panel\nlitter_panel(database={!r})"
NOTEBOOK_PANEL = ".jp-NotebookPanel:not(.lm-mod-hidden)"
HERE = {"127.0.0.1", "localhost", ""}


def _missing(what: str) -> None:
    if os.environ.get("CI"):
        pytest.fail(what)
    pytest.skip(what)


@pytest.fixture(scope="session")
def chromium():
    """One browser for all tests of this folder."""
    if not CHROMIUM.exists():
        _missing("no /usr/bin/chromium")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _missing("playwright is not installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield browser
        browser.close()


@dataclass
class Server:
    """A running server: its address, its folder, and how a notebook is opened on it."""

    kind: str
    base: str
    folder: Path

    def address(self, notebook: str) -> str:
        if self.kind == "lab":
            return f"{self.base}/doc/tree/{notebook}?reset"
        return f"{self.base}/voila/render/{notebook}"


def settings(room: Path) -> dict[str, str]:
    """Keep every Jupyter folder out of the home folder; no news, no updates asked for."""
    places = {name: room / name.lower() for name in (
        "JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR",
        "MPLCONFIGDIR", "JUPYTERLAB_SETTINGS_DIR", "JUPYTERLAB_WORKSPACES_DIR",
        "CONFORMATION_DATA")}  # fmt: skip
    overrides = places["JUPYTER_CONFIG_DIR"] / "labconfig" / "default_setting_overrides.json"
    overrides.parent.mkdir(parents=True)
    quiet = {"fetchNews": "false", "checkForUpdates": False, "doNotDisturbMode": True}
    overrides.write_text(json.dumps({"@jupyterlab/apputils-extension:notification": quiet}))
    template = places["JUPYTER_DATA_DIR"] / "voila" / "templates" / "kit"
    shutil.copytree(PANELS / "voila", template)
    return {**os.environ, **{name: str(place) for name, place in places.items()}}


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def options(kind: str, folder: Path, port: int) -> list[str]:
    """Return the module and options of a server on a folder; the empty token is for tests only."""
    return {
        "lab": ["jupyterlab", "--no-browser", "--ip=127.0.0.1", f"--port={port}",
                "--IdentityProvider.token=", "--allow-root", f"--ServerApp.root_dir={folder}",
                "--LabApp.expose_app_in_browser=True", "--LabApp.extension_manager=readonly",
                f"--ServerApp.{PROMPT}"],
        "voila": ["voila", str(folder), "--no-browser", "--Voila.ip=127.0.0.1",
                  f"--port={port}", "--template=kit", f"--Voila.{PROMPT}"],
    }[kind]  # fmt: skip


@pytest.fixture(scope="session", params=["lab", "voila"])
def server(request, tmp_path_factory) -> Iterator[Server]:
    """JupyterLab, then Voilà, over one empty folder each."""
    room = tmp_path_factory.mktemp(request.param)
    folder, port = room / "notebooks", free_port()
    folder.mkdir()
    with (room / "log.txt").open("wb") as log:
        command = [sys.executable, "-m", *options(request.param, folder, port)]
        process = subprocess.Popen(
            command, env=settings(room), stdout=log, stderr=subprocess.STDOUT
        )
    base = f"http://127.0.0.1:{port}"
    wait_for(base, process, room / "log.txt")
    yield Server(request.param, base, folder)
    process.terminate()
    process.wait(30)


def wait_for(base: str, process: subprocess.Popen[bytes], log: Path) -> None:
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        if process.poll() is not None:
            break
        try:
            urllib.request.urlopen(base, timeout=2).close()  # noqa: S310  (our own server)
            return
        except OSError:
            time.sleep(0.2)
    pytest.fail(f"the server did not come up:\n{log.read_text(errors='replace')[-2000:]}")


@dataclass
class Desk:
    """One notebook with a panel, open in a page."""

    server: Server
    page: object
    name: str
    records: Path
    outside: list[str] = field(default_factory=list)
    ready: str = ".kp-body"  # what a panel that takes entries shows

    def open(self) -> None:
        """Open the page and wait for a panel that takes entries."""
        self.page.goto(self.server.address(self.name))
        if self.server.kind == "lab":
            self.run_all()
        self.page.wait_for_selector(self.ready, state="visible", timeout=60_000)

    def run_all(self) -> None:
        page = self.page
        page.wait_for_selector(f"{NOTEBOOK_PANEL} .jp-Notebook .jp-Cell", timeout=60_000)
        page.wait_for_function(
            "() => window.jupyterapp?.shell.currentWidget?.sessionContext?.session?.kernel?.status"
            " === 'idle' && window.jupyterapp.shell.currentWidget.context?.isReady",
            timeout=60_000,
        )
        # Not awaited: the promise ends with the last cell, or never where the kernel is killed.
        page.evaluate("() => { window.jupyterapp.commands.execute('notebook:run-all-cells'); }")

    def add_dog(self, name: str) -> None:
        form = self.page.locator(".kp-new")
        if not form.is_visible():
            self.page.locator(".kp-head select").first.select_option("+")
        form.locator("input").first.fill(name)
        form.locator("input").first.press("Enter")
        self.page.wait_for_function(
            "name => document.querySelector('.kp-head select').selectedOptions[0].text === name",
            arg=name,
        )

    @property
    def input(self):
        return self.page.locator(".kp-input")

    def type(self, text: str, key: str = "Enter") -> None:
        self.input.fill(text)
        self.input.press(key)

    def _kernels(self) -> list[int]:
        """Return the processes of this notebook's kernels."""
        folders = [folder for folder in Path("/proc").iterdir() if folder.name.isdigit()]
        return [int(folder.name) for folder in folders if self._is_kernel(folder)]

    def _is_kernel(self, folder: Path) -> bool:
        """Tell whether a process is a kernel that holds this test's records open."""
        try:
            if b"ipykernel" not in (folder / "cmdline").read_bytes():
                return False
            return any(one.readlink() == self.records for one in (folder / "fd").iterdir())
        except OSError:
            return False

    def kill_kernel(self) -> None:
        """End the kernel as a crash would: without warning."""
        kernels = self._kernels()
        assert kernels
        for kernel in kernels:
            os.kill(kernel, signal.SIGKILL)

    def stop_kernel(self) -> None:
        """Let the kernel hang: it lives and answers nothing."""
        for kernel in self._kernels():
            os.kill(kernel, signal.SIGSTOP)

    def another(self, chromium) -> Desk:
        """Open a second notebook with a panel on the same records."""
        name = f"other-{self.name}"
        write_notebook(self.server.folder / name, self.records)
        page = chromium.new_page(viewport={"width": WIDE[0], "height": WIDE[1]})
        other = Desk(self.server, page, name, self.records, self.outside)
        other.open()
        return other

    def settled(self) -> None:
        """Wait until everything typed is answered and what follows from it is shown."""
        self.page.wait_for_selector(".kp-frame[data-rest='yes']", timeout=60_000)

    def raw_in_file(self) -> list[str]:
        """What counts in the records file, read without the kit."""
        with sqlite3.connect(f"file:{self.records}?mode=ro", uri=True) as connection:
            query = """select raw from readings r where not withdrawn and not exists
                       (select 1 from readings s where s.supersedes = r.id) order by number"""
            return [row[0] for row in connection.execute(query)]

    def picture(self, name: str, size: tuple[int, int]) -> None:
        """Keep a screenshot for people to look at."""
        PICTURES.mkdir(parents=True, exist_ok=True)
        self.page.set_viewport_size({"width": size[0], "height": size[1]})
        self.page.wait_for_timeout(400)
        self.page.screenshot(path=PICTURES / f"{self.server.kind}-{name}-{size[0]}.png")


def write_notebook(path: Path, records: Path, panel: str = MEASURING) -> None:
    """Write the smallest notebook that shows a panel."""
    source = panel.format(str(records))
    cell = {"cell_type": "code", "id": "panel", "metadata": {}, "source": source, "outputs": [],
            "execution_count": None}  # fmt: skip
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    notebook = {"cells": [cell], "metadata": {"kernelspec": kernel}, "nbformat": 4,
                "nbformat_minor": 5}  # fmt: skip
    path.write_text(json.dumps(notebook))


@contextmanager
def opened(chromium, server: Server, records: Path, name: str, panel: str, ready: str):
    """Open a panel on fresh records and wait for it; its requests are watched to the end."""
    name = f"{name.replace('[', '-').replace(']', '')}.ipynb"
    write_notebook(server.folder / name, records, panel)
    page = chromium.new_page(viewport={"width": WIDE[0], "height": WIDE[1]})
    made = Desk(server, page, name, records, ready=ready)

    def watch(request) -> None:
        if request.url.startswith(("data:", "blob:")):
            return
        if urlsplit(request.url).hostname not in HERE:
            made.outside.append(request.url)

    page.on("request", watch)
    page.on("websocket", watch)
    made.open()
    yield made
    page.close()
    assert made.outside == []


@pytest.fixture
def desk(chromium, server: Server, tmp_path: Path, request) -> Iterator[Desk]:
    """The measuring panel, open and waiting."""
    records = tmp_path / "records.sqlite3"
    with opened(chromium, server, records, request.node.name, MEASURING, ".kp-body") as made:
        yield made


@pytest.fixture
def litter(chromium, server: Server, tmp_path: Path, request) -> Iterator[Desk]:
    """The litter panel, open and waiting."""
    records = tmp_path / "records.sqlite3"
    with opened(chromium, server, records, request.node.name, LITTER, ".kl-choose h2") as made:
        yield made
