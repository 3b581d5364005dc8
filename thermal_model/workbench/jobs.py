"""Long work in the background: the very commands of `holdtime`, each in a process of its own that can be stopped.

So the page stays live, and what it shows can be repeated in a terminal.
"""

import os
import secrets
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

ENTER = "from thermal_model.cli.main import run; run()"

AT_ONCE = 2
"""Commands that run side by side; others wait."""

MOST_KEPT = 50
"""Finished jobs that are remembered."""

LONGEST_TEXT = 2_000_000
"""Of what a command prints [characters]."""


class Stage(StrEnum):
    """Where a job is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    REFUSED = "refused"
    STOPPED = "stopped"


@dataclass
class Job:
    """A command, and what became of it.

    Attributes
    ----------
    key : str
    title : str
    arguments : tuple of str
        Behind `holdtime`.
    outputs : Path
        Folder of the files it writes.
    stage : Stage
    share : float
        Of the work done.
    text : str
        What it printed.
    problems : list of str
        A line each.
    """

    key: str
    title: str
    arguments: tuple[str, ...]
    outputs: Path
    finish: Callable[[Path], None] | None = None
    stage: Stage = Stage.WAITING
    share: float = 0.0
    text: str = ""
    problems: list[str] = field(default_factory=list)
    began: float = field(default_factory=time.monotonic)
    process: "subprocess.Popen[str] | None" = None

    @property
    def seconds_left(self) -> float | None:
        """How long it will still take if it goes on so; None if that can't be told. [s]"""
        if self.stage is not Stage.RUNNING or self.share < 0.02:
            return None
        return (time.monotonic() - self.began) * (1.0 - self.share) / self.share

    @property
    def command(self) -> str:
        """As it is typed in a terminal."""
        import shlex

        own = str(self.outputs)  # a file or folder of ours is told by its name alone
        shown = [f"./{Path(a).name}" if a.startswith(own) else a for a in self.arguments if f"={own}" not in a]
        return shlex.join(["holdtime", *shown])

    @property
    def files(self) -> list[str]:
        """Names of the files it has written."""
        return sorted(path.name for path in self.outputs.iterdir()) if self.outputs.is_dir() else []


class Jobs:
    """All jobs of a session; their files go with it."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="holdtime-")
        self._jobs: dict[str, Job] = {}
        self._room = threading.Semaphore(AT_ONCE)
        self._lock = threading.Lock()

    def start(
        self,
        title: str,
        arguments: Callable[[Path], Sequence[str]],
        folder: Path,
        finish: Callable[[Path], None] | None = None,
    ) -> Job:
        """Start a command.

        Parameters
        ----------
        title : str
        arguments : callable
            Given the folder for its files, returns what stands behind `holdtime`.
        folder : Path
            In which it runs.
        finish : callable, optional
            Called with the folder of its files once it has succeeded.
        """
        key = secrets.token_hex(8)
        outputs = Path(self._folder.name) / key
        outputs.mkdir()
        job = Job(key, title, tuple(arguments(outputs)), outputs, finish)
        with self._lock:
            self._forget_old()
            self._jobs[key] = job
        threading.Thread(target=self._run, args=(job, folder), daemon=True).start()
        return job

    def get(self, key: str) -> Job | None:
        """Return a job by its key."""
        return self._jobs.get(key)

    def all(self) -> list[Job]:
        """Return all jobs, the newest first."""
        return list(reversed(self._jobs.values()))

    def stop(self, job: Job) -> None:
        """Stop a job; what it would have written is not written."""
        if job.stage in (Stage.WAITING, Stage.RUNNING):
            job.stage = Stage.STOPPED
        _end(job.process)

    def stop_all(self) -> None:
        """Stop everything, and take the files away."""
        for job in self.all():
            self.stop(job)
        self._folder.cleanup()

    def _forget_old(self) -> None:
        done = [key for key, job in self._jobs.items() if job.stage not in (Stage.WAITING, Stage.RUNNING)]
        for key in done[: max(len(self._jobs) - MOST_KEPT, 0)]:
            del self._jobs[key]

    def _run(self, job: Job, folder: Path) -> None:
        with self._room:
            if job.stage is not Stage.WAITING:
                return
            job.stage, job.began = Stage.RUNNING, time.monotonic()
            job.process = subprocess.Popen(
                [sys.executable, "-c", ENTER, *job.arguments],
                cwd=folder,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                encoding="utf-8",
                errors="replace",
                env={**os.environ, "HOLDTIME_PROGRESS": "lines", "PYTHONIOENCODING": "utf-8", "COLUMNS": "100"},
                start_new_session=True,
            )
            with suppress(OSError):
                os.setpriority(os.PRIO_PROCESS, job.process.pid, 5)
            listener = threading.Thread(target=_listen, args=(job, job.process), daemon=True)
            listener.start()
            assert job.process.stdout is not None
            job.text = job.process.stdout.read(LONGEST_TEXT)
            job.process.stdout.close()
            code = job.process.wait()
            listener.join()
            self._end_of(job, code)

    def _end_of(self, job: Job, code: int) -> None:
        if job.stage is Stage.STOPPED:
            return
        if code == 0 and job.finish is not None:
            try:
                job.finish(job.outputs)
            except ValueError as error:
                job.problems.append(str(error))
                code = 2
        job.share = 1.0
        job.stage = Stage.REFUSED if code else Stage.DONE
        if code and not job.problems:
            job.problems.append(f"it ended with code {code} and said nothing")


def _listen(job: Job, process: "subprocess.Popen[str]") -> None:
    """Take in what a command says while it works: its progress, and what is wrong."""
    assert process.stderr is not None
    for line in process.stderr:
        word, _, rest = line.strip().partition(" ")
        if word == "progress":
            with suppress(ValueError):
                job.share = float(rest)
        elif line.startswith("holdtime: ") and not line.startswith("holdtime: note:") and len(job.problems) < 20:
            job.problems.append(line.removeprefix("holdtime: ").strip())
    process.stderr.close()


def _end(process: "subprocess.Popen[str] | None") -> None:
    if process is None or process.poll() is not None:
        return
    with suppress(OSError):
        os.killpg(process.pid, signal.SIGTERM)
    try:
        process.wait(timeout=2)
    except subprocess.TimeoutExpired:
        with suppress(OSError):
            os.killpg(process.pid, signal.SIGKILL)
