"""`--calibration FILE`: what a bench says of the unknowns, taken by every command that predicts."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from geometries.errors import InputError

if TYPE_CHECKING:
    from thermal_model.uncertainty import Belief

Calibration = Annotated[
    Path | None,
    typer.Option("--calibration", metavar="FILE", help="What a bench says: holdtime calibrate BENCH --output FILE."),
]


@dataclass(frozen=True)
class Calibrated:
    """What a calibration knows of a design; as it is made without arguments: there is none.

    Attributes
    ----------
    belief : Belief or None
        None are the priors.
    file, bench : str
    container : str or None
        Of the bench; None where the design was not on it, so that only what is common to all is known.
    seating : float or None
        Run-to-run standard deviation of the logarithm of what a lid's seat lets through.
    warnings : tuple of str
        Why the calibration can't be trusted, or not fully.
    """

    belief: "Belief | None" = None
    file: str = ""
    bench: str = ""
    container: str | None = None
    seating: float | None = None
    warnings: tuple[str, ...] = ()

    def line(self) -> str:
        """Return what was taken from the calibration, and why it can't be trusted, in one line; "" if there is none."""
        if not self.file:
            return ""
        taken = f"Calibrated on {self.bench} ({self.file}), as {self.container}."
        if self.container is None:
            taken = (
                f"Calibrated on {self.bench} ({self.file}): this container was not on the bench, so only what is "
                "common to all containers is taken from it; --calibrated-as NAME says which one it is."
            )
        return " ".join([taken, *warning_lines(self.warnings)])

    def document(self) -> dict[str, Any]:
        """Return the same for a JSON object."""
        if not self.file:
            return {}
        return {"file": self.file, "bench": self.bench, "container": self.container, "warnings": list(self.warnings)}

    def entry(self) -> dict[str, Any]:
        """Return the same under its key."""
        return {"calibration": self.document()} if self.file else {}


@dataclass(frozen=True, kw_only=True)
class CalibrationOptions:
    """The file of a calibration, and which of its containers the design is."""

    calibration: Calibration = None
    calibrated_as: Annotated[
        str | None,
        typer.Option(
            "--calibrated-as", metavar="NAME", help="Container of the bench that the design is, if named apart."
        ),
    ] = None

    def of(self, design: str) -> Calibrated:
        """Return what the file knows of a design; by its own name, if no other is given.

        Raises
        ------
        InputError
            If the file is no calibration, or knows no container of that name.
        """
        if self.calibration is None:
            if self.calibrated_as is not None:
                raise InputError("goes with --calibration FILE", source="--calibrated-as")
            return Calibrated()
        from thermal_model.bench.calibration.calibration_file import read_calibration

        known = read_calibration(self.calibration)
        if self.calibrated_as is not None:
            known.check_name(self.calibrated_as, "--calibrated-as")
        name = self.calibrated_as or Path(design).stem
        container = name if name in known.containers else None
        belief, spread = known.belief(container), known.seating_spread
        return Calibrated(belief, str(self.calibration), known.bench, container, spread, known.warnings)


def warning_lines(warnings: Sequence[str]) -> list[str]:
    """Return the warnings of a calibration as whoever uses it tells them."""
    return [f"The calibration warns: {warning.rstrip('.')}." for warning in warnings]
