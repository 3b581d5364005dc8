"""A calibration as a file: what readings of a bench say of the unknowns, for every later prediction."""

import hashlib
import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

import numpy as np

from geometries.container import Container
from geometries.errors import InputError, nearest_hint
from geometries.files import read_text, write_text
from geometries.numeric import Array
from geometries.validation import validated
from thermal_model.bench.calibration.coordinates import COMMON_NAMES, CONTAINER_NAMES, RATE_SPREAD
from thermal_model.bench.calibration.fit import Fit
from thermal_model.bench.calibration.posterior import belief_of, probe_offsets, seating_of_next_run
from thermal_model.uncertainty import Belief
from thermal_model.version import version

KIND = "holdtime calibration"
FORMAT = 1

LARGEST = 50_000_000
"""Largest file read [bytes]: a hundred containers take one."""

_KEYS = ("kind", "format", "common", "containers", "seating_spread")


@dataclass(frozen=True)
class Block:
    """A normal distribution of some unknowns, in standard deviations of their priors.

    Attributes
    ----------
    names : tuple of str
        k keys of PRIORS.
    mean : (k,) array
    covariance : (k, k) array
    """

    names: tuple[str, ...]
    mean: Array
    covariance: Array


@dataclass(frozen=True)
class CalibrationFile:
    """What a calibration file says.

    Attributes
    ----------
    path : str
    bench : str
    common : Block
    containers : dict of str to Block
        Each with the common unknowns first.
    seating_spread : float
        Run-to-run standard deviation of the logarithm of what a lid's seat lets through.
    designs : dict of str to object
        What a design file would hold for each container, as it is on the bench; files of old have none.
    warnings : tuple of str
        Why the calibration can't be trusted, or not fully; whoever uses it tells them.
    """

    path: str
    bench: str
    common: Block
    containers: dict[str, Block]
    seating_spread: float
    designs: dict[str, Any] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()

    def belief(self, container: str | None, *, seats_anew: bool = True) -> Belief:
        """Return what is known of a container's next run, or of itself; None: of one that was not on the bench."""
        block = self.common if container is None else self.containers[container]
        return belief_of(block.names, block.mean, block.covariance, self.seating_spread if seats_anew else 0.0)

    def container(self, name: str) -> Container | None:
        """Return a container of the bench, None if its design is not known.

        Raises
        ------
        InputError
            If the design is damaged.
        """
        document = self.designs.get(name)
        return None if document is None else validated(Container, document, f"{self.path}: {name}")

    def check_name(self, name: str, source: str) -> None:
        """Refuse the name of a container that was not on the bench."""
        if name not in self.containers:
            message = f"{nearest_hint(name, self.containers)}calibrated in {self.path}: {', '.join(self.containers)}"
            raise InputError(message, source=f"{source} {name}")


def calibration_document(
    fit: Fit, folder: Path | None = None, *, seed: int = 0, method: str = "laplace"
) -> dict[str, Any]:
    """Return the part of a calibration's JSON object that later predictions read.

    Parameters
    ----------
    fit : Fit
    folder : Path, optional
        The bench; the digests of its files say what the calibration rests on.
    seed : int
    method : str
        "laplace", or "sampled".
    """
    return {
        "kind": KIND,
        "format": FORMAT,
        "version": version(),
        "method": method,
        "seed": seed,
        "bench": fit.problem.bench.name,
        "files_sha256": {} if folder is None else _digests(folder),
        "unit": "standard deviations of the prior, see: holdtime unknowns",
        "common": _block_document(fit, None),
        "containers": {name: _block_document(fit, name) for name in fit.problem.bench.containers},
        "designs": {
            name: container.model_dump(mode="json", exclude_unset=True)
            for name, container in fit.problem.bench.containers.items()
        },
        "seating_spread": seating_of_next_run(fit),
        "rate_spread": RATE_SPREAD,
        "probe_offsets_K": {
            name: {"offset": offset, "standard_deviation": deviation}
            for name, (offset, deviation) in probe_offsets(fit).items()
        },
        "converged": fit.converged,
    }


def _digests(folder: Path) -> dict[str, str]:
    """Return the SHA-256 digest of every file of a bench folder, by name."""
    files = sorted(path for path in folder.iterdir() if path.is_file())
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def _block_document(fit: Fit, container: str | None) -> dict[str, Any]:
    names, places = fit.coordinates.belief_places(container)
    covariance = fit.spread[np.ix_(places, places)]
    return {
        "names": list(names),
        "mean": [round(float(value), 9) for value in fit.centre[places]],
        "covariance": [[round(float(value), 12) for value in row] for row in covariance],
    }


def write_calibration(path: Path, document: dict[str, Any]) -> None:
    """Write a calibration file, whole or not at all."""
    write_text(path, json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n")


def read_calibration(path: Path) -> CalibrationFile:
    """Return what a calibration file says.

    Raises
    ------
    InputError
        If it is not a calibration file, or one of another format or for other unknowns.
    """
    source, text = str(path), read_text(path, LARGEST)
    try:
        document = json.loads(text)
    except (ValueError, RecursionError):
        _refuse(source, "is not JSON, so no calibration file; holdtime calibrate BENCH --output FILE writes one")
    is_whole = isinstance(document, dict) and all(key in document for key in _KEYS)
    if not is_whole or document["kind"] != KIND:
        _refuse(source, "is no calibration file; holdtime calibrate BENCH --output FILE writes one")
    if document["format"] != FORMAT:
        _refuse(source, f"has format {document['format']}, this version reads {FORMAT}; calibrate again")
    try:
        containers = {str(name): _block(entry) for name, entry in document["containers"].items()}
        common, spread = _block(document["common"]), float(document["seating_spread"])
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        _refuse(source, f"is damaged: {error}; calibrate again")
    if not np.isfinite(spread) or spread < 0.0:
        _refuse(source, f"is damaged: seating_spread {spread}; calibrate again")
    for block in (common, *containers.values()):
        if block.names not in (COMMON_NAMES, (*COMMON_NAMES, *CONTAINER_NAMES)):
            _refuse(source, "is for other unknowns than this version has; calibrate again")
    designs = document.get("designs", {})
    if not isinstance(designs, dict) or not all(isinstance(design, dict) for design in designs.values()):
        _refuse(source, "is damaged: designs; calibrate again")
    warnings = document.get("warnings", [])
    if not isinstance(warnings, list) or not all(isinstance(line, str) for line in warnings):
        _refuse(source, "is damaged: warnings; calibrate again")
    bench = str(document.get("bench", ""))
    return CalibrationFile(source, bench, common, containers, spread, designs, tuple(warnings))


def _block(document: dict[str, Any]) -> Block:
    names = tuple(str(name) for name in document["names"])
    mean, covariance = np.array(document["mean"], dtype=float), np.array(document["covariance"], dtype=float)
    if mean.shape != (len(names),) or covariance.shape != (len(names), len(names)):
        raise ValueError("lengths of names, mean and covariance differ")
    if not np.all(np.isfinite(mean)) or not np.all(np.isfinite(covariance)):
        raise ValueError("a mean or covariance is not finite")
    if np.linalg.eigvalsh(0.5 * (covariance + covariance.T)).min() <= 0.0:
        raise ValueError("a covariance is not positive")
    return Block(names, mean, 0.5 * (covariance + covariance.T))


def _refuse(source: str, message: str) -> NoReturn:
    raise InputError(message, source=source)
