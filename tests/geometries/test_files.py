"""Files and folders made whole or not at all, and what killed commands left behind."""

import errno
import os
import time
from pathlib import Path

import pytest

from geometries.errors import InputError
from geometries.files import STALE, new_folder, write_text


def write_two(folder: Path) -> None:
    with new_folder(folder) as growing:
        write_text(growing / "a.csv", "a")
        write_text(growing / "b.csv", "b")


def write_half(folder: Path) -> None:
    with new_folder(folder) as growing:
        write_text(growing / "a.csv", "a")
        raise KeyboardInterrupt


def texts(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text() for path in folder.iterdir()}


def test_what_a_killed_command_left_goes_after_a_day(tmp_path: Path) -> None:
    """But nothing younger, nothing of another name, and nothing that a link points to."""
    elsewhere = tmp_path / "elsewhere"
    place = tmp_path / "place"
    for folder in (elsewhere, place, place / ".holdtime-folder.part"):
        folder.mkdir()
    (elsewhere / "kept.txt").write_text("mine")
    for name in (".holdtime-old.part", ".holdtime-young.part", "mine.part", ".holdtime-mine"):
        (place / name).write_text("half")
    (place / ".holdtime-folder.part" / "half.csv").write_text("half")
    (place / ".holdtime-link.part").symlink_to(elsewhere, target_is_directory=True)
    then = time.time() - STALE - 60.0
    for path in place.iterdir():
        if "young" not in path.name:
            os.utime(path, (then, then), follow_symlinks=False)
    write_text(place / "new.txt", "whole")
    left = {".holdtime-young.part", "mine.part", ".holdtime-mine", ".holdtime-link.part", "new.txt"}
    assert {path.name for path in place.iterdir()} == left
    assert (elsewhere / "kept.txt").read_text() == "mine"


def test_a_file_that_can_t_be_written_to_its_end_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "result.json"
    write_text(target, "old")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match=r"result\.json"):
        write_text(target, "new")
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_folder_comes_whole_or_not_at_all(tmp_path: Path) -> None:
    folder = tmp_path / "above" / "new"
    with pytest.raises(KeyboardInterrupt):
        write_half(folder)
    assert list(folder.parent.iterdir()) == []
    write_two(folder)
    assert texts(folder) == {"a.csv": "a", "b.csv": "b"}
    assert [path.name for path in folder.parent.iterdir()] == ["new"]
    (tmp_path / "plain").mkdir()
    assert folder.stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_folder_that_is_there_is_filled_and_completed_but_never_written_over(tmp_path: Path) -> None:
    empty, begun, whole, foreign, edited = (
        tmp_path / name for name in ("empty", "begun", "whole", "foreign", "edited")
    )
    for folder in (empty, begun, whole, foreign, edited):
        folder.mkdir()
    (begun / "a.csv").write_text("a")
    (begun / ".holdtime-killed.part").mkdir()
    write_two(empty)
    write_two(begun)
    assert texts(empty) == {"a.csv": "a", "b.csv": "b"}
    assert {path.name for path in begun.iterdir()} == {"a.csv", "b.csv", ".holdtime-killed.part"}
    for folder, files in ((whole, {"a.csv": "a", "b.csv": "b"}), (foreign, {"c.csv": "c"}), (edited, {"a.csv": "A"})):
        for name, text in files.items():
            (folder / name).write_text(text)
        with pytest.raises(InputError, match="is there already and not empty"):
            write_two(folder)
        assert texts(folder) == files


def test_a_file_in_the_place_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(InputError, match="file: is there already"):
        write_two(tmp_path / "file")
    assert texts(tmp_path) == {"file": "mine"}
