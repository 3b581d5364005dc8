"""Draws of what is not known, as columns of a table of designs."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from geometries.container import Container, closed_capacity
from geometries.lid import SolidLayer
from geometries.numeric import Array
from thermal_model.batch import UNKNOWNS, with_numbers
from thermal_model.scenario import Scenario
from thermal_model.study.question import Question
from thermal_model.uncertainty import PRIORS, perturbed_container, perturbed_scenario
from thermal_model.unknowns import UNKNOWN_NAMES


def with_priors(
    question: Question, numbers: Mapping[str, Array], normals: Mapping[str, Array], lanes: int
) -> dict[str, Array]:
    """Return the numbers of n designs with the unknowns' draws put on top.

    Parameters
    ----------
    question : Question
        Whose container, scenario and unknowns the numbers go into.
    numbers : mapping of str to (n,) array
        Columns of a Table.
    normals : mapping of str to (n,) array
        Standard normal draws by the name of the prior, as in `uncertainty.Sample`; those left out stay at their best
        guess.
    lanes : int
        The number n.

    Returns
    -------
    dict of str to (n,) array
        Columns of a Table: a ruler's error is added to a dimension, whatever its value in the row.
    """
    values = {name: prior.values(normals.get(name, np.zeros(lanes))) for name, prior in PRIORS.items()}
    designs, runs, _ = with_numbers(question.container, question.scenario, numbers)
    measured = perturbed_container(designs, values)
    misread = perturbed_scenario(measured, runs, values)
    columns = {path: np.broadcast_to(column, lanes) for path, column in numbers.items()}
    columns |= {path: np.broadcast_to(_value(measured, path), lanes) for path in _measured_paths(designs)}
    columns |= {f"scenario.{path}": np.broadcast_to(_value(misread, path), lanes) for path in _misread_paths(runs)}
    if runs.fill is not None:
        # What does not fit to begin with is no misreading.
        fits = np.less_equal(runs.fill, closed_capacity(designs) * (1.0 + 1e-9))
        columns["scenario.fill"] = np.where(fits, columns["scenario.fill"], runs.fill)
    drawn = [name for name in UNKNOWN_NAMES if name in normals]
    return columns | {UNKNOWNS + name: values[name] * getattr(question.unknowns, name) for name in drawn}


def _measured_paths(container: Container) -> list[str]:
    """Return the paths of the leaves that `perturbed_container` changes."""
    paths = ["body.neck.mouth_diameter"] if container.body.neck is not None else []
    if container.lid is None:
        return paths
    for number, layer in enumerate(container.lid.layers):
        paths.append(f"lid.layers.{number}.{'thickness' if isinstance(layer, SolidLayer) else 'depth'}")
    return [*paths, "lid.plug.clearance"] if container.lid.plug is not None else paths


def _misread_paths(scenario: Scenario) -> list[str]:
    """Return the paths of the leaves that `perturbed_scenario` changes."""
    return ["start", "room" if scenario.room_profile is None else "room_profile.shift", "fill"]


def _value(record: Any, path: str) -> Any:
    for key in path.split("."):
        record = record[int(key)] if isinstance(record, tuple) else getattr(record, key)
    return record
