"""Reading a bundle that came from anywhere: nothing is trusted before it was checked."""

import hashlib
import json
import lzma
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import Any

from geometries.errors import InputError
from geometries.files import read_text
from thermal_model.bench.write.descriptor import DESCRIPTOR
from thermal_model.bundle.pack import BENCH, CALIBRATION, FORMAT, KIND, LARGEST, MOST_FILES, RANKINGS, RECIPE, files_of

LITTER = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
"""Names of files that systems put into folders when these are looked at; they count for nothing."""

LARGEST_JSON = 50_000_000
"""Of a JSON file in a bundle. [bytes]"""


@contextmanager
def opened(bundle: Path) -> Iterator[Path]:
    """Yield a folder with the files of a bundle, checked against its descriptor.

    Parameters
    ----------
    bundle : Path
        A folder, or a ZIP file; the files may lie in a folder within.

    Raises
    ------
    InputError
        If it is no bundle, of another format, damaged, too large, or its files would lie elsewhere.
    """
    if bundle.is_dir():
        folder = _innermost(bundle)
        _check(folder, bundle)
        yield folder
        return
    with TemporaryDirectory(prefix="holdtime-") as place:
        _extract(bundle, Path(place))
        folder = _innermost(Path(place))
        _check(folder, bundle)
        try:
            yield folder
        except InputError as error:  # names the bundle, not the folder that is gone when it is read
            raise InputError(
                replace(problem, source=problem.source.replace(str(folder), str(bundle))) for problem in error.problems
            ) from None


def _innermost(folder: Path) -> Path:
    """Return the only folder in a folder, if that is where the bundle lies: unpacked and packed again, it does."""
    inside = [path for path in folder.iterdir() if path.name not in LITTER and path.name != "__MACOSX"]
    is_within = len(inside) == 1 and not inside[0].is_symlink() and (inside[0] / DESCRIPTOR).is_file()
    return inside[0] if is_within else folder


def read_document(folder: Path, path: str) -> Any:
    """Return a JSON file of a bundle; an InputError says that it is none."""
    try:
        return json.loads(read_text(folder / path, LARGEST_JSON))
    except (ValueError, RecursionError):
        raise InputError("is no JSON file; the bundle is damaged", source=path) from None


def _refuse(message: str, bundle: Path, path: str = "") -> InputError:
    return InputError(message, path, source=str(bundle))


# --- a ZIP file ---------------------------------------------------------------------------------------------------


def _extract(bundle: Path, folder: Path) -> None:
    try:
        with zipfile.ZipFile(bundle) as archive:
            entries = [entry for entry in archive.infolist() if not entry.is_dir()]
            _check_entries(entries, bundle)
            for entry in entries:
                _extract_one(archive, entry, folder / entry.filename, bundle)
    except InputError:
        raise
    except FileNotFoundError:
        raise _refuse("there is no such file or folder", bundle) from None
    except zipfile.BadZipFile as error:
        raise _refuse(f"is no bundle: no folder, and no sound ZIP file ({error})", bundle) from None
    except (zlib.error, lzma.LZMAError, struct.error, ValueError, OverflowError):
        raise _refuse("can't be unpacked; the bundle is damaged", bundle) from None
    except (RuntimeError, EOFError, OSError) as error:  # another compression, a password, an early end
        raise _refuse(f"can't be unpacked: {error}", bundle) from None


def _check_entries(entries: list[zipfile.ZipInfo], bundle: Path) -> None:
    names = [entry.filename for entry in entries]
    if len(names) > MOST_FILES or sum(entry.file_size for entry in entries) > LARGEST:
        raise _refuse(f"holds more than {MOST_FILES} files or {LARGEST / 1e6:.0f} MB; no bundle is so large", bundle)
    twice = sorted({name for name in names if names.count(name) > 1}) if len(set(names)) < len(names) else []
    if twice:
        raise _refuse("is there twice; the bundle is damaged", bundle, twice[0])
    for entry in entries:
        if not is_safe(entry.filename):
            raise _refuse("leads out of the bundle; nothing was unpacked", bundle, entry.filename)
        if stat.S_ISLNK(entry.external_attr >> 16):
            raise _refuse("is a link; a bundle holds files alone", bundle, entry.filename)


