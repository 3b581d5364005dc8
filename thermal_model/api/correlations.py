"""Correlations of a script's own, by name, in place of the model's."""

import inspect
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from typing import Any, TypeAlias

import numpy as np

from geometries.errors import InputError, at_once, nearest_hint, told_of
from thermal_model.solver.laws import Law
from thermal_model.solver.own_laws import REPLACEABLE, own_laws

SOURCE = "correlations"

OwnFlow: TypeAlias = Callable[..., Any]
"""Heat flow [W] from two temperatures [K] and any of the parameters of the correlation it takes the place of. [SI]"""

Correlations: TypeAlias = Mapping[str, OwnFlow] | None
"""Functions by the name of the correlation they take the place of."""


TYPICAL = {
    "air_speed": 0.05,
    "area": 0.002,
    "buoyancy_300K": 1e8,
    "buoyancy_exponent": -4.5,
    "conductance_300K": 0.4,
    "conductivity_300K": 0.026,
    "conductivity_exponent": 0.85,
    "convects": 1.0,
    "depth": 0.01,
    "diameter": 0.05,
    "emissivity": 0.5,
    "exchange_area": 0.01,
    "exchange_factor": 0.5,
    "facing": 1.0,
    "film_factor": 1.0,
    "free_molecule_300K": 100.0,
    "gap": 3e-4,
    "height": 0.2,
    "is_across": 1.0,
    "is_level": 1.0,
    "length": 0.02,
    "perimeter": 0.15,
    "relative_humidity": 1.0,
    "relative_slope": 1e-3,
    "size": 0.03,
    "slices": 1.0,
    "upward": 1.0,
    "wall_resistance": 0.005,
    "water_activity": 1.0,
    "width": 0.004,
    "wind_film": 2.0,
}
"""Parameters at which a law is tried; the air is saturated, so that nothing evaporates where temperatures are equal."""

WARM, COLD = np.array([[350.0, 341.0, 333.0], [320.0, 311.0, 306.0]]), 300.0
"""Temperatures at which a law is tried. [K]"""


def model_correlations() -> dict[str, Callable[..., Any]]:
    """Return the correlations of the model that `predict`, `sweep` and `calibrate` let a script replace, by name.

    Each takes the temperatures at its two ends [K] and named parameters in SI units, and returns the heat flow from the
    first to the second [W], on floats and arrays alike. One of your own takes the two temperatures and those of the
    parameters that it needs. It is tried before anything is computed: the same for numbers and arrays, finite, from
    warm to cold, nothing without a difference. Decorated with `valid_for`, it is named where it leaves its range
    (`Prediction.outside_validity`). It is followed in numpy, several times slower than the compiled solver.

    Returns
    -------
    dict of str to callable

    Examples
    --------
    >>> own = {"vertical_face": lambda surface, room, area: 9.0 * area * (surface - room)}
    >>> model_correlations()["vertical_face"].__name__ in own
    True
    """
    return {name: law.flow for name, law in REPLACEABLE.items()}


@contextmanager
def in_place(correlations: Correlations) -> Iterator[None]:
    """Replace correlations within the block, if any are given.

    Raises
    ------
    InputError
        In one line for each that is no correlation of the model, takes what that does not have, or breaks a rule that
        all keep: the same for numbers and arrays of any shape, finite, nothing without a difference, from warm to cold.
    """
    if not correlations:
        yield
        return
    given = correlations.items()
    found = at_once(*(lambda name=name, flow=flow: _own_law(name, flow) for name, flow in given))
    with own_laws({law.name: law for law in found}):
        yield


def _own_law(name: str, flow: OwnFlow) -> Law:
    law = REPLACEABLE.get(name)
    if law is None:
        message = f"is no correlation of the model; {nearest_hint(name, REPLACEABLE)}there are {', '.join(REPLACEABLE)}"
        raise InputError(message, name, source=SOURCE)
    with told_of(name, SOURCE):
        own = _in_place_of(law, flow, _taken(law, flow))
        _check(own)
    return own


def _taken(law: Law, flow: OwnFlow) -> tuple[str, ...]:
    """Return the law's parameters that a function takes."""
    if not callable(flow):
        raise InputError("is no function")
    given = list(inspect.signature(flow).parameters.values())
    if any(parameter.kind is parameter.VAR_KEYWORD for parameter in given[2:]):
        return law.parameters
    names = tuple(parameter.name for parameter in given[2:])
    strangers = [name for name in names if name not in law.parameters]
    if len(given) < 2 or strangers:
        what = f"takes {', '.join(strangers)}" if strangers else "takes less than two temperatures"
        raise InputError(f"{what}; a function here takes two temperatures, then any of {', '.join(law.parameters)}")
    return names


def _in_place_of(law: Law, flow: OwnFlow, taken: tuple[str, ...]) -> Law:
    names = law.parameters

    def own(temperature_1: Any, temperature_2: Any, *values: Any) -> Any:
        known = dict(zip(names, values, strict=True))
        return flow(temperature_1, temperature_2, **{name: known[name] for name in taken})

    own.__name__ = law.name
    own.__signature__ = inspect.signature(law.flow)  # type: ignore[attr-defined]
    return replace(law, flow=own)


def _check(law: Law) -> None:
    values = [TYPICAL[name] for name in law.parameters]
    alone = [_tried(law, float(warm), values) for warm in WARM.ravel()]
    try:
        together = np.asarray(law.flow(WARM, np.full(WARM.shape, COLD), *(np.full(WARM.shape, v) for v in values)))
    except Exception as error:  # whatever a stranger's function raises
        message = f"works on numbers, not on arrays ({_short(error)}); use numpy's functions and np.where instead of if"
        raise InputError(message) from None
    if together.shape != WARM.shape or not np.allclose(together.ravel(), alone, rtol=1e-12, atol=0.0):
        raise InputError(f"gives other flows for an array of shape {WARM.shape} than for each of its numbers")
    if not all(np.isfinite(alone)) or min(alone) <= 0.0:
        raise InputError(f"gives {min(alone):.3g} W from {WARM.max():g} K to {COLD:g} K; heat flows from warm to cold")
    still = _tried(law, COLD, values)
    if not abs(still) <= 1e-6 * max(alone):
        raise InputError(f"gives {still:.3g} W between equal temperatures; it must be nothing")


def _tried(law: Law, warm: float, values: list[float]) -> float:
    try:
        return float(law.flow(warm, COLD, *values))
    except Exception as error:  # whatever a stranger's function raises
        raise InputError(f"can't be called with numbers in SI units: {_short(error)}") from None


def _short(error: Exception) -> str:
    return " ".join(f"{type(error).__name__}: {error}".split())[:120]
