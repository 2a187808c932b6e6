"""Every notebook runs top to bottom on the demo data, and is laid out for a person at a table."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from typing import Any

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOKS = sorted((Path(__file__).parents[1] / "notebooks").glob("*.ipynb"))
NAMES = ("a-club-weekend", "compare-a-litter", "follow-a-litter",
         "how-an-angle-comes-out-of-three-tapes", "measure-a-dog", "read-a-standard",
         "train-your-eye", "write-a-critique")  # fmt: skip
LARGEST = 20_000  # bytes; a notebook with its outputs is many times as large
# A fault in a callback is shown in the page by the kit: these words would stand in a widget.
FAULTS = ("Something went wrong", 'role="alert"')
# Warnings that the kit or the notebook causes are faults; Jupyter's own about its future are not.
STRICT = "import warnings; warnings.filterwarnings('error', module=r'kit\\.|__main__')"

each = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


def _cells(path: Path) -> list[dict[str, Any]]:
    cells: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return cells


def test_there_is_one_for_every_job() -> None:
    assert tuple(path.stem for path in NOTEBOOKS) == NAMES


@each
def test_it_is_valid_and_carries_no_output(path: Path) -> None:
    nbformat.validate(nbformat.read(path, as_version=4))
    assert path.stat().st_size < LARGEST
    for cell in _cells(path):
        assert not cell.get("outputs")
        assert cell.get("execution_count") is None


@each
def test_it_opens_with_what_it_is_for(path: Path) -> None:
    first = _cells(path)[0]
    heading, _, purpose = "".join(first["source"]).partition("\n")
    assert first["cell_type"] == "markdown"
    assert heading.startswith("# ")
    sentence = purpose.strip().splitlines()[0]
    assert sentence.count(".") == 1
    assert sentence.endswith(".")


@each
def test_its_code_is_hidden_until_somebody_asks(path: Path) -> None:
    code = [cell for cell in _cells(path) if cell["cell_type"] == "code"]
    assert code
    assert all(cell["metadata"]["jupyter"]["source_hidden"] is True for cell in code)


@each
def test_its_cells_are_short(path: Path) -> None:
    for cell in _cells(path):
        if cell["cell_type"] == "code":
            assert len("".join(cell["source"]).splitlines()) <= 26


@pytest.fixture
def apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home, records and Jupyter folders of the test's own."""
    for name in ("HOME", "CONFORMATION_DATA", "IPYTHONDIR", "JUPYTER_CONFIG_DIR",
                 "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "MPLCONFIGDIR"):  # fmt: skip
        folder = tmp_path / name.lower()
        folder.mkdir()
        monkeypatch.setenv(name, str(folder))
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "CONFORMATION_DATABASE"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


def _run(path: Path, folder: Path) -> Any:
    copy = folder / path.name
    shutil.copyfile(path, copy)
    notebook = nbformat.read(copy, as_version=4)
    strict = nbformat.v4.new_code_cell(STRICT)
    notebook.cells.insert(0, strict)
    client = NotebookClient(
        notebook, timeout=120, kernel_name="python3",
        resources={"metadata": {"path": os.fspath(folder)}},
    )  # fmt: skip
    client.execute()
    return notebook


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@each
def test_it_runs_from_top_to_bottom(path: Path, apart: Path) -> None:
    before = path.read_bytes()
    notebook = _run(path, apart)
    shown = [output for cell in notebook.cells if cell.cell_type == "code"
             for output in cell.outputs]  # fmt: skip
    assert shown
    assert not [output for output in shown if output.output_type == "error"]
    assert not [output for output in shown if output.get("name") == "stderr"]
    state = json.dumps(notebook.metadata.get("widgets", {}))
    assert len(state) > 1000
    for words in FAULTS:
        assert words not in state
    assert path.read_bytes() == before
