"""Where the kernel is kept: a damaged, foreign or missing place costs a compilation, never an answer."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from thermal_model.solver.compiled import kept

HERE = "this processor"

COMPILE = """
import sys
import numpy as np
from geometries.design_file import load_container
from thermal_model.scenario import Scenario
from thermal_model.assemble.build import assemble
from thermal_model.solver.engine import integrate
from thermal_model.solver.steppers import compiled_stepper, is_kept
was_kept = is_kept()
network = assemble(load_container("thin_disc_lid"), Scenario(), lanes=1)
found = integrate(network, np.array([[3e5]]), np.array([1e6]), stepper=compiled_stepper())
print(was_kept, is_kept(), "numba" in sys.modules, repr(float(found.crossing_times[0, 0])))
"""


@pytest.fixture
def code(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty place to keep things in, and the file of a kernel made by hand."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    kept.keep(HERE, b"code")
    (path,) = (tmp_path / "holdtime" / kept.digest()).iterdir()
    return path


@pytest.mark.usefixtures("code")
def test_what_was_kept_is_found_by_the_same_processor() -> None:
    assert kept.read(HERE) == b"code"
    assert kept.read("another") is None


@pytest.mark.parametrize("change", ["changed", "cut", "empty", "gone", "a folder"])
def test_what_is_damaged_is_not_read_and_kept_anew(code: Path, change: str) -> None:
    whole = code.read_bytes()
    code.unlink()
    if change == "a folder":
        code.mkdir()
    elif change != "gone":
        code.write_bytes({"changed": whole[:-1] + b"!", "cut": whole[:-1], "empty": b""}[change])
        code.chmod(0o600)
    assert kept.read(HERE) is None
    kept.keep(HERE, b"new")
    assert kept.read(HERE) == (None if change == "a folder" else b"new")


@pytest.mark.parametrize("where", ["file", "place", "link"])
def test_nothing_that_others_can_write_is_read(code: Path, where: str) -> None:
    if where == "link":
        moved = code.with_name("moved")
        code.rename(moved)
        code.symlink_to(moved)
    else:
        (code if where == "file" else code.parent).chmod(0o777)
    assert kept.read(HERE) is None


def test_no_home_and_no_place(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def nobody() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(Path, "home", nobody)
    kept.keep(HERE, b"code")
    assert kept.read(HERE) is None
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    kept.keep(HERE, b"code")
    assert kept.read(HERE) is None


def test_the_next_process_runs_what_was_kept_without_a_compiler(tmp_path: Path) -> None:
    def compute() -> list[str]:
        given = {**os.environ, "XDG_CACHE_HOME": str(tmp_path)}
        done = subprocess.run([sys.executable, "-c", COMPILE], env=given, capture_output=True, text=True, check=True)
        return done.stdout.split()

    first = compute()
    assert first[:3] == ["False", "True", "True"]
    (file,) = (tmp_path / "holdtime").glob("*/kernel-*.o")
    before = file.stat().st_mtime_ns
    assert compute() == ["True", "True", "False", first[3]]
    assert file.stat().st_mtime_ns == before
