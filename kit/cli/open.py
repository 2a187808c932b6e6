"""`conformation open`: a notebook of the kit in JupyterLab, or as an app, on the person's copy."""

from __future__ import annotations

import argparse
from pathlib import Path

from kit.panels.launch.copies import Copy, lay_out
from kit.panels.launch.notebooks import chosen, purpose, shipped_notebooks
from kit.panels.launch.server import application, free_port, laboratory, serve
from kit.panels.launch.settings import default_folder


def run(options: argparse.Namespace) -> int:
    """Open one notebook, or list them; see `conformation open --help`."""
    if options.list:
        _list()
        return 0
    name = chosen(options.name)
    copies = lay_out(shipped_notebooks(), _folder(options.folder))
    _say_about(copies)
    port = free_port(options.port)
    plan = (application if options.app else laboratory)(copies[name].path, port)
    serve(plan, port, browser=not options.no_browser, say=_say, database=options.database or "")
    return 0


def _list() -> None:
    for name, path in shipped_notebooks().items():
        _say(f"{name:44} {purpose(path)}")


def _folder(asked: str | None) -> Path:
    return Path(asked).expanduser().resolve() if asked else default_folder()


def _say_about(copies: dict[str, Copy]) -> None:
    for copy in copies.values():
        if copy.message:
            _say(copy.message)


def _say(text: str) -> None:
    print(text, flush=True)  # noqa: T201
