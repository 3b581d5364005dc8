"""What a sweep leaves behind, and what of it is removed later."""

import os
from pathlib import Path

import numpy as np

from thermal_model.study.journal import Journal, Results, remove_finished


def left_by_a_killed_sweep(folder: Path, chunks: int) -> None:
    """Two designs a chunk, of four in all."""
    journal = Journal(folder, {"designs": 4})
    for start in range(0, 2 * chunks, 2):
        none = np.full(2, -1, dtype=np.int32)
        journal.keep(start, Results(np.zeros((1, 2)), np.zeros(2, dtype=np.int8), none, ()))
    del journal


def written(output: Path, folder: Path, later_by: float) -> None:
    output.write_text("results")
    newest = max(path.stat().st_mtime for path in folder.iterdir())
    os.utime(output, (newest + later_by, newest + later_by))


def test_a_sweep_killed_after_its_output_leaves_nothing_for_good(tmp_path: Path) -> None:
    folder, output = tmp_path / "s.csv.partial", tmp_path / "s.csv"
    left_by_a_killed_sweep(folder, chunks=2)
    written(output, folder, later_by=1.0)
    remove_finished(folder, output)
    assert not folder.exists()
    assert output.read_text() == "results"


def test_what_may_be_gone_on_with_stays(tmp_path: Path) -> None:
    folder, output = tmp_path / "s.csv.partial", tmp_path / "s.csv"
    left_by_a_killed_sweep(folder, chunks=2)
    remove_finished(folder, output)  # no output yet
    written(output, folder, later_by=-60.0)  # an older one, to be replaced
    remove_finished(folder, output)
    assert len(list(folder.glob("*.npz"))) == 2
    left_by_a_killed_sweep(tmp_path / "half.csv.partial", chunks=1)
    half = tmp_path / "half.csv"
    written(half, tmp_path / "half.csv.partial", later_by=1.0)
    remove_finished(tmp_path / "half.csv.partial", half)
    assert list((tmp_path / "half.csv.partial").glob("*.npz"))


def test_a_removal_that_was_killed_is_completed(tmp_path: Path) -> None:
    folder, output = tmp_path / "s.csv.partial", tmp_path / "s.csv"
    left_by_a_killed_sweep(folder, chunks=1)
    (folder / "finished").touch()
    written(output, folder, later_by=1.0)
    remove_finished(folder, output)
    assert not folder.exists()


def test_a_folder_in_use_or_not_ours_stays(tmp_path: Path) -> None:
    folder, output = tmp_path / "s.csv.partial", tmp_path / "s.csv"
    left_by_a_killed_sweep(folder, chunks=2)
    written(output, folder, later_by=1.0)
    journal = Journal(folder, {"designs": 4})
    remove_finished(folder, output)
    assert folder.exists()
    journal.remove()
    other = tmp_path / "other.partial"
    other.mkdir()
    (other / "mine.txt").write_text("mine")
    remove_finished(other, output)
    assert (other / "mine.txt").read_text() == "mine"
