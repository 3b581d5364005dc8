"""The room over time, from a CSV with the columns `time [min]` and `temperature [C]`."""

from pathlib import Path
from typing import Any

from geometries.quantities import Dimension, QuantityField
from thermal_model.csv_columns import read_columns
from thermal_model.scenario import ROOM_QUANTITY

_COLUMNS = {"time": QuantityField(Dimension.DURATION, at_least=0.0), "temperature": ROOM_QUANTITY}


def read_room_file(path: Path, in_steps: bool) -> dict[str, Any]:
    """Return a room profile as a document.

    Parameters
    ----------
    path : Path
    in_steps : bool
        The room holds each temperature until the next.

    Raises
    ------
    InputError
        Naming every line that is wrong.
    """
    columns = read_columns(path, _COLUMNS)
    return {
        "times": [f"{value!r} s" for value in columns["time"]],
        "temperatures": [f"{value!r} K" for value in columns["temperature"]],
        "in_steps": in_steps,
    }
