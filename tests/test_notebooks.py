"""Every notebook runs from top to bottom without a word on standard error, and is kept with what it prints."""

import copy
import importlib
import re
from pathlib import Path
from typing import Any

import nbformat
import pytest
from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

from tests.notebooks import CELL_TIMEOUT, NOTEBOOKS, ROOT, agree, code_cells, execute, read, texts

MACHINE_PATH = re.compile(r"/(?:home|root|tmp|work|usr|opt|var|Users)/|[A-Z]:\\\\")


@pytest.fixture
def own_jupyter(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Keep history, settings and sockets of the kernel out of the user's home, and the user's out of the kernel."""
    for name in ("IPYTHONDIR", "JUPYTER_CONFIG_DIR", "JUPYTER_RUNTIME_DIR", "JUPYTER_DATA_DIR"):
        monkeypatch.setenv(name, str(tmp_path / name.lower()))
    monkeypatch.setenv("PYTHONWARNINGS", "default")
    # The first import on a machine may take long to list its fonts, and then says so on standard error.
    importlib.import_module("matplotlib.font_manager")


def run(notebook: Any, timeout: int = CELL_TIMEOUT) -> None:
    """Execute in place, from the repository's root; fail with the cell and what went wrong there. [s]"""
    try:
        execute(notebook, timeout)
    except CellExecutionError as error:
        pytest.fail(f"cell '{failed_cell(notebook)}': {error.ename}: {error.evalue}", pytrace=False)
    except CellTimeoutError:
        pytest.fail(f"cell '{failed_cell(notebook)}' takes longer than {timeout} s", pytrace=False)
    except DeadKernelError:
        pytest.fail(f"the kernel died in cell '{failed_cell(notebook)}'", pytrace=False)


def failed_cell(notebook: Any) -> str:
    """Name of the last cell that was begun."""
    begun = [cell for cell in code_cells(notebook) if "iopub.status.busy" in cell.metadata.get("execution", {})]
    return begun[-1].id if begun else "none"


def complaints(notebook: Any) -> list[str]:
    """What cells wrote on standard error, warnings among it."""
    outputs = [(cell.id, output) for cell in code_cells(notebook) for output in cell.outputs]
    return [f"{name}: {output.text}" for name, output in outputs if output.get("name") == "stderr"]


def written(*sources: str) -> Any:
    """A notebook of code cells named cell-0, cell-1 and so on."""
    cells = [nbformat.v4.new_code_cell(source, id=f"cell-{number}") for number, source in enumerate(sources)]
    return nbformat.v4.new_notebook(cells=cells)


def test_there_are_notebooks() -> None:
    stems = {path.stem for path in NOTEBOOKS}
    assert stems >= {"first_prediction", "lid_and_mouth", "bench_to_ranking", "physics_tour", "validation"}


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_is_kept_with_outputs_of_no_machine(path: Path) -> None:
    notebook = read(path)
    shown = texts(notebook)
    assert shown, "run: python -m tests.notebooks"
    assert complaints(notebook) == []
    assert [text for _, text in shown if MACHINE_PATH.search(text)] == []
    assert notebook.metadata.language_info == {"name": "python"}


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_ends_in_an_assertion(path: Path) -> None:
    assert "assert " in code_cells(read(path))[-1].source


@pytest.mark.usefixtures("own_jupyter")
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_prints_what_is_kept(path: Path) -> None:
    kept = read(path)
    fresh = copy.deepcopy(kept)
    run(fresh)
    assert complaints(fresh) == []
    pairs = list(zip(texts(kept), texts(fresh), strict=True))
    differ = [f"{cell}:\n{old}\nnow:\n{new}" for (cell, old), (_, new) in pairs if not agree(old, new)]
    assert differ == [], "if it is meant: python -m tests.notebooks"


def test_what_counts_as_the_same_text() -> None:
    assert agree("7.6 h, 41 %", "7.6 h, 41 %")
    assert agree("7.61 h", "7.62 h")
    assert not agree("7.61 h", "7.63 h")
    assert not agree("41 %", "42 %")
    assert not agree("7.6 h", "7.6 min")
    assert not agree("<image/png>", "")
    assert (ROOT / "notebooks").is_dir()


@pytest.mark.usefixtures("own_jupyter")
def test_a_failing_cell_is_named() -> None:
    with pytest.raises(pytest.fail.Exception, match="cell 'cell-1': AssertionError: one is not two"):
        run(written("one = 1", "assert one == 2, 'one is not two'", "print('not reached')"))


@pytest.mark.usefixtures("own_jupyter")
def test_warnings_and_outputs_are_noticed() -> None:
    notebook = written("import warnings", "warnings.warn('worn seal')")
    run(notebook)
    assert len(complaints(notebook)) == 1
    assert "worn seal" in complaints(notebook)[0]


@pytest.mark.usefixtures("own_jupyter")
def test_a_stuck_cell_is_named() -> None:
    with pytest.raises(pytest.fail.Exception, match="cell 'cell-0' takes longer than 1 s"):
        run(written("import time; time.sleep(60)"), timeout=1)


@pytest.mark.usefixtures("own_jupyter")
def test_a_dead_kernel_is_noticed() -> None:
    # A kernel that dies at once may not have said which cell it had begun.
    with pytest.raises(pytest.fail.Exception, match=r"the kernel died in cell '(cell-0|none)'"):
        run(written("import os; os._exit(1)"))
