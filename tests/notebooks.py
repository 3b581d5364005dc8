"""Notebooks: read, executed, and what they print held to what a run prints.

`python -m tests.notebooks [NAME ...]` executes them anew and keeps what they print and draw.
"""

import os
import re
import sys
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient

ROOT = Path(__file__).parents[1]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))

CELL_TIMEOUT = 240
"""A cell that takes longer is stuck. [s]"""

NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?")


def read(path: Path) -> Any:
    """The notebook, refused if it is not valid."""
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    return notebook


def execute(notebook: Any, timeout: int = CELL_TIMEOUT) -> None:
    """Execute in place, from the repository's root. [s]"""
    where = {"metadata": {"path": str(ROOT)}}
    environment = {**os.environ, "MPLBACKEND": "module://matplotlib_inline.backend_inline"}
    client = NotebookClient(notebook, timeout=timeout, kernel_name="python3", resources=where)
    client.execute(env=environment)


def code_cells(notebook: Any) -> list[Any]:
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def texts(notebook: Any) -> list[tuple[str, str]]:
    """What each cell printed, or showed as text, and `<kind>` for each picture."""
    found = []
    for cell in code_cells(notebook):
        # A stream may arrive in one piece or in several.
        printed = "".join(output.text for output in cell.outputs if output.output_type == "stream")
        found += [(cell.id, printed)] if printed else []
        for output in cell.outputs:
            if output.output_type != "stream":
                shown = output.get("data", {})
                pictures = "".join(f"<{kind}>" for kind in sorted(shown) if kind.startswith("image/"))
                found.append((cell.id, f"{shown.get('text/plain', '')}{pictures}"))
    return found


def agree(kept: str, fresh: str) -> bool:
    """Tell whether two texts are the same but for the last digit of their numbers, which processors round apart."""
    if NUMBER.sub("#", kept) != NUMBER.sub("#", fresh):
        return False
    pairs = zip(NUMBER.findall(kept), NUMBER.findall(fresh), strict=True)
    return all(abs(float(one) - float(other)) <= 1.001 * _last_digit(one) for one, other in pairs)


def _last_digit(number: str) -> float:
    """Return what the last digit is worth; a whole number has to be the same."""
    _, point, decimals = number.partition(".")
    return 10.0 ** -len(decimals) if point else 0.0


def stripped(notebook: Any) -> Any:
    """The notebook without what differs from run to run: moments, and the kernel that happened to be there."""
    notebook.metadata = {
        "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
        "language_info": {"name": "python"},
    }
    for number, cell in enumerate(code_cells(notebook), start=1):
        cell.metadata, cell.execution_count = {}, number
        for output in cell.outputs:
            if output.output_type == "execute_result":
                output.execution_count = number
    return notebook


def main(names: list[str]) -> int:
    for path in NOTEBOOKS:
        if names and path.stem not in names:
            continue
        notebook = read(path)
        execute(notebook)
        nbformat.write(stripped(notebook), path)
        print(path.relative_to(ROOT))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
