"""What the designs of a sweep measure besides their hold times: columns that follow from the design alone."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from geometries.numeric import Array
from geometries.quantities import Dimension
from thermal_model.batch import lots
from thermal_model.study.measures import MEASURES
from thermal_model.study.sampling import table_of
from thermal_model.study.sweep import Sweep


@dataclass(frozen=True)
class MeasureColumn:
    """A measure of consecutive designs, NaN for those that make no container. [SI, as the unit says]"""

    name: str
    label: str
    unit: str
    values: Array


_COLUMNS = {
    "mass": ("empty_mass", "kg"),
    "capacity": ("capacity_under_lid", "m3"),
    "diameter": ("outside_diameter", "m"),
    "height": ("height_with_lid", "m"),
    "mouth": ("mouth", "m"),
}
"""Measures that a table has, their columns and units."""

AT_ONCE = 4096
"""Designs that are measured together: their walls come in pieces, so that many take a lot of memory."""


def measure_columns(sweep: Sweep, start: int, stop: int) -> list[MeasureColumn]:
    """Return what designs by number measure, `start` up to but without `stop`."""
    bounds = [*range(start, stop, AT_ONCE), stop]
    parts = [_measured(sweep, *pair) for pair in pairwise(bounds)]
    return [MeasureColumn(*_named(name), np.concatenate([part[name] for part in parts])) for name in _COLUMNS]


def _measured(sweep: Sweep, start: int, stop: int) -> dict[str, Array]:
    count = stop - start
    found = {name: np.full(count, np.nan) for name in _COLUMNS}
    table = table_of(sweep.plan.axes, sweep.plan.rows(start, stop))
    for lot in lots(sweep.container, sweep.scenario, table):
        if lot.runs is None:
            continue
        good = np.ones(len(lot.rows), dtype=bool)
        for mask, _ in lot.problems():
            good &= ~mask
        for name, values in found.items():
            own = np.broadcast_to(MEASURES[name].of(lot.runs.container, lot.runs.scenario), (len(lot.rows),))
            values[lot.rows] = np.where(good, own, np.nan)
    assert all(MEASURES[name].dimension in (Dimension.MASS, Dimension.VOLUME, Dimension.LENGTH) for name in found)
    return found


def _named(name: str) -> tuple[str, str, str]:
    column, unit = _COLUMNS[name]
    return column, MEASURES[name].label, unit
