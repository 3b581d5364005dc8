"""Readings of a bench, and what they say of the model's unknowns."""

from collections.abc import Callable
from pathlib import Path

from thermal_model.api.correlations import Correlations, in_place
from thermal_model.bench.calibration import calibration as fitting
from thermal_model.bench.calibration.calibration import Calibration
from thermal_model.bench.calibration.calibration_file import (
    CalibrationFile,
    calibration_document,
    read_calibration,
    write_calibration,
)
from thermal_model.bench.read import folder as reading
from thermal_model.bench.records import Bench


def read_bench(folder: str | Path) -> Bench:
    """Read a bench folder; nothing in it is ever changed.

    Parameters
    ----------
    folder : str or Path
        Made by `holdtime bench new`.

    Returns
    -------
    Bench
        With what was taken for granted, and what looks wrong but could be read.

    Raises
    ------
    InputError
        Naming every problem by file, line and column.
    """
    return reading.read_bench(Path(folder))


def calibrate(
    bench: Bench | str | Path,
    *,
    sample: bool = False,
    seed: int = 1,
    correlations: Correlations = None,
    progress: Callable[[float], None] | None = None,
) -> Calibration:
    """Let all readings of a bench correct the model at once, and predict each run from the others.

    Parameters
    ----------
    bench : Bench, str or Path
        A bench, or its folder.
    sample : bool
        Draw from the whole posterior, instead of a normal distribution about its most probable point; needs
        holdtime[sampling].
    seed : int
        Of the draws.
    correlations : mapping of str to callable, optional
        Of your own, see `model_correlations`. What is calibrated with them holds with them alone.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    Calibration
        Taken by `predict`, `sweep`, `sensitivity`, `compare` and `explain`.

    Raises
    ------
    InputError
        As `read_bench`; also if there is nothing to fit.
    """
    with in_place(correlations):
        found = bench if isinstance(bench, Bench) else read_bench(bench)
        return fitting.calibrate(found, wants_sample=sample, seed=seed, progress=progress)


def save_calibration(calibration: Calibration, path: str | Path, *, seed: int = 1) -> None:
    """Write a calibration to a file that `holdtime predict --calibration` and `load_calibration` read.

    Parameters
    ----------
    calibration : Calibration
    path : str or Path
    seed : int
        Noted in the file.

    Raises
    ------
    InputError
        If the file can't be written.
    """
    method = "laplace" if calibration.sampled is None else "sampled"
    write_calibration(Path(path), calibration_document(calibration.fit, seed=seed, method=method))


def load_calibration(path: str | Path) -> CalibrationFile:
    """Read a calibration file.

    Raises
    ------
    InputError
        If it is no calibration file of this version.
    """
    return read_calibration(Path(path))
