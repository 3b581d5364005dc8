"""Tables as text inside a page: whole numbers of one or two bytes, squeezed."""

import base64
import zlib
from typing import Any

import numpy as np

from geometries.numeric import Array
from thermal_model.judge.what_if.grids import NodeGrid
from thermal_model.judge.what_if.lid_off import SECONDS_OFF
from thermal_model.judge.what_if.model import BYTE_DIGITS, MOST_DIGITS, SideModel, digits_of_best, digits_of_shape
from thermal_model.judge.what_if.side import EARLY, FINEST, STEPS
from thermal_model.judge.what_if.tables import CoolingTables
from thermal_model.words.documents import entries


class Packer:
    """Arrays one behind the other, as bytes, each described by a small object."""

    def __init__(self) -> None:
        self._parts: list[bytes] = []
        self._length = 0

    def add(self, values: Array, digits: int, over_time: int = 1) -> dict[str, Any]:
        """Take an array as whole numbers of so many digits; each after the first of `over_time` as the difference.

        NaN becomes the smallest number that its bytes can hold.
        """
        largest = float(np.nanmax(np.abs(values), initial=0.0))
        kind, least = (np.int8, -128) if digits <= BYTE_DIGITS else (np.int16, -32768)
        scaled = np.rint(values / largest * digits) if largest > 0.0 else np.zeros(values.shape)
        whole = np.where(np.isnan(scaled), least, scaled).astype(np.int64).reshape(over_time, -1)
        steps = np.diff(whole, axis=0, prepend=0).astype(kind)  # wraps around, as it does when it is added up again
        # High bytes beside each other squeeze better.
        planes = steps.view(np.uint8).reshape(-1, steps.itemsize).T
        self._parts.append(planes.tobytes())
        place, self._length = self._length, self._length + steps.nbytes
        return {
            "at": place,
            "count": int(steps.size),
            "bytes": steps.itemsize,
            "rows": over_time,
            "scale": largest / digits,
        }

    def text(self) -> str:
        """Return all of it."""
        return base64.b64encode(zlib.compress(b"".join(self._parts), 9)).decode()


def side_document(model: SideModel, packer: Packer) -> dict[str, Any]:
    """Return what a page needs of one side of the reduced model."""
    return {
        **entries(model.side, "start_K", "room_K", "limits_K", "share", "least_change_K", "nearest_K", "reach"),
        "finest": FINEST,
        "early": EARLY,
        "steps": STEPS,
        "slowest_K": model.side.slowest,
        # Within which contents start, the same in all tables.
        "liquid_K": next((tables.misread.liquid for tables in model.tables.values()), None),
        "seconds_off": SECONDS_OFF,
        "grids": {name: _grid(getattr(model.grids, name)) for name in ("coarse", "fine", "drawn")},
        "tables": {name: _tables(tables, packer) for name, tables in model.tables.items()},
        "left_out": model.left_out,
    }


def _grid(grid: NodeGrid) -> dict[str, Any]:
    return entries(grid, "start", "room", "share")


def _tables(tables: CoolingTables, packer: Packer) -> dict[str, Any]:
    rows = STEPS + 1
    return {
        "coarse": packer.add(tables.coarse, digits_of_best(tables.coarse), rows),
        "fine": packer.add(tables.fine, digits_of_best(tables.fine), rows),
        "shapes": [
            packer.add(shape, digits_of_shape(shape, own), rows)
            for shape, own in zip(tables.shapes, tables.amounts, strict=True)
        ],
        "amounts": [packer.add(row, MOST_DIGITS) for row in tables.amounts],
        "unit_s": _numbers(tables.unit),
        "stretch": _numbers(tables.stretch),
        "full_m3": _numbers(tables.full),
        "start_off": packer.add(tables.misread.start, MOST_DIGITS),
        "room_off": packer.add(tables.misread.room, MOST_DIGITS),
        "lid_off": tables.lid_off.coefficients.tolist(),
        "lid_off_factors": packer.add(tables.lid_off.factors, MOST_DIGITS),
    }


def _numbers(values: Array) -> list[float | None]:
    """Return numbers in six digits; one alone where all are the same, None where there is none."""
    if len(values) and np.all(values == values[0]):
        values = values[:1]
    return [None if np.isnan(value) else float(f"{value:.6g}") for value in values]
