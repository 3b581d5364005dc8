"""Crews of threads: every part once, in any order, never far ahead; a sweep does not depend on them."""

import pickle
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from geometries.errors import InputError
from tests.thermal_model.study.test_sweep import axes, cup_sweep, whole
from thermal_model.solver.cores import cores
from thermal_model.study import sweep as module
from thermal_model.study.crew import IN_HAND, Part, threads
from thermal_model.study.journal import Journal
from thermal_model.study.sampling import Plan, planned
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.sweep import Sweep, joined, libraries, run
from thermal_model.version import version


def parts(count: int) -> list[Part]:
    return [(k, k + 1) for k in range(count)]


def test_every_part_comes_back_once_with_its_own_result() -> None:
    def backwards(start: int, stop: int) -> int:
        time.sleep(0.002 * (20 - start) / 20)
        return 100 * start + stop

    with threads(3) as crew:
        found = dict(crew.finished(backwards, parts(20)))
    assert found == {(k, k + 1): 101 * k + 1 for k in range(20)}


def test_parts_are_computed_at_the_same_time() -> None:
    """Two that wait for each other can't both end in one thread."""
    meeting = threading.Barrier(2, timeout=5.0)
    with threads(2) as crew:
        assert len(list(crew.finished(lambda *_: meeting.wait(), parts(2)))) == 2


def test_parts_are_not_read_far_ahead() -> None:
    read: list[int] = []

    def endless() -> Iterator[Part]:
        for k in range(10**9):
            read.append(k)
            yield k, k + 1

    with threads(2) as crew:
        for number, _ in enumerate(crew.finished(lambda start, _: start, endless())):
            assert len(read) <= number + 1 + 2 * IN_HAND
            if number == 50:
                break


def test_what_fails_is_raised_and_the_rest_is_dropped() -> None:
    begun: list[int] = []

    def fails(start: int, _: int) -> int:
        begun.append(start)
        if start == 3:
            raise InputError("no more")
        time.sleep(0.001)
        return start

    with pytest.raises(InputError, match="no more"), threads(2) as crew:
        list(crew.finished(fails, parts(1000)))
    assert len(begun) < 20


def test_cores_are_counted() -> None:
    assert 1 <= cores() <= 4096


@pytest.mark.parametrize(("count", "chunk"), [(2, 16), (5, 16), (3, 64)])
def test_threads_change_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, count: int, chunk: int) -> None:
    """Bit for bit, down to the files of the journal."""
    monkeypatch.setattr(module, "BLOCK", 16)
    sweep = cup_sweep("body.inside_depth=80..120 mm:10", "scenario.stands_on=wood,stone", "scenario.fill=250..420 mL:5")
    alone, together = Journal(tmp_path / "a", {}), Journal(tmp_path / "b", {})
    run(sweep, alone, chunk=chunk)
    told: list[int] = []
    with threads(count) as crew:
        run(sweep, together, chunk=chunk, crew=crew, progress=told.append)
    assert sum(told) == sweep.plan.count
    assert {0, 2} <= set(whole(alone).outcome.tolist())
    assert alone.chunks() == together.chunks()
    for start, stop in alone.chunks():
        name = f"{start:012d}-{stop:012d}.npz"
        assert (alone.folder / name).read_bytes() == (together.folder / name).read_bytes()


def test_threads_share_what_a_plan_has_drawn(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A sweep is unpacked by workers elsewhere alone: a thread that did so would draw a million designs once more."""

    def refused(_: bytes) -> Sweep:
        raise AssertionError("unpacked in the process that handed it out")

    monkeypatch.setattr(module, "BLOCK", 4)
    monkeypatch.setattr(module, "_unpacked", refused)
    sweep = cup_sweep("body.inside_depth=80..120 mm:16")
    with threads(2) as crew:
        run(sweep, Journal(tmp_path, {}), crew=crew)
    with pytest.raises(AssertionError, match="handed it out"):
        module._block_of(pickle.dumps(sweep), version(), libraries(), 0, 4)


def test_compiled_steps_do_not_depend_on_who_computes_either() -> None:
    """Bit for bit: a plan this large gets the compiled stepper; blocks of odd sizes, in threads and in this one."""
    sweep = cup_sweep("body.inside_depth=80..120 mm:40", "scenario.room=10..25 C:30")
    assert sweep.is_compiled
    together = sweep.block(0, 45)
    with threads(2) as crew:
        found = dict(crew.finished(sweep.block, [(0, 7), (7, 8), (8, 31), (31, 45)]))
    assert joined([found[part] for part in sorted(found)]).hold_times.tobytes() == together.hold_times.tobytes()


def test_a_chunk_is_kept_when_its_last_block_is_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The first block comes last: the second chunk is on the disk before the first."""
    monkeypatch.setattr(module, "BLOCK", 4)
    sweep = cup_sweep("body.inside_depth=80..120 mm:16")
    expected = sweep.block(0, 16).hold_times.tobytes()
    blocks = [((low, low + 4), sweep.block(low, low + 4)) for low in (8, 12, 4, 0)]
    kept = list(module._whole_chunks(sweep, [(0, 8), (8, 16)], iter(blocks)))
    assert [start for start, _ in kept] == [8, 0]
    journal = Journal(tmp_path / "j", {})
    for start, results in kept:
        journal.keep(start, results)
    assert whole(journal).hold_times.tobytes() == expected


@pytest.mark.parametrize("sampling", [Sampling.LATIN, Sampling.SOBOL])
def test_threads_draw_the_same_rows_of_one_plan(sampling: Sampling) -> None:
    """A plan keeps what it has drawn; threads that ask in any order get what a fresh plan gives."""
    plan = planned(axes("body.inside_depth=80..120 mm", "scenario.room=10..30 C"), sampling, 400, 7)
    fresh = Plan(plan.axes, plan.sampling, plan.count, plan.seed).rows(0, 400).values
    with threads(4) as crew:
        for (start, stop), rows in crew.finished(plan.rows, [(k, k + 8) for k in range(392, -1, -8)]):
            for path, values in rows.values.items():
                assert values.tolist() == fresh[path][start:stop].tolist()


def test_other_versions_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    import pickle

    sweep, wanted = pickle.dumps(cup_sweep("body.inside_depth=80,90 mm")), dict(module.libraries())
    assert module._block_of(sweep, module.version(), wanted, 0, 2).outcome.tolist() == [0, 0]  # type: ignore[attr-defined]
    with pytest.raises(InputError, match=r"a worker has holdtime .*, this command 0\.0\.9; install the same on both"):
        module._block_of(sweep, "0.0.9", wanted, 0, 2)
    with pytest.raises(InputError, match=r"a worker has numpy .*, this command 1\.0\.0"):
        module._block_of(sweep, module.version(), wanted | {"numpy": "1.0.0"}, 0, 2)  # type: ignore[attr-defined]
