"""One writer of a folder at a time, of any thread or process: no file changes between a check and what rests on it."""

import threading
from pathlib import Path
from types import TracebackType

from filelock import FileLock, Timeout

from geometries.errors import InputError

NAME = ".holdtime-lock"
"""Of the file that is locked; empty, and left behind."""

LONGEST_WAIT = 10.0
"""[s]"""


class FolderLock:
    """A context in which nobody else writes into a folder, as far as they ask; it may be entered again within.

    A folder that can't be written has nothing to guard: what is written into it fails by itself, and says so.
    """

    def __init__(self, folder: Path) -> None:
        self._threads = threading.RLock()
        self._processes = FileLock(folder / NAME, timeout=LONGEST_WAIT, thread_local=False)

    def __enter__(self) -> None:
        """Wait until nobody else writes.

        Raises
        ------
        InputError
            If another process writes for longer than LONGEST_WAIT.
        """
        self._threads.acquire()
        try:
            self._processes.acquire()
        except Timeout:
            self._threads.release()
            raise InputError("another window or command is writing into this folder; try again in a moment") from None
        except OSError:
            pass

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        """Let others write."""
        self._processes.release()
        self._threads.release()
