"""Crews of Dask workers, for real: processes that are killed, schedulers that are not there."""

import os
import signal
import socket
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import psutil
import pytest

pytest.importorskip("distributed")

from geometries.errors import InputError
from tests.thermal_model.study.test_sweep import cup_sweep, whole
from thermal_model.study import cluster as module
from thermal_model.study.cluster import local_workers, workers_of
from thermal_model.study.crew import Crew
from thermal_model.study.journal import Journal
from thermal_model.study.sweep import run


@pytest.fixture(scope="module")
def crew() -> Iterator[Crew]:
    with local_workers(2) as crew:
        yield crew


def workers() -> list[int]:
    """Process numbers of the workers, oldest first."""
    children = psutil.Process().children(recursive=True)
    return [child.pid for child in sorted(children, key=psutil.Process.create_time) if "spawn_main" in _line(child)]


def _line(process: psutil.Process) -> str:
    try:
        return " ".join(process.cmdline())
    except psutil.Error:
        return ""


def closed_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def noted(folder: Path, start: int, stop: int) -> int:
    """Take a while, and leave a trace of every time it is begun."""
    (folder / f"{start}-{os.getpid()}-{time.monotonic_ns()}").touch()
    time.sleep(0.1)
    return start * stop


def fatal(start: int, stop: int) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return start * stop


def test_workers_change_nothing(crew: Crew, tmp_path: Path) -> None:
    """Bit for bit, though no worker shares a process with another."""
    varied = ("body.inside_depth=80..120 mm:40", "scenario.room=10..25 C:3", "scenario.fill=250,800 mL")
    sweep = cup_sweep(*varied)
    alone, together = Journal(tmp_path / "a", {}), Journal(tmp_path / "b", {})
    run(sweep, alone, chunk=70)
    run(sweep, together, chunk=70, crew=crew)
    assert crew.size() == len(set(workers())) == 2
    assert {0, 2} <= set(whole(alone).outcome.tolist())
    for start, stop in alone.chunks():
        name = f"{start:012d}-{stop:012d}.npz"
        assert (alone.folder / name).read_bytes() == (together.folder / name).read_bytes()


def test_a_worker_that_is_killed_costs_what_it_had_in_hand(crew: Crew, tmp_path: Path) -> None:
    """By SIGKILL, which nothing can catch; whoever is left, and its successor, do its parts again."""
    parts = [(k, k + 1) for k in range(30)]
    victim, found = workers()[0], {}
    for part, result in crew.finished(partial(noted, tmp_path), parts):
        found[part] = result
        if len(found) == 5:
            os.kill(victim, signal.SIGKILL)
    assert found == {(k, k + 1): k * (k + 1) for k in range(30)}
    begun = [path.name.split("-") for path in tmp_path.iterdir()]
    assert str(victim) in {pid for _, pid, _ in begun}
    # One it was at, and one that was finished but not fetched.
    assert 30 <= len(begun) <= 32


def test_designs_that_kill_every_worker_end_the_run_in_one_line() -> None:
    import dask

    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 0}),
        pytest.raises(InputError, match="--workers: workers died one after the other on the same designs") as caught,
        local_workers(1) as crew,
    ):
        list(crew.finished(fatal, [(0, 1)]))
    assert "the same command goes on there" in str(caught.value)


def test_a_scheduler_that_runs_already_is_used_and_left_alone(tmp_path: Path) -> None:
    from distributed import LocalCluster

    sweep = cup_sweep("body.inside_depth=80..120 mm:6")
    with LocalCluster(n_workers=1, threads_per_worker=2, processes=False, dashboard_address="127.0.0.1:0") as running:
        for name in ("a", "b"):
            journal = Journal(tmp_path / name, {})
            with workers_of(running.scheduler_address) as crew:
                assert crew.size() == 2
                run(sweep, journal, crew=crew)
            assert whole(journal).hold_times.tobytes() == sweep.block(0, 6).hold_times.tobytes()


def test_a_scheduler_that_goes_away_ends_the_run_in_one_line(tmp_path: Path) -> None:
    from distributed import LocalCluster

    running = LocalCluster(n_workers=1, threads_per_worker=1, processes=False, dashboard_address="127.0.0.1:0")

    def work() -> None:
        with workers_of(running.scheduler_address) as crew:
            for (start, _), _ in crew.finished(partial(noted, tmp_path), [(k, k + 1) for k in range(100)]):
                if start == 2:
                    running.close()

    with running, pytest.raises(InputError, match="the scheduler is gone; what is done is kept"):
        work()
    assert len(list(tmp_path.iterdir())) < 10


def test_dead_addresses_are_told_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "SCHEDULER_TIMEOUT", 0.5)
    address = f"tcp://127.0.0.1:{closed_port()}"
    started = time.monotonic()
    with pytest.raises(InputError, match=f"--scheduler {address}: no scheduler answers within 0.5 s; start one"):
        workers_of(address).__enter__()
    assert time.monotonic() - started < 5.0
    for text in ("", "no such", "foo://bar:1"):
        with pytest.raises(InputError, match="is no address; write one such as tcp://"):
            workers_of(text).__enter__()


def test_a_scheduler_without_workers_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    from distributed import LocalCluster

    monkeypatch.setattr(module, "WORKER_TIMEOUT", 0.5)
    with (
        LocalCluster(n_workers=0, processes=False, dashboard_address="127.0.0.1:0") as running,
        pytest.raises(InputError, match=r"no worker has joined within 0\.5 s; start one with: dask worker"),
    ):
        workers_of(running.scheduler_address).__enter__()