def is_safe(path: str) -> bool:
    """Tell whether a path stays within the folder it is put in, on every system."""
    parts = PurePosixPath(path).parts
    return (
        bool(parts)
        and not path.startswith("/")
        and not any(part == ".." for part in parts)
        and not any(c in path for c in '\\:*?"<>|\0')
        and path == "/".join(parts)
        and path.isprintable()
    )


def _extract_one(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, target: Path, bundle: Path) -> None:
    """Unpack a file, no more of it than its entry says."""
    target.parent.mkdir(parents=True, exist_ok=True)
    with archive.open(entry) as packed, target.open("xb") as plain:
        left = entry.file_size
        while piece := packed.read(min(1 << 20, left + 1)):
            left -= len(piece)
            if left < 0:
                raise _refuse("unpacks to more than it says; the bundle is damaged", bundle, entry.filename)
            plain.write(piece)


# --- what it says of itself ---------------------------------------------------------------------------------------


def _check(folder: Path, bundle: Path) -> None:
    if not (folder / DESCRIPTOR).is_file():
        raise _refuse(f"is no bundle: it has no {DESCRIPTOR}; holdtime bundle BENCH makes one", bundle)
    package = read_document(folder, DESCRIPTOR)
    if not isinstance(package, dict) or package.get("kind") != KIND:
        raise _refuse("is another Data Package, no bundle; holdtime bundle BENCH makes one", bundle)
    if package.get("format") != FORMAT:
        raise _refuse(f"has format {package.get('format')!r}, this version reads {FORMAT}", bundle)
    listed = _listed(package, bundle)
    for path in (RECIPE, CALIBRATION, RANKINGS, f"{BENCH}/bench.toml"):
        if path not in listed:
            raise _refuse("is missing from its descriptor; the bundle is damaged", bundle, path)
    there = _there(folder, bundle)
    for path in sorted(there - listed.keys() - {DESCRIPTOR}):
        raise _refuse("is not in the descriptor; the bundle was changed", bundle, path)
    for path, digest in listed.items():
        if path not in there:
            raise _refuse("is missing; the bundle is damaged", bundle, path)
        if _digest(folder / path) != digest:
            raise _refuse("is not as it was packed (its hash differs); the bundle was changed", bundle, path)


def _listed(package: Mapping[str, Any], bundle: Path) -> dict[str, str]:
    """Return the hash of each file that a descriptor lists."""
    resources = package.get("resources")
    if not isinstance(resources, list) or not 0 < len(resources) <= MOST_FILES:
        raise _refuse("its descriptor lists no files", bundle)
    found = {}
    for resource in resources:
        path = resource.get("path") if isinstance(resource, dict) else None
        digest = resource.get("hash") if isinstance(resource, dict) else None
        if not isinstance(path, str) or not is_safe(path):
            raise _refuse("leads out of the bundle, or is no path", bundle, str(path)[:80])
        if not isinstance(digest, str) or not digest.startswith("sha256:"):
            raise _refuse("has no SHA-256 hash in the descriptor", bundle, path)
        found[path] = digest
    return found


def _there(folder: Path, bundle: Path) -> set[str]:
    """Return the files of a folder; links are refused, and so is a folder too large."""
    links = [path for path in folder.rglob("*") if path.is_symlink()]
    if links:
        raise _refuse("is a link; a bundle holds files alone", bundle, links[0].relative_to(folder).as_posix())
    paths = files_of(folder)
    if len(paths) > MOST_FILES + 1 or sum((folder / path).stat().st_size for path in paths) > LARGEST:
        raise _refuse(f"holds more than {MOST_FILES} files or {LARGEST / 1e6:.0f} MB; no bundle is so large", bundle)
    return {path for path in paths if PurePosixPath(path).name not in LITTER}


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return f"sha256:{hashlib.file_digest(file, 'sha256').hexdigest()}"
