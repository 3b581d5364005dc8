"""Every command that writes, killed once at a random moment and given again: the benchmark of kills, small."""

from pathlib import Path

from tests.benchmarks.kills import LINES, Place


def test_a_kill_loses_nothing_and_leaves_no_half_file(tmp_path: Path) -> None:
    found = Place(tmp_path, seed=1).kill(len(LINES))
    assert sum(found.kills.values()) == len(LINES)
    assert found.compared >= len(LINES)
    assert found.failures == []
