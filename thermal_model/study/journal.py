"""What a long computation has done so far: a folder of chunks, each written whole, from which it resumes.

A run that is killed loses the chunk in hand and nothing else. The folder knows the inputs it belongs to, and refuses
others.
"""

import io
import json
import os
import re
import weakref
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.errors import InputError
from geometries.files import put_in_place, write_bytes
from geometries.numeric import Array

SUFFIX = ".partial"
_INPUTS, _LOCK, _FINISHED = "inputs.json", "lock", "finished"
_MORE = "more_"
_CHUNK = re.compile(r"(\d{12})-(\d{12})\.npz")


@dataclass(frozen=True)
class Results:
    """What became of n consecutive designs.

    Attributes
    ----------
    hold_times : (m, n) array
        [s]
    outcome : (n,) int8 array
        Members of `batch.Outcome`.
    reason : (n,) int32 array
        Place in `reasons` of what is wrong with a design, -1 if nothing is.
    reasons : tuple of str
    more : mapping of str to (k, n) array
        What else was asked of every design, as `Sweep.block` names it.
    """

    hold_times: Array
    outcome: NDArray[np.int8]
    reason: NDArray[np.int32]
    reasons: tuple[str, ...]
    more: Mapping[str, Array] = field(default_factory=dict)

    def part(self, low: int, high: int) -> "Results":
        """Return the results of some of the designs."""
        more = {name: values[:, low:high] for name, values in self.more.items()}
        return Results(self.hold_times[:, low:high], self.outcome[low:high], self.reason[low:high], self.reasons, more)


class Journal:
    """A folder of chunks of results, by the numbers of their designs.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    inputs : mapping of str to object
        All that decides the results, as a JSON object.
    is_kept : bool
        Whether the folder outlives a run that fails.
    of : str
        What it is of, for messages.

    Raises
    ------
    InputError
        If the folder belongs to other inputs, is in use, is something else, or can't be made.
    """

    def __init__(self, folder: Path, inputs: Mapping[str, Any], *, is_kept: bool = True, of: str = "sweep") -> None:
        self.folder, self.is_kept, self.of = folder, is_kept, of
        self._text = json.dumps(inputs, ensure_ascii=False, sort_keys=True, indent=1) + "\n"
        try:
            folder.mkdir(exist_ok=True)
            # Let go when the journal is no longer used, or the process ends however it does.
            self._release = weakref.finalize(self, _close, _locked(folder))
            self._claim()
        except OSError as error:
            raise _refusal(folder, f"can't be used: {error.strerror or error}") from None

    def _claim(self) -> None:
        """Check whose folder it is, or take it."""
        owner = self.folder / _INPUTS
        if owner.exists():
            if owner.read_bytes() != self._text.encode():
                raise _refusal(
                    self.folder,
                    f"holds part of another {self.of}, or of another version; finish that one with its own command, "
                    "give another --output, or remove the folder",
                )
            return
        strangers = [path.name for path in self.folder.iterdir() if path.name != _LOCK and path.suffix != ".part"]
        if strangers:
            raise _refusal(self.folder, f"is in the way: it holds '{strangers[0]}'; give another --output or move it")
        self._write(owner, self._text.encode())

    def _write(self, path: Path, data: bytes) -> None:
        try:
            write_bytes(path, data, is_own=True)
        except InputError as error:
            advice = f"what is done is kept in {self.folder}; make room and give the same command again"
            if not self.is_kept:
                advice = "make room for temporary files, or give an --output where there is room"
            raise InputError(replace(p, message=f"{p.message}; {advice}") for p in error.problems) from None

    def put(self, name: str, data: bytes) -> None:
        """Write a file of one's own into the folder, whole or not at all.

        Raises
        ------
        InputError
            If it can't be written; what was there before stays.
        """
        self._write(self.folder / name, data)

    def chunks(self) -> list[tuple[int, int]]:
        """Return first and past-the-last design of every chunk, in order; what can't be read is thrown away."""
        found = []
        for path in self.folder.iterdir():
            match = _CHUNK.fullmatch(path.name)
            if match is None:
                continue
            if zipfile.is_zipfile(path):
                found.append((int(match.group(1)), int(match.group(2))))
            else:
                path.unlink()
        return sorted(found)

    def missing(self, count: int, chunk: int) -> Iterator[tuple[int, int]]:
        """Yield stretches of at most `chunk` designs that are not done, of all `count`."""
        done = [*self.chunks(), (count, count)]
        at = 0
        for start, stop in done:
            for low in range(at, start, chunk):
                yield low, min(low + chunk, start)
            at = max(at, stop)

    def keep(self, start: int, results: Results) -> None:
        """Write a chunk, whole or not at all.

        Raises
        ------
        InputError
            If it can't be written; chunks before it stay.
        """
        data = io.BytesIO()
        arrays: dict[str, Any] = {_MORE + name: values for name, values in results.more.items()}
        arrays |= {"hold_times": results.hold_times, "outcome": results.outcome, "reason": results.reason}
        np.savez(data, **arrays, reasons=np.array(results.reasons, dtype=np.str_))
        self._write(self.folder / f"{start:012d}-{start + len(results.outcome):012d}.npz", data.getvalue())

    def read(self, start: int, stop: int) -> Results:
        """Return a chunk."""
        with np.load(self.folder / f"{start:012d}-{stop:012d}.npz", allow_pickle=False) as chunk:
            more = {name.removeprefix(_MORE): chunk[name] for name in chunk.files if name.startswith(_MORE)}
            reasons = tuple(str(r) for r in chunk["reasons"])
            return Results(chunk["hold_times"], chunk["outcome"], chunk["reason"], reasons, more)

    def pieces(self) -> Iterator[tuple[int, Results]]:
        """Yield first design and results of every chunk, in order."""
        for start, stop in self.chunks():
            yield start, self.read(start, stop)

    def release(self) -> None:
        """Let others have the folder; it is not used any more here."""
        self._release()

    def remove(self) -> None:
        """Remove the folder; the file that says whose it is goes last."""
        (self.folder / _FINISHED).touch()
        for path in sorted(self.folder.iterdir(), key=lambda path: path.name == _INPUTS):
            path.unlink()
        self._release()
        self.folder.rmdir()


