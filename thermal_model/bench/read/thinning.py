"""Long logs are thinned to what the shape of a cooling curve needs; readings that stay are as they were read."""

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array
from thermal_model.bench.read.readings import Series

MOST_READINGS = 240
"""Of a probe in a run: more say nothing new of a smooth curve, since the model's own error is the same for all."""

CROWDING = 1.5
"""Readings that stay lie evenly in time^(1/1.5): closer together at the start, where the walls take their share."""

RULE = (
    f"of a probe's readings in a run at most {MOST_READINGS} are used: first, last, and the nearest to times that "
    "lie closer together at the start"
)


def kept_rows(time: Array) -> NDArray[np.intp]:
    """Return which of m rising times stay, first and last among them.

    Parameters
    ----------
    time : (m,) array
        [s]

    Examples
    --------
    >>> len(kept_rows(np.arange(10.0))), len(kept_rows(np.arange(1e5)))
    (10, 240)
    """
    if len(time) <= MOST_READINGS:
        return np.arange(len(time))
    wanted = time[0] + (time[-1] - time[0]) * np.linspace(0.0, 1.0, MOST_READINGS) ** CROWDING
    after = np.clip(np.searchsorted(time, wanted), 1, len(time) - 1)
    nearest = np.where(wanted - time[after - 1] <= time[after] - wanted, after - 1, after)
    nearest[0], nearest[-1] = 0, len(time) - 1
    return np.unique(nearest)


def thinned(series: Series) -> tuple[Series, str]:
    """Return a series without its surplus, and what to say of it, empty if nothing was left out."""
    keep = kept_rows(series.time)
    if len(keep) == len(series):
        return series, ""
    return series.take(keep), f"{series.place}: {len(keep)} of {len(series)} readings are used; {RULE}"
