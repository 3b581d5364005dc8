"""The classes of jis_s2006_portable_minimum.csv as good stoppered vessels, and the standard's procedure.

Source of table and procedure: JIS S 2006, seen second-hand (a test laboratory's page, columns rebuilt from flattened
text). The vessels are ours: what a careful maker builds for the class, nothing in them comes from the standard.
"""

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from scipy.optimize import brentq

from geometries.container import Container, closed_capacity
from geometries.numeric import Array
from tests.published.check import read_rows
from tests.published.design_batches import final_temperatures, metres

FILE = "jis_s2006_portable_minimum.csv"
STATUS = "JIS S 2006, second-hand"
SIX_HOURS = 6 * 3600.0

PROCEDURE: dict[str, Any] = {"start": "95 C", "room": "20 C"}
WALLS: dict[str, dict[str, Any]] = {
    "room": {"walls": "room"},
    "warmed": {"preheat": {"duration": "3 min", "temperature": "95 C"}},
    "rest": {"walls": "preheated"},
}
"""How the walls may start. Boiling water stands in the open vessel until it reads 95 C: the inner wall is warm by
then and the stopper is not. "warmed" stands for that and is what is judged; three minutes are judgement. The other
two are its bounds: walls and lid as cold as the room, or as warm as after long use."""

LOWEST_CAPACITY = 0.2e-3
"""Smallest vessel looked at in the class that has no lower end. [m3]"""

NARROWEST_MOUTH = 0.030
SLENDERNESS = 2.8
"""Depth over diameter of a straight vessel of the same capacity. [-]"""

NECK = 0.045
LEAST_SHOULDER = 0.008
"""A body is wider than its mouth by this at least. [m]"""


@dataclass(frozen=True)
class JisClass:
    """One row of the table. [m3, m, K]"""

    capacity: tuple[float, float]
    mouth: tuple[float, float]
    minimum: float
    name: str

    @property
    def middle(self) -> tuple[float, float]:
        """Capacity and mouth in the middle of the class."""
        return float(np.mean(self.capacity)), float(np.mean(self.mouth))

    @property
    def hardest(self) -> tuple[float, float]:
        """The smallest capacity of the class under its widest mouth."""
        return self.capacity[0], self.mouth[1]


@cache
def jis_classes() -> tuple[JisClass, ...]:
    """Every row of the table."""
    return tuple(_class(row) for row in read_rows(FILE))


def _class(row: dict[str, str]) -> JisClass:
    capacity, mouth = row["real_capacity_L"], row["mouth_diameter_mm"]
    low, _, high = capacity.rpartition("-")
    wide = mouth.startswith("<")
    mouths = (NARROWEST_MOUTH, 1e-3 * float(mouth[1:])) if wide else tuple(1e-3 * float(m) for m in mouth.split("-"))
    return JisClass(
        capacity=(1e-3 * float(low) if low else LOWEST_CAPACITY, 1e-3 * float(high.lstrip("<"))),
        mouth=mouths,
        minimum=float(row["minimum_temp_C"]) + 273.15,
        name=f"{capacity} L, mouth {mouth} mm",
    )


def good_vessel(capacity: float, mouth: float) -> Container:
    """A narrow-necked vessel with a hard vacuum and a foamed stopper with two seals, of a real capacity [m3].

    Real capacity counts to the lower end of the stopper.
    """
    diameter = max(float(np.cbrt(4.0 * capacity / (np.pi * SLENDERNESS))), mouth + LEAST_SHOULDER)
    depth = brentq(lambda d: closed_capacity(_vessel(diameter, d, mouth)) - capacity, NECK + 0.02, 1.0)
    return _vessel(diameter, depth, mouth)


def _vessel(diameter: float, depth: float, mouth: float) -> Container:
    return Container.model_validate(
        {
            "name": "stoppered_vessel",
            "body": {
                "inside_diameter": metres(diameter),
                "inside_depth": metres(depth),
                "neck": {"mouth_diameter": metres(mouth), "length": metres(NECK), "shoulder_height": "12 mm"},
                "wall": {"inner_thickness": "0.4 mm", "outer_thickness": "0.4 mm"},
                "gap": {
                    "kind": "vacuum",
                    "width": "4 mm",
                    "base_width": "6 mm",
                    "pressure": "0.005 Pa",
                    "inner_surface": "copper_foil",
                    "outer_surface": "stainless_electropolished",
                },
            },
            "lid": {
                "overhang": "3 mm",
                "skirt_length": "15 mm",
                "layers": [
                    {"kind": "solid", "thickness": "2 mm"},
                    {"kind": "pocket", "depth": "12 mm"},
                    {"kind": "solid", "thickness": "2.5 mm"},
                ],
                "plug": {"kind": "foam", "depth": "40 mm", "clearance": "1 mm"},
                "seals": [{"depth": "3 mm"}, {"depth": "36 mm"}],
            },
        }
    )


def after_six_hours(sizes: list[tuple[float, float]], walls: str) -> Array:
    """Temperature of vessels of these capacities and mouths after the standard's run. [K]"""
    vessels = [good_vessel(*size) for size in sizes]
    fills = [closed_capacity(vessel) for vessel in vessels]
    return final_temperatures(vessels, fills, SIX_HOURS, **PROCEDURE, **WALLS[walls])
