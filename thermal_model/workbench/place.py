"""The folder of a workbench: its containers and benches, found afresh each time, and files changed without a loss."""

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from geometries.container import Container
from geometries.design_file import parse_container
from geometries.errors import InputError
from geometries.files import parse_toml, read_text, write_rules, write_text
from thermal_model.bench.columns import File
from thermal_model.bench.write.rows import rows_of
from thermal_model.workbench.folder_lock import FolderLock

NAME = re.compile(r"[a-z][a-z0-9_]{0,59}")
"""Of what is made on the page: it becomes the name of a file."""

HERE = "-"
"""Name of the bench that is the folder itself."""

MOST_SHOWN = 300
"""Most containers, and most benches, that are listed."""


@dataclass(frozen=True)
class Design:
    """A design file of the folder.

    Attributes
    ----------
    name : str
        Of the file, without its ending.
    path : Path
    text : str
    digest : str
        Of the text: tells whether somebody else changed it meanwhile.
    container : Container or None
        None if it can't be read.
    problems : tuple of str
    """

    name: str
    path: Path
    text: str
    digest: str
    container: Container | None
    problems: tuple[str, ...]


@dataclass(frozen=True)
class ConflictError(Exception):
    """A file changed between reading and saving; nothing was written.

    Attributes
    ----------
    there : str
        What the file holds now.
    digest : str
    """

    there: str
    digest: str


class Place:
    """A folder; no name leads out of it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()
        self.lock = FolderLock(self.folder)

    def designs(self) -> list[Design]:
        """Return the design files, by name; what is broken is listed with what is wrong."""
        paths = (path for path in sorted(self.folder.glob("*.toml")) if path.name != File.BENCH)
        found = (_design(path) for path in paths if self._is_inside(path))
        return [design for design in found if design is not None][:MOST_SHOWN]

    def containers(self) -> list[str]:
        """Return the names of the design files that can be read."""
        return [design.name for design in self.designs() if design.container is not None]

    def design(self, name: str) -> Design:
        """Return a design file by its name; an InputError says that there is none."""
        path = self._listed(name)
        found = None if path is None or path.name == File.BENCH else _design(path)
        if found is None:
            raise InputError("there is no such container in this folder", "container", name)
        return found

    def benches(self) -> list[Path]:
        """Return the folders with a bench: this one, and those in it."""
        folders = [self.folder, *(path for path in sorted(self.folder.iterdir()) if path.is_dir())]
        return [path for path in folders if (path / File.BENCH).is_file() and self._is_inside(path)][:MOST_SHOWN]

    def bench(self, name: str) -> Path:
        """Return the folder of a bench by its name, HERE for this one; an InputError says that there is none."""
        for path in self.benches():
            if name == self.bench_name(path):
                return path
        raise InputError("there is no such bench in this folder", "bench", name)

    def bench_name(self, path: Path) -> str:
        """Return what a bench is called in addresses."""
        return HERE if path == self.folder else path.name

    def save(self, name: str, text: str, digest: str) -> Design:
        """Write a design file whole, if it still is as it was read.

        Parameters
        ----------
        name : str
        text : str
        digest : str
            Of the text that was changed; "" for a new file.

        Raises
        ------
        ConflictError
            If the file is not what was changed any more, or a new one is there already.
        InputError
            If the name is no name, or the file can't be written.
        """
        path = self._listed(name)
        if path is None:
            path = self.folder / f"{new_name(name)}.toml"
        with self.lock:
            there = read_text(path) if path.is_file() else ""
            if there and digest_of(there) != digest:
                raise ConflictError(there, digest_of(there))
            with write_rules(may_replace=bool(there)):
                write_text(path, text)
        return self.design(path.stem)

    def _listed(self, name: str) -> Path | None:
        paths = (path for path in self.folder.glob("*.toml") if path.name == f"{name}.toml")
        return next(filter(self._is_inside, paths), None)

    def _is_inside(self, path: Path) -> bool:
        try:
            return path.resolve().is_relative_to(self.folder)
        except (OSError, RuntimeError):
            return False


def has_readings(bench: Path) -> bool:
    """Tell whether anything was read on a bench: a tap, or a logger's file beside its own."""
    if any(rows_of(bench / file) for file in (File.READINGS, File.PASSINGS)):
        return True
    files = {path.name for path in bench.glob("*.csv")}
    return any(f"{row.get('run', '').strip()}.csv" in files for _, row in rows_of(bench / File.RUNS))


def new_name(text: str) -> str:
    """Return a name for a new file; an InputError says what it must be.

    Examples
    --------
    >>> new_name(" Slim flask ")
    'slim_flask'
    """
    name = re.sub(r"[\s-]+", "_", text.strip().lower())
    if not NAME.fullmatch(name) or name == Path(File.BENCH).stem:
        message = "must begin with a letter, and hold letters, digits and _ only, for example slim_flask"
        raise InputError(message, "name", text)
    return name


def digest_of(text: str) -> str:
    """Return a digest of a text."""
    return hashlib.sha256(text.encode()).hexdigest()


def _design(path: Path) -> Design | None:
    """Return a design file, None if it is another kind of file."""
    text, container = "", None
    problems: tuple[str, ...] = ()
    try:
        text = read_text(path)
        if "body" not in parse_toml(text, path.name):
            return None
        container = parse_container(text, path.name)
    except InputError as error:
        problems = tuple(map(str, error.problems))
    return Design(path.stem, path, text, digest_of(text) if text else "", container, problems)
