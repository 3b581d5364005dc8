"""Packing: the bench as it is, its designs, the recipe and the results, described as a Data Package.

Data Package is an open standard (datapackage.org, version 2.0). Hashes, units and versions stand in the descriptor.
"""

import hashlib
import io
import json
import platform
import shutil
import zipfile
from collections.abc import Mapping
from importlib.metadata import PackageNotFoundError
from importlib.metadata import version as installed
from pathlib import Path
from typing import Any

from geometries.errors import InputError, InputProblem
from geometries.files import read_toml, write_bytes
from thermal_model.bench.calibration.calibration_file import calibration_document
from thermal_model.bench.columns import File
from thermal_model.bench.records import Bench
from thermal_model.bench.write.descriptor import DESCRIPTOR, PROFILE, descriptor
from thermal_model.bundle.recipe import Made, Recipe
from thermal_model.report.compare_text import ranking_document, rankings_csv
from thermal_model.version import version

BENCH, DESIGNS, RESULTS = "bench", "designs", "results"
"""Folders of a bundle."""

RECIPE, CALIBRATION, RANKINGS = f"{RESULTS}/recipe.json", f"{RESULTS}/calibration.json", f"{RESULTS}/rankings.json"
LISTS = f"{RESULTS}/rankings.csv"

KIND, FORMAT = "holdtime bundle", 1
LIBRARIES = ("numpy", "scipy", "numba", "pydantic", "pint", "CoolProp")

MOST_FILES, LARGEST = 2000, 200_000_000
"""Files in a bundle, and what all of them hold. [bytes]"""

_TYPES = {".json": "application/json", ".csv": "text/csv", ".toml": "application/toml"}


def pack(folder: Path, growing: Path, bench: Bench, recipe: Recipe, made: Made) -> None:
    """Write a bundle's files into a folder.

    Parameters
    ----------
    folder : Path
        The bench.
    growing : Path
        Empty.
    bench : Bench
    recipe : Recipe
    made : Made

    Raises
    ------
    InputError
        If a design lies outside the bench folder, or the bench is too large.
    """
    _check_designs(folder)
    _copy_bench(folder, growing / BENCH)
    for name, container in bench.containers.items():
        _write_json(growing / DESIGNS / f"{name}.json", container.model_dump(mode="json", exclude_unset=True))
    rankings = {name: ranking_document(ranking) for name, ranking in made.rankings.items()}
    calibration = calibration_document(made.fit, folder, seed=recipe.seed)
    _write_json(growing / RECIPE, recipe.model_dump(mode="json", by_alias=True))
    _write_json(growing / CALIBRATION, calibration)
    _write_json(growing / RANKINGS, rankings)
    (growing / LISTS).write_text(rankings_csv(made.rankings), encoding="utf-8")
    _write_json(growing / DESCRIPTOR, package_document(growing, bench.name, recipe))


def zipped(folder: Path, target: Path) -> None:
    """Put the files of a folder into a ZIP file: whole, or not at all; the same files give the same bytes."""
    finished = io.BytesIO()
    with zipfile.ZipFile(finished, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in files_of(folder):
            entry = zipfile.ZipInfo(path, (1980, 1, 1, 0, 0, 0))
            entry.external_attr, entry.compress_type = 0o644 << 16, zipfile.ZIP_DEFLATED
            archive.writestr(entry, (folder / path).read_bytes())
    write_bytes(target, finished.getvalue())


def files_of(folder: Path) -> list[str]:
    """Return the paths of all files in a folder, within it, in order."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def _check_designs(folder: Path) -> None:
    """Refuse designs outside the bench folder: the bundle would be read from another place."""
    entries = read_toml(folder / File.BENCH).get("containers", {})
    outside = [
        InputProblem(
            "lies outside the bench folder; copy it beside bench.toml, so that the bundle holds it",
            f"containers.{name}.design",
            entry["design"],
            source=File.BENCH,
        )
        for name, entry in entries.items()
        if (folder / entry["design"]).is_file()
        and not (folder / entry["design"]).resolve().is_relative_to(folder.resolve())
    ]
    if outside:
        raise InputError(outside)


def _copy_bench(folder: Path, target: Path) -> None:
    paths = [path for path in files_of(folder) if not path.startswith(".")]
    size = sum((folder / path).stat().st_size for path in paths)
    if len(paths) > MOST_FILES or size > LARGEST:
        message = (
            f"holds {len(paths)} files of {size / 1e6:.0f} MB; a bundle takes {MOST_FILES}, {LARGEST / 1e6:.0f} MB"
        )
        raise InputError(message, source=str(folder))
    for path in paths:
        (target / path).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(folder / path, target / path)


def _write_json(path: Path, document: Mapping[str, Any]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n", encoding="utf-8")


def package_document(folder: Path, title: str, recipe: Recipe) -> dict[str, Any]:
    """Return the descriptor of a bundle's files."""
    tables = {resource["path"]: resource for resource in descriptor(folder / BENCH)["resources"]}
    resources = [_resource(folder, path, tables) for path in files_of(folder) if path != DESCRIPTOR]
    return {
        "$schema": PROFILE,
        "name": "".join(c if c.isalnum() or c in "._-/" else "_" for c in title.lower()),
        "title": title,
        "description": "A bench with its designs, its calibration and its ranking; holdtime reproduce makes it again.",
        "kind": KIND,
        "format": FORMAT,
        "versions": versions(),
        "seed": recipe.seed,
        "draws": recipe.draws,
        "resources": resources,
    }


def _resource(folder: Path, path: str, tables: Mapping[str, dict[str, Any]]) -> dict[str, Any]:
    data = (folder / path).read_bytes()
    place, _, within = path.partition("/")
    table = tables.get(within) if place == BENCH else None
    suffix = Path(path).suffix
    plain: dict[str, Any] = {
        "name": "".join(c if c.isalnum() or c in "._-" else "_" for c in path.replace("/", "-").lower()),
        "format": suffix.removeprefix(".") or "bin",
    }
    if suffix in _TYPES:
        plain["mediatype"] = _TYPES[suffix]
    return {
        **(plain if table is None else table),
        "path": path,
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
    }


def versions() -> dict[str, str]:
    """Return the versions of what computes."""
    found = {"holdtime": version(), "python": platform.python_version()}
    for name in LIBRARIES:
        try:
            found[name] = installed(name)
        except PackageNotFoundError:
            continue
    return found
