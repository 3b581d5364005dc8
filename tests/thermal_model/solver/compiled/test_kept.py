"""Where the kernel is kept: a damaged, foreign or missing place costs a compilation, never an answer."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from thermal_model.solver.compiled import kept

COMPILE = """
import numpy as np
from thermal_model.solver.compiled import kept
from geometries.design_file import load_container
from thermal_model.scenario import Scenario
from thermal_model.assemble.build import assemble
from thermal_model.solver.engine import integrate
from thermal_model.solver.steppers import compiled_stepper, stepper_for
was_kept = kept.is_kept()
network = assemble(load_container("thin_disc_lid"), Scenario(), lanes=1)
found = integrate(network, np.array([[3e5]]), np.array([1e6]), stepper=compiled_stepper())
print(was_kept, kept.is_kept(), repr(float(found.crossing_times[0, 0])))
"""


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:  # type: ignore[misc]
    """An empty place to keep things in, with a whole kernel made by hand."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    kept.prepared_folder.cache_clear()
    folder = kept.prepared_folder()
    assert folder is not None
    (folder / "deeper").mkdir()
    (folder / "deeper" / "code.nbc").write_bytes(b"code")
    kept.note_kept()
    yield folder
    kept.prepared_folder.cache_clear()


def test_what_was_kept_is_found(place: Path) -> None:
    assert kept.is_kept()
    kept.prepared_folder.cache_clear()
    assert kept.prepared_folder() == place


@pytest.mark.parametrize("change", ["changed", "cut", "added", "gone", "list", "list not JSON", "list of another"])
def test_what_is_damaged_is_not_read(place: Path, change: str) -> None:
    code, listed = place / "deeper" / "code.nbc", place.parent / "kernel.json"
    if change == "changed":
        code.write_bytes(b"evil")
    elif change == "cut":
        code.write_bytes(b"")
    elif change == "added":
        (place / "more.nbi").write_bytes(b"evil")
    elif change == "gone":
        code.unlink()
    elif change == "list":
        listed.unlink()
    elif change == "list not JSON":
        listed.write_bytes(b"\xff{")
    else:
        listed.write_text(json.dumps({"folder": "../..", "files": {"a": "b"}}))
    assert not kept.is_kept()
    kept.prepared_folder.cache_clear()
    fresh = kept.prepared_folder()
    assert fresh is not None
    assert fresh != place
    assert list(fresh.iterdir()) == []


@pytest.mark.parametrize("where", ["folder", "place", "link"])
def test_nothing_that_others_can_write_is_read(place: Path, where: str) -> None:
    if where == "link":
        moved = place.with_name("moved")
        place.rename(moved)
        place.symlink_to(moved)
    else:
        (place if where == "folder" else place.parent).chmod(0o777)
    assert not kept.is_kept()


def test_no_home_and_no_place(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def nobody() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(Path, "home", nobody)
    kept.prepared_folder.cache_clear()
    assert kept.prepared_folder() is None
    assert not kept.is_kept()
    kept.note_kept()
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    kept.prepared_folder.cache_clear()
    assert kept.prepared_folder() is None
    kept.note_kept()
    kept.prepared_folder.cache_clear()


def test_the_compiler_keeps_what_the_next_process_reads(tmp_path: Path) -> None:
    def compute(**environment: str) -> list[str]:
        given = {**os.environ, **environment}
        done = subprocess.run([sys.executable, "-c", COMPILE], env=given, capture_output=True, text=True, check=True)
        return done.stdout.split()

    first = compute(XDG_CACHE_HOME=str(tmp_path))
    assert first[:2] == ["False", "True"]
    (folder,) = (tmp_path / "holdtime").glob("*/kernel-*/")
    stamps = {path: path.stat().st_mtime_ns for path in folder.rglob("*.nb?")}
    assert len(stamps) >= 4
    assert compute(XDG_CACHE_HOME=str(tmp_path)) == ["True", "True", first[2]]
    assert {path: path.stat().st_mtime_ns for path in folder.rglob("*.nb?")} == stamps
