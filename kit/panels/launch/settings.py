"""Jupyter's folders for the kit: the person's own Jupyter settings are neither read nor changed."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_config_path, user_documents_path

from kit.quantities.errors import KitError

APPLICATION = "conformation"
DATABASE_VARIABLE = "CONFORMATION_DATABASE"
FOLDER_NAME = "Conformation kit"
TEMPLATE = "conformation"
_HERE = Path(__file__).parent
EXTENSIONS = _HERE / "labextensions"
_TEMPLATES = _HERE.parent / "voila"
# Set by a person or another tool, these would bring settings of theirs into the kit's server.
_FOREIGN = ("JUPYTER_CONFIG_PATH", "JUPYTER_TOKEN", "JUPYTER_TOKEN_FILE", "JUPYTER_PORT",
            "JUPYTERHUB_API_TOKEN")  # fmt: skip


@dataclass(frozen=True)
class Folders:
    """Where the kit's Jupyter keeps what it needs."""

    root: Path

    @property
    def variables(self) -> dict[str, str]:
        """The environment variables that send Jupyter there."""
        parts = {
            "JUPYTER_CONFIG_DIR": "config",
            "JUPYTER_DATA_DIR": "data",
            "JUPYTER_RUNTIME_DIR": "runtime",
            "JUPYTERLAB_SETTINGS_DIR": "lab/user-settings",
            "JUPYTERLAB_WORKSPACES_DIR": "lab/workspaces",
            "IPYTHONDIR": "ipython",
        }
        return {name: str(self.root / part) for name, part in parts.items()}


def default_folder() -> Path:
    """Return the folder a person's notebooks are kept in unless they name another."""
    return user_documents_path() / FOLDER_NAME


def write_settings() -> Folders:
    """Write the kit's Jupyter settings into the kit's own configuration folder.

    Raises
    ------
    KitError
        If it cannot be written.
    """
    folders = Folders(user_config_path(APPLICATION, appauthor=False) / "jupyter")
    places = {key: Path(value) for key, value in folders.variables.items()}
    try:
        for place in places.values():
            place.mkdir(parents=True, exist_ok=True)
        _mirror(_HERE / "jupyter", places["JUPYTER_CONFIG_DIR"])
        _mirror(_TEMPLATES, places["JUPYTER_DATA_DIR"] / "voila" / "templates" / TEMPLATE)
    except OSError as fault:
        raise KitError(
            "Jupyter's settings cannot be written", f"to write in {folders.root}",
            str(fault.strerror), "free the disk or the folder",
        ) from fault  # fmt: skip
    return folders


def _mirror(source: Path, target: Path) -> None:
    if source.is_dir():
        shutil.copytree(source, target, dirs_exist_ok=True, copy_function=shutil.copyfile,
                        ignore=shutil.ignore_patterns("__pycache__", "*.py"))  # fmt: skip


def environment(folders: Folders, token: str, database: str = "") -> dict[str, str]:
    """Return the environment of the server and its kernels, and of them alone."""
    kept = {key: value for key, value in os.environ.items() if key not in _FOREIGN}
    named = {DATABASE_VARIABLE: _absolute(database)} if database else {}
    return {**kept, **folders.variables, **named, "JUPYTER_TOKEN": token}


def _absolute(database: str) -> str:
    """Write a file with its folder, because a kernel runs in another one; a URL stays."""
    return database if "://" in database else str(Path(database).expanduser().absolute())


def database_in_use() -> str | None:
    """Return the records this notebook was opened on; None for the person's own."""
    return os.environ.get(DATABASE_VARIABLE) or None
