"""`conformation open`: copies that never overwrite a person's work, and a server that ends."""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import re
import signal
import socket
import time
import urllib.error
import urllib.request
from pathlib import Path
from types import SimpleNamespace

import psutil
import pytest
from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
from jupyter_server.services.kernels.websocket import KernelWebsocketHandler
from opened_notebook import opened

from kit.cli.main import main
from kit.panels.launch.copies import RECORD, lay_out
from kit.panels.launch.notebooks import FIRST, chosen, fingerprint, shipped_notebooks
from kit.panels.launch.prompt import PromptConnection
from kit.panels.launch.server import application, free_port, laboratory
from kit.panels.launch.settings import Folders, environment, write_settings
from kit.quantities.errors import DataFileError, KitError


def _write(path: Path, *cells: str, output: str = "") -> Path:
    outputs = [{"output_type": "stream", "name": "stdout", "text": output}] if output else []
    content = {
        "cells": [
            {"cell_type": "code", "metadata": {}, "source": text, "outputs": outputs,
             "execution_count": 3 if output else None}
            for text in cells
        ],
        "metadata": {}, "nbformat": 4, "nbformat_minor": 5,
    }  # fmt: skip
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(content), encoding="utf-8")
    return path


@pytest.fixture
def source(tmp_path: Path) -> Path:
    return _write(tmp_path / "kit" / "one.ipynb", "a = 1")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "mine"


def _lay(source: Path, folder: Path) -> str:
    return lay_out({"one": source}, folder)["one"].message


def test_a_notebook_is_copied_once(source: Path, folder: Path) -> None:
    assert _lay(source, folder) == ""
    assert (folder / "one.ipynb").read_bytes() == source.read_bytes()
    assert {path.name for path in folder.iterdir()} == {"one.ipynb", RECORD}


def test_a_copy_that_only_ran_is_brought_up_to_date(source: Path, folder: Path) -> None:
    """Running leaves outputs and counters in the file; a person wrote none of them."""
    _lay(source, folder)
    _write(folder / "one.ipynb", "a = 1", output="1")
    _write(source, "a = 2")
    assert _lay(source, folder) == ""
    assert fingerprint(folder / "one.ipynb") == fingerprint(source)


def test_outputs_of_a_copy_stay_while_there_is_nothing_newer(source: Path, folder: Path) -> None:
    _lay(source, folder)
    ran = _write(folder / "one.ipynb", "a = 1", output="1").read_bytes()
    assert _lay(source, folder) == ""
    assert (folder / "one.ipynb").read_bytes() == ran


def test_a_changed_copy_stays_and_the_newer_one_lies_beside(source: Path, folder: Path) -> None:
    _lay(source, folder)
    changed = _write(folder / "one.ipynb", "a = 1", "mine = 2").read_bytes()
    assert "holds changes of yours; move it away" in _lay(source, folder)
    _write(source, "a = 3")
    said = _lay(source, folder)
    assert "one-newer.ipynb" in said
    assert (folder / "one.ipynb").read_bytes() == changed
    assert fingerprint(folder / "one-newer.ipynb") == fingerprint(source)


def test_changes_in_both_copies_stay(source: Path, folder: Path) -> None:
    _lay(source, folder)
    _write(folder / "one.ipynb", "mine")
    _write(source, "a = 3")
    _lay(source, folder)
    second = _write(folder / "one-newer.ipynb", "mine too").read_bytes()
    _write(source, "a = 4")
    assert "both" in _lay(source, folder)
    assert (folder / "one-newer.ipynb").read_bytes() == second


def test_a_newer_one_beside_is_itself_brought_up_to_date(source: Path, folder: Path) -> None:
    _lay(source, folder)
    _write(folder / "one.ipynb", "mine")
    for text in ("a = 3", "a = 4"):
        _write(source, text)
        _lay(source, folder)
    assert fingerprint(folder / "one-newer.ipynb") == fingerprint(source)


@pytest.mark.parametrize("record", ["{", "[1, 2]", '{"one.ipynb": 7}', ""])
def test_without_a_readable_record_nothing_is_overwritten(
    source: Path, folder: Path, record: str
) -> None:
    changed = _write(folder / "one.ipynb", "mine").read_bytes()
    (folder / RECORD).write_text(record, encoding="utf-8")
    assert "one-newer.ipynb" in _lay(source, folder)
    assert (folder / "one.ipynb").read_bytes() == changed


def test_a_file_that_is_no_notebook_stays(source: Path, folder: Path) -> None:
    folder.mkdir()
    (folder / "one.ipynb").write_text("my shopping", encoding="utf-8")
    assert "stays" in _lay(source, folder)
    assert (folder / "one.ipynb").read_text(encoding="utf-8") == "my shopping"


