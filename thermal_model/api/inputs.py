"""What a script gives, in any of the ways it may give it, read as records and SI numbers."""

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeAlias

from geometries.container import Container
from geometries.design_file import load_container
from geometries.errors import InputError, InputProblem, refuse
from geometries.quantities import Dimension, QuantityField
from geometries.validation import validated
from thermal_model.bench.calibration.calibration import Calibration
from thermal_model.bench.calibration.calibration_file import CalibrationFile, read_calibration
from thermal_model.bench.calibration.posterior import belief
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import Belief

Design: TypeAlias = Container | str | Path
"""A container, the path of a design file, or the name of a starter design."""

Conditions: TypeAlias = Scenario | Mapping[str, Any] | None
"""A scenario, its fields, or nothing for the default one."""

Quantity: TypeAlias = str | float | Any
"""Text with a unit ("60 C"), a number in SI units, or a pint quantity."""

Known: TypeAlias = Calibration | CalibrationFile | str | Path | None
"""A calibration, or the path of a calibration file."""


def container_of(design: Design) -> Container:
    """Return a container, read from its file if it is not one."""
    return design if isinstance(design, Container) else load_container(design)


def scenario_of(conditions: Conditions) -> Scenario:
    """Return a scenario, made from its fields if it is not one."""
    if isinstance(conditions, Scenario):
        return conditions
    return validated(Scenario, conditions or {}, "scenario", needs_unit=False)


def limits_of(until: Quantity | Sequence[Quantity]) -> list[float]:
    """Return limit temperatures, one or several. [K]

    Raises
    ------
    InputError
        Naming every one that is no temperature.
    """
    is_one = isinstance(until, str) or hasattr(until, "units")
    given = until if isinstance(until, Iterable) and not is_one else [until]
    field, limits, problems = QuantityField(Dimension.TEMPERATURE), [], []
    for value in given:
        try:
            limits.append(field.read(value))
        except ValueError as error:
            problems.append(InputProblem(str(error), "until"))
    refuse(problems)
    return limits


def limit_of(until: Quantity) -> float:
    """Return the one limit temperature of a question that takes one. [K]"""
    limits = limits_of(until)
    if len(limits) != 1:
        raise InputError(f"one limit temperature is wanted here, not {len(limits)}", "until")
    return limits[0]


def belief_of(
    calibration: Known, container: str, calibrated_as: str | None, *, seats_anew: bool = True
) -> Belief | None:
    """Return what a calibration knows of a container; of one that was not on the bench, what is common to all.

    Parameters
    ----------
    calibration : Calibration, CalibrationFile, path or None
    container : str
        Its name.
    calibrated_as : str or None
        Its name on the bench, where that is another.
    seats_anew : bool
        Whether it is about a next run, whose lid is seated anew, or about the container itself.

    Raises
    ------
    InputError
        If the file is no calibration, or there is no container of the name on the bench.
    """
    if calibration is None:
        if calibrated_as is not None:
            raise InputError("goes with calibration", "calibrated_as")
        return None
    known = read_calibration(Path(calibration)) if isinstance(calibration, str | Path) else calibration
    names = known.containers if isinstance(known, CalibrationFile) else known.fit.problem.bench.containers
    if calibrated_as is not None and calibrated_as not in names:
        raise InputError(f"on the bench were {', '.join(names)}", "calibrated_as", calibrated_as)
    name = calibrated_as or (container if container in names else None)
    if isinstance(known, CalibrationFile):
        return known.belief(name, seats_anew=seats_anew)
    return belief(known.fit, name, seats_anew=seats_anew)
