"""A crew of Dask workers: processes of this machine, or those of a scheduler that runs already.

Every part is a pure function of what it is given, so a worker that dies costs its parts alone: others do them again.
"""

import logging
import math
import signal
import threading
import time
from collections.abc import Iterator
from concurrent.futures import CancelledError
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from multiprocessing import resource_tracker
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from geometries.errors import InputError
from thermal_model.study.crew import Crew

if TYPE_CHECKING:
    from distributed import Client

SCHEDULER_TIMEOUT, WORKER_TIMEOUT = 5.0, 20.0
"""How long an answer is waited for: of a scheduler, of a first worker. [s]"""

RENEWED = 2.0
"""How often a scheduler is asked who works for it. [s]"""

_STAY_DEAF = "import signal; signal.signal(signal.SIGINT, signal.SIG_IGN)"
"""For workers that are started anew, later on."""

_GOES_ON = "what is done is kept, and the same command goes on there"


@contextmanager
def local_workers(count: int) -> Iterator[Crew]:
    """Yield a crew of worker processes on this machine, one thread each; one that dies is started anew.

    Raises
    ------
    InputError
        If Dask is not installed, or the processes can't be started.
    """
    _check_library("--workers")
    from distributed import Client, LocalCluster

    _be_quiet()
    with TemporaryDirectory(prefix="holdtime-", ignore_cleanup_errors=True) as folder, ExitStack() as opened:
        with _interrupts_unheard():
            try:
                cluster = LocalCluster(
                    n_workers=count,
                    threads_per_worker=1,
                    dashboard_address="127.0.0.1:0",
                    silence_logs=logging.CRITICAL,
                    local_directory=folder,
                    preload=[_STAY_DEAF],
                )
            except (OSError, RuntimeError) as error:
                raise InputError(f"can't be started: {_one_line(error)}", source="--workers") from None
            opened.enter_context(cluster)
            client = opened.enter_context(Client(cluster, timeout=WORKER_TIMEOUT, set_as_default=False))
        with _told_plainly("--workers"):
            yield _crew(client)


@contextmanager
def _interrupts_unheard() -> Iterator[None]:
    """Keep Ctrl-C for later while workers start: a terminal sends it to all processes, and only this one may hear it.

    What is started here inherits the block and stays deaf. A thread that was there before (of a matrix library, say)
    has no block, so that a signal ignored meanwhile would be lost there: it is noted, and raised again at the end.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    noted: list[int] = []
    held = None
    if hasattr(signal, "pthread_sigmask"):
        resource_tracker.ensure_running()  # started later, it would let Ctrl-C through again in its thread
        held = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    before = signal.signal(signal.SIGINT, lambda number, _: noted.append(number))
    try:
        yield
    finally:
        if held is not None:
            signal.pthread_sigmask(signal.SIG_SETMASK, held)
        signal.signal(signal.SIGINT, before)
        if noted:
            signal.raise_signal(signal.SIGINT)


@contextmanager
def workers_of(address: str) -> Iterator[Crew]:
    """Yield a crew of the workers of a scheduler; it and they go on when the work is done.

    Raises
    ------
    InputError
        If Dask is not installed, nobody answers at the address, no worker joins in time; while the crew works, if the
        scheduler goes away, or a worker computes with another version.
    """
    _check_library("--scheduler")
    from distributed import Client

    _be_quiet()
    source = f"--scheduler {address}"
    try:
        client = Client(address, timeout=SCHEDULER_TIMEOUT, set_as_default=False)
    except ValueError:
        raise InputError("is no address; write one such as tcp://10.0.0.5:8786", source=source) from None
    except (OSError, OverflowError):
        message = f"no scheduler answers within {SCHEDULER_TIMEOUT:g} s; start one with: dask scheduler"
        raise InputError(message, source=source) from None
    with client, _told_plainly(source):
        try:
            client.wait_for_workers(1, timeout=WORKER_TIMEOUT)
        except TimeoutError:
            message = f"no worker has joined within {WORKER_TIMEOUT:g} s; start one with: dask worker {address}"
            raise InputError(message, source=source) from None
        yield _crew(client)


def _crew(client: "Client") -> Crew:
    return Crew(client.get_executor(pure=False), _ThreadCount(client))


@dataclass
class _ThreadCount:
    """How many parts the workers compute at a time; without a worker one part waits for the next to join."""

    client: "Client"
    count: int = 1
    asked: float = -math.inf

    def __call__(self) -> int:
        now = time.monotonic()
        if now - self.asked > RENEWED:
            try:
                self.count, self.asked = max(sum(self.client.nthreads().values()), 1), now
            except OSError:
                raise CancelledError("the scheduler is gone") from None
        return self.count


@contextmanager
def _told_plainly(source: str) -> Iterator[None]:
    """Turn what Dask raises when the work can't go on into one line."""
    from distributed import KilledWorker
    from distributed.comm.core import CommClosedError

    try:
        yield
    except KilledWorker:
        raise InputError(f"workers died one after the other on the same designs; {_GOES_ON}", source=source) from None
    except (CancelledError, CommClosedError, TimeoutError):
        raise InputError(f"the scheduler is gone; {_GOES_ON}", source=source) from None


def _check_library(source: str) -> None:
    from importlib.util import find_spec

    if find_spec("distributed") is None:
        raise InputError(
            "needs the library distributed; install it with: pip install 'holdtime[distributed]'", source=source
        )


def _be_quiet() -> None:
    """Keep Dask's log off the terminal: what matters of it is told in one line."""
    import distributed  # noqa: F401 - it sets up its handlers when it is imported

    for handler in logging.getLogger("distributed").handlers:
        handler.setLevel(logging.CRITICAL + 1)


def _one_line(error: BaseException) -> str:
    return " ".join(str(error).split()) or type(error).__name__