def test_a_folder_that_is_a_file_is_said(source: Path, tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("", encoding="utf-8")
    with pytest.raises(KitError, match="--folder"):
        lay_out({"one": source}, tmp_path / "mine")


def test_an_unknown_notebook_is_named_with_a_near_one() -> None:
    with pytest.raises(DataFileError, match="measure-a-dog"):
        chosen("mesure-a-dog")
    assert chosen("measure-a-dog.ipynb") == FIRST


def test_the_list_says_what_each_is_for(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["open", "--list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines] == list(shipped_notebooks())
    assert all(line.endswith(".") and len(line.split()) > 6 for line in lines)


def test_an_unknown_name_ends_with_two(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["open", "nonsense"]) == 2
    assert "nonsense" in capsys.readouterr().err


def test_a_taken_port_is_said() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(KitError, match="--port"):
            free_port(taken.getsockname()[1])


@pytest.mark.parametrize("port", [0, -1, 99999])
def test_a_port_that_cannot_be_is_said(port: int) -> None:
    with pytest.raises(KitError, match="no such port"):
        free_port(port)


@pytest.mark.parametrize("plan", [laboratory, application])
def test_only_this_machine_is_listened_on_and_no_token_is_on_the_command_line(
    plan: object,
) -> None:
    options = plan(Path("/somewhere/one.ipynb"), 8871).options  # type: ignore[operator]
    assert [option for option in options if option.endswith("ip=127.0.0.1")]
    assert not [option for option in options if re.search(r"(?i)(?<!auto_)token=|password", option)]


def test_the_persons_own_jupyter_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("JUPYTER_CONFIG_PATH", "/theirs")
    folders = write_settings()
    variables = environment(folders, "secret", "dogs.sqlite3")
    assert variables["JUPYTER_TOKEN"] == "secret"  # noqa: S105
    assert Path(variables["CONFORMATION_DATABASE"]).is_absolute()
    assert "JUPYTER_CONFIG_PATH" not in variables
    assert "JUPYTER_TOKEN" not in os.environ
    assert isinstance(folders, Folders)
    assert not (tmp_path / ".jupyter").exists()
    config = Path(variables["JUPYTER_CONFIG_DIR"])
    assert config.is_relative_to(tmp_path / "config")
    for name in ("default_setting_overrides.json", "page_config.json"):
        assert json.loads((config / "labconfig" / name).read_text(encoding="utf-8"))


def _status(address: str) -> int:
    try:
        with urllib.request.urlopen(address, timeout=60) as answer:  # noqa: S310
            return int(answer.status)
    except urllib.error.HTTPError as fault:
        with fault:
            return fault.code


def _ask(method: str, address: str, body: str = "") -> str:
    request = urllib.request.Request(address, body.encode() or None, method=method)  # noqa: S310
    with urllib.request.urlopen(request, timeout=60) as answer:  # noqa: S310
        return str(answer.read().decode())


def _command(process: psutil.Process) -> str:
    """The command line anybody may read; of a helper that is gone by now there is none."""
    with contextlib.suppress(psutil.NoSuchProcess):
        return " ".join(process.cmdline())
    return ""


@pytest.mark.slow
def test_jupyterlab_answers_with_the_token_alone_and_ends_with_its_kernels(tmp_path: Path) -> None:
    with opened(tmp_path) as (running, address):
        base, _, token = address.partition("/doc/tree/measure-a-dog.ipynb?token=")
        assert len(token) >= 32
        assert _status(address) == 200
        assert _status(f"{base}/api/contents") == 403
        assert _status(f"{base}/api/contents?token={token}") == 200
        _ask("POST", f"{base}/api/kernels?token={token}", '{"name": "python3"}')
        started = psutil.Process(running.pid).children(recursive=True)
        assert len(started) >= 2
        assert not [one for one in started if token in _command(one)]
        running.send_signal(signal.SIGINT)
        assert running.wait(30) == 0
        assert not psutil.wait_procs(started, timeout=20)[1]
    laid = tmp_path / "Documents" / "Conformation kit" / "measure-a-dog.ipynb"
    assert laid.read_bytes() == shipped_notebooks()[FIRST].read_bytes()


@pytest.mark.slow
def test_the_app_shows_no_code_and_asks_nothing_of_the_net(tmp_path: Path) -> None:
    with opened(tmp_path, "compare-a-litter", "--app") as (running, address):
        base, _, token = address.partition("?token=")
        assert len(token) >= 32
        assert "Compare a litter" not in _ask("GET", base)
        page = _ask("GET", address)
        assert "Compare a litter" in page
        assert "from kit." not in page
        assert not re.findall(r'(?:src|href)="(?:https?:)?//(?!127\.0\.0\.1)', page)
        running.send_signal(signal.SIGINT)
        assert running.wait(30) == 0


@pytest.mark.slow
def test_a_closed_terminal_ends_it_too(tmp_path: Path) -> None:
    with opened(tmp_path) as (running, _):
        started = psutil.Process(running.pid).children(recursive=True)
        time.sleep(0.2)
        running.send_signal(signal.SIGHUP)
        assert running.wait(30) == 0
        assert not psutil.wait_procs(started, timeout=20)[1]


def test_a_kernel_s_messages_are_sent_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """RFC 1122, 4.2.3.4: an application must be able to turn off holding small packets back."""
    monkeypatch.setattr(ZMQChannelsWebsocketConnection, "connect", lambda _: None)
    with socket.create_server(("127.0.0.1", 0)) as server:
        page = socket.create_connection(server.getsockname())
        end, _ = server.accept()
        with page, end:
            handler = KernelWebsocketHandler.__new__(KernelWebsocketHandler)
            handler.ws_connection = SimpleNamespace(
                set_nodelay=lambda on: end.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, on)
            )
            assert not end.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)
            PromptConnection(websocket_handler=handler).connect()
            assert end.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)


@pytest.mark.parametrize(
    ("plan", "module", "name"),
    [(laboratory, "jupyter_server.serverapp", "ServerApp"), (application, "voila.app", "Voila")],
)
def test_both_servers_take_the_class_by_this_option(plan: object, module: str, name: str) -> None:
    options = plan(Path("/somewhere/one.ipynb"), 8871).options  # type: ignore[operator]
    given = dict(option.lstrip("-").split("=", 1) for option in options if "=" in option)
    trait = f"{name}.kernel_websocket_connection_class"
    assert given[trait] == f"{PromptConnection.__module__}.{PromptConnection.__name__}"
    assert trait.split(".")[1] in getattr(importlib.import_module(module), name).class_traits()
