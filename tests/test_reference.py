"""The API reference builds from the docstrings without a warning, and has a place for every public name."""

import subprocess
import sys
from pathlib import Path

import pytest

import geometries
import thermal_model

ROOT = Path(__file__).parents[1]
PACKAGES = (thermal_model, geometries)


def build(folder: Path, *packages: str) -> subprocess.CompletedProcess[str]:
    """Write the reference of packages into a folder; a warning is an error."""
    only_public = [rf"!{package}\." for package in packages]
    command = [sys.executable, "-W", "error", "-m", "pdoc", "-d", "numpy", "-o", str(folder), *packages, *only_public]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)


def test_the_reference_builds_and_names_everything(tmp_path: Path) -> None:
    done = build(tmp_path, *(package.__name__ for package in PACKAGES))
    assert (done.returncode, done.stderr) == (0, "")
    for package in PACKAGES:
        page = (tmp_path / f"{package.__name__}.html").read_text(encoding="utf-8")
        missing = [name for name in package.__all__ if f'id="{name}"' not in page]
        assert missing == []


def test_a_reference_with_a_warning_is_noticed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "dubious.py").write_text('"""A module that warns."""\nimport warnings\nwarnings.warn("old seal")\n')
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    done = build(tmp_path / "pages", "dubious")
    assert done.returncode != 0
    assert "old seal" in done.stderr
