"""Open water beside laws measured over hot water in quiet air, and open cups beside measured cooling curves."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from geometries.container import Container
from geometries.numeric import Array
from tests.published.check import read_rows
from thermal_model.prediction import predict
from thermal_model.properties import water
from thermal_model.scenario import Scenario
from thermal_model.solver import laws

AIR_GAS_CONSTANT, VAPOUR_GAS_CONSTANT, PRESSURE = 287.05, 461.52, 101325.0
ROOM, HUMIDITY = 293.15, 0.5
TEMPERATURES = (30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 95.0)
"""Of the surface. [C]"""

DIAMETERS = (0.05, 0.08, 0.15, 0.30)
AT_THE_RIM = 1e-3


def our_evaporation(celsius: float, diameter: float, depth: float = AT_THE_RIM) -> float:
    """Evaporation by the network's law from a surface at a temperature, in still air. [kg m-2 h-1]"""
    surface = celsius + 273.15
    heat = laws.open_surface_evaporation(surface, ROOM, 1.0, diameter, depth, HUMIDITY, 1.0, 0.0, 1.0)
    return 3600.0 * float(heat / water.latent_heat(surface))


def _pressures(celsius: float) -> tuple[float, float]:
    return float(water.saturation_pressure(celsius + 273.15)), HUMIDITY * float(water.saturation_pressure(ROOM))


def boelter(celsius: float) -> float:
    """Boelter, Gordon, Griffin, Ind. Eng. Chem. 38 (1946) 596: pan of 0.3 m, water of 63 to 94 C, quiet air.

    E = 1.62e-5 (p_water - p_room)^1.22 [kg m-2 h-1, Pa], from memory as reprinted later. Pauken 1999 (ASHRAE Trans.
    105, pan of 1.2 m, 25 to 50 C) has the same without wind, 74 g m-2 h-1 and kPa (from memory).
    """
    at_surface, in_room = _pressures(celsius)
    return 1.62e-5 * (at_surface - in_room) ** 1.22


def shah(celsius: float) -> float:
    """Shah, HVAC&R Research 8 (2002) 125: pools and vessels of 0.07 to 425 m2, 7 to 94 C.

    E = 35 rho_w (rho_r - rho_w)^(1/3) (W_w - W_r) [kg m-2 h-1], densities as dry air per volume of moist air and
    humidity ratios W per dry air; formula from memory, abstract with its scatter read.
    """
    at_surface, in_room = _pressures(celsius)
    dry_surface = (PRESSURE - at_surface) / (AIR_GAS_CONSTANT * (celsius + 273.15))
    dry_room = (PRESSURE - in_room) / (AIR_GAS_CONSTANT * ROOM)
    vapour = at_surface / (VAPOUR_GAS_CONSTANT * (celsius + 273.15))
    room_ratio = 0.62198 * in_room / (PRESSURE - in_room)
    return 35.0 * (dry_room - dry_surface) ** (1.0 / 3.0) * (vapour - dry_surface * room_ratio)


SCATTER = {"Boelter": 0.26, "Shah": 0.18}
"""Mean deviation of each from eleven sets of data (Shah 2002, abstract read)."""

SOURCES = {"Boelter": boelter, "Shah": shah}


def cup(diameter: str, depth: str, thickness: str, material: str, surface: str) -> Container:
    """An open single-walled cup."""
    return Container.model_validate(
        {
            "name": "cup",
            "body": {
                "inside_diameter": diameter,
                "inside_depth": depth,
                "wall": {"kind": "single", "inner_thickness": thickness, "material": material},
                "exterior": {"surface": surface},
            },
        }
    )


STONEWARE = cup("80 mm", "95 mm", "4.5 mm", "stoneware", "ceramic_glaze")
STEEL = cup("75 mm", "85 mm", "0.8 mm", "stainless_304", "stainless_as_rolled")
OUR_CUPS = [("stoneware", STONEWARE, volume) for volume in (200, 225, 250)] + [
    ("steel", STEEL, volume) for volume in (200, 225, 250)
]


def minutes(container: Container, millilitres: float, start: float, end: float, room: float) -> Array:
    """Low, nominal and high time between two temperatures in C, walls warm, as logged cups have them. [min]"""
    case = Scenario.model_validate(
        {"start": f"{start} C", "fill": f"{millilitres} mL", "room": f"{room} C", "walls": "preheated"}
    )
    (hold,) = predict(container, case, [end + 273.15], draws=200, seed=1).hold_times
    assert hold.low is not None
    assert hold.nominal is not None
    assert hold.high is not None
    return np.array([hold.low, hold.nominal, hold.high]) / 60.0


@dataclass(frozen=True)
class Curve:
    """A measured cooling curve of an open vessel whose volume is not told."""

    source: str
    vessel: str
    time: Array
    temperature: Array

    def minutes(self, start: float, end: float) -> float:
        """Time from one temperature to another in C, straight between readings. [min]"""
        at = np.interp([-start, -end], -self.temperature, self.time)
        return float(at[1] - at[0]) / 60.0


@cache
def measured_curves() -> tuple[Curve, ...]:
    """Cups of hot water, tea and coffee of published logs, in file order.

    `pruim`: R. Pruim, data of the package fastR2 (CoolingWater, logged by S. Wagon), a mug of water that was cold;
    `lobanov`: A. Lobanov 2017, public repository cooling-down, three mugs and a vacuum mug with its cap off;
    `gould_tobochnik`: Gould, Tobochnik, An Introduction to Computer Simulation Methods, ch. 2 (black coffee, 17 C), as
    reprinted in public code; `page`: a public web page, a ceramic mug of 16 oz. Volumes were not given, of the first
    two nor the room's temperature.
    """
    rows = read_rows("open_cups.csv")
    names = dict.fromkeys((row["source"], row["vessel"]) for row in rows)
    curves = []
    for source, vessel in names:
        own = [row for row in rows if (row["source"], row["vessel"]) == (source, vessel)]
        values = np.array([(float(row["time_s"]), float(row["temperature_C"])) for row in own])
        curves.append(Curve(source, vessel, values[:, 0], values[:, 1]))
    return tuple(curves)
