"""Containers and scenarios: read, written, and with something changed."""

from collections.abc import Mapping
from typing import Any, overload

from geometries.container import Container
from geometries.design_file import catalogue_names, load_container, save_container
from geometries.errors import InputError
from geometries.overrides import with_overrides
from thermal_model.scenario import Scenario

__all__ = [
    "Container",
    "InputError",
    "Scenario",
    "catalogue_names",
    "load_container",
    "save_container",
    "with_changes",
]


@overload
def with_changes(record: Container, changes: Mapping[str, Any]) -> Container: ...
@overload
def with_changes(record: Scenario, changes: Mapping[str, Any]) -> Scenario: ...
def with_changes(record: Container | Scenario, changes: Mapping[str, Any]) -> Container | Scenario:
    """Return a container or a scenario with some fields set anew, checked as a whole.

    Parameters
    ----------
    record : Container or Scenario
    changes : mapping of str to object
        Path of a field to its value: text with a unit, a number in SI units, a pint quantity, or a part as a mapping;
        None takes the field away. Of inside and outside dimensions the one set replaces the other.

    Raises
    ------
    InputError
        If a path leads nowhere, or the result can't be; every problem is named.

    Examples
    --------
    >>> flask = load_container("slim_neck_double_seal")
    >>> wider = with_changes(flask, {"body.neck.mouth_diameter": 0.05, "lid.plug.clearance": "1 mm"})
    >>> wider.body.neck.mouth_diameter
    0.05
    """
    return with_overrides(record, changes, "with_changes", needs_unit=False)
