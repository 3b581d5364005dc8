"""`--calibration FILE`: what a bench says of the unknowns, taken by every command that predicts."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from thermal_model.uncertainty import Belief

Calibration = Annotated[
    Path | None,
    typer.Option("--calibration", metavar="FILE", help="What a bench says: holdtime calibrate BENCH --output FILE."),
]
CalibratedAs = Annotated[
    str | None,
    typer.Option("--calibrated-as", metavar="NAME", help="Container of the bench that the design is, if named apart."),
]


@dataclass(frozen=True)
class Calibrated:
    """What a calibration knows of a design.

    Attributes
    ----------
    belief : Belief
    file, bench : str
    container : str or None
        Of the bench; None where the design was not on it, so that only what is common to all is known.
    seating : float
        Run-to-run standard deviation of the logarithm of what a lid's seat lets through.
    warnings : tuple of str
        Why the calibration can't be trusted, or not fully.
    """

    belief: "Belief"
    file: str
    bench: str
    container: str | None
    seating: float
    warnings: tuple[str, ...] = ()

    def line(self) -> str:
        """Return what was taken from the calibration, and why it can't be trusted, in one line."""
        return " ".join([self._taken(), *warning_lines(self.warnings)])

    def _taken(self) -> str:
        if self.container is None:
            return (
                f"Calibrated on {self.bench} ({self.file}): this container was not on the bench, so only what is "
                "common to all containers is taken from it; --calibrated-as NAME says which one it is."
            )
        return f"Calibrated on {self.bench} ({self.file}), as {self.container}."

    def document(self) -> dict[str, Any]:
        """Return the same for a JSON object."""
        return {"file": self.file, "bench": self.bench, "container": self.container, "warnings": list(self.warnings)}


def read_calibrated(file: Path | None, calibrated_as: str | None, design: str) -> Calibrated | None:
    """Return what a calibration file knows of a design; None if no file is given.

    Parameters
    ----------
    file : Path or None
    calibrated_as : str or None
        Name of the container in the calibration; left out, the design's own name, if it is there.
    design : str
        Name of the design, or of its file.

    Raises
    ------
    InputError
        If the file is no calibration, or knows no container of that name.
    """
    from geometries.errors import InputError

    if file is None:
        if calibrated_as is not None:
            raise InputError("goes with --calibration FILE", source="--calibrated-as")
        return None
    from thermal_model.bench.calibration.calibration_file import read_calibration

    known = read_calibration(file)
    if calibrated_as is not None:
        known.check_name(calibrated_as, "--calibrated-as")
    name = calibrated_as or Path(design).stem
    container = name if name in known.containers else None
    belief, spread = known.belief(container), known.seating_spread
    return Calibrated(belief, str(file), known.bench, container, spread, known.warnings)


def warning_lines(warnings: Sequence[str]) -> list[str]:
    """Return the warnings of a calibration as whoever uses it tells them."""
    return [f"The calibration warns: {warning.rstrip('.')}." for warning in warnings]