def remove_finished(folder: Path, output: Path) -> None:
    """Remove what a sweep left that was killed after its output was in place; what may still be gone on with stays."""
    try:
        if not output.is_file() or not (folder / _INPUTS).is_file():
            return
        lock = _locked(folder)
        try:
            if (folder / _FINISHED).exists() or _is_older_and_whole(folder, output):
                for path in sorted(folder.iterdir(), key=lambda path: path.name in (_INPUTS, _FINISHED)):
                    path.unlink()
                folder.rmdir()
        finally:
            _close(lock)
    except (OSError, ValueError, KeyError, TypeError, InputError):
        return  # in use, or not ours


def _is_older_and_whole(folder: Path, output: Path) -> bool:
    """Tell whether a folder holds all designs, and an output was written after the last of them."""
    designs, at = int(json.loads((folder / _INPUTS).read_bytes())["designs"]), 0
    chunks = sorted(match.groups() for path in folder.iterdir() if (match := _CHUNK.fullmatch(path.name)))
    for start, stop in chunks:
        at = int(stop) if int(start) == at else at
    newest = max((path.stat().st_mtime_ns for path in folder.glob("*.npz")), default=0)
    return at == designs and output.stat().st_mtime_ns >= newest


def _locked(folder: Path) -> int | None:
    """Return the descriptor of a lock on a folder; None where there are no locks."""
    try:
        import fcntl
    except ImportError:
        return None
    lock = os.open(folder / _LOCK, os.O_RDWR | os.O_CREAT, 0o666)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(lock)
        raise _refusal(folder, "another sweep is writing there; wait for it, or give another --output") from None
    return lock


def _close(lock: int | None) -> None:
    if lock is not None:
        os.close(lock)


def _refusal(folder: Path, message: str) -> InputError:
    return InputError(message, source=str(folder))


def replace_file(finished: Path, target: Path) -> None:
    """Put a finished file in its place, all of it on the disk."""
    with finished.open("rb+") as file:
        os.fsync(file.fileno())
    put_in_place(finished, target)
