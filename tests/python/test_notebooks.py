"""Every notebook runs from top to bottom, in a copy, with a fresh kernel."""

import shutil

import nbformat
import pytest
from conftest import ROOT
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError

NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
SECONDS_PER_CELL = 120


def execute(path, notebook):
    """Run `notebook` in the folder `path`."""
    client = NotebookClient(
        notebook, timeout=SECONDS_PER_CELL, kernel_name="python3", resources={"metadata": {"path": path}}
    )
    client.execute()


@pytest.fixture
def folder(checkout, monkeypatch):
    """A copy of the notebooks' folder; the user's own notebook settings stay out of it."""
    monkeypatch.setenv("IPYTHONDIR", str(checkout / "ipython"))
    monkeypatch.setenv("JUPYTER_CONFIG_DIR", str(checkout / "jupyter"))
    monkeypatch.setenv("JUPYTER_RUNTIME_DIR", str(checkout / "runtime"))
    if (ROOT / "notebooks").exists():
        shutil.copytree(ROOT / "notebooks", checkout / "notebooks")
    (checkout / "notebooks").mkdir(exist_ok=True)
    return checkout / "notebooks"


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_notebook_runs(path, folder):
    execute(folder, nbformat.read(path, as_version=4))


def test_a_failing_cell_is_seen(folder):
    cells = [nbformat.v4.new_code_cell("import risefit"), nbformat.v4.new_code_cell("assert 1 == 2")]
    with pytest.raises(CellExecutionError, match="AssertionError"):
        execute(folder, nbformat.v4.new_notebook(cells=cells))
