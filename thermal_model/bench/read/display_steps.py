"""The step in which a display moves, found in what it showed."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.numeric import Array
from thermal_model.bench.columns import File
from thermal_model.bench.read.readings import Series
from thermal_model.bench.records import Probe

STEPS = (5.0, 2.0, 1.0, 0.5, 0.25, 0.2, 0.1)
"""Steps that displays have. [C or F]"""

LEAST_READINGS, LEAST_VALUES = 10, 6
"""Fewer readings, or fewer different ones, do not show a step."""


def display_step(series: Sequence[Series]) -> float | None:
    """Return the step in which a probe's display moves [K], None if its readings do not show one.

    A display in Fahrenheit whose readings were written down in Celsius is found as well.
    """
    kelvin = np.concatenate([one.temperature for one in series])
    if len(kelvin) < LEAST_READINGS or len(np.unique(np.round(kelvin, 6))) < LEAST_VALUES:
        return None
    celsius = kelvin - ZERO_CELSIUS
    is_celsius = series[0].unit.lower().lstrip("deg°") in ("c", "k")
    own, other = (celsius, celsius * 1.8 + 32.0) if is_celsius else (celsius * 1.8 + 32.0, celsius)
    own_kelvin, other_kelvin = (1.0, 1.0 / 1.8) if is_celsius else (1.0 / 1.8, 1.0)
    own_step = next((step for step in STEPS if _lies_on(own, step, 1e-6)), None)
    rounding = 0.05 * (1.8 if is_celsius else 1.0 / 1.8) * 1.05
    other_step = next((step for step in STEPS[:4] if step > 4.0 * rounding and _lies_on(other, step, rounding)), None)
    steps = [own_step * own_kelvin] if own_step else []
    steps += [other_step * other_kelvin] if other_step else []
    return max(steps, default=None)


def _lies_on(values: Array, step: float, allowed: float) -> bool:
    return bool(np.all(np.abs(values - step * np.round(values / step)) <= allowed))


def displays(probes: dict[str, Probe], series: Sequence[Series]) -> tuple[dict[str, Probe], list[str]]:
    """Return the probes with the steps their readings show, and what to say of those that differ."""
    found, warnings = dict(probes), []
    for name, probe in probes.items():
        own = [one for one in series if one.probe == name]
        step = display_step(own) if own else None
        if step is None or step <= 1.2 * probe.resolution:
            continue
        found[name] = replace(probe, resolution=step)
        warnings.append(
            f"{own[0].source}: line {own[0].lines[0]}, temperature: readings of probe {name} are rounded to steps of "
            f"{step:.3g} C ({step * 1.8:.3g} F), {File.BENCH} says {probe.resolution:.3g} C; the coarser step is used"
        )
    return found, warnings
