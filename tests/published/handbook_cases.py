"""Worked examples of the handbooks, as far as a function that the model calls gives their answer.

One function a row of handbook_examples.csv; rows of formulas that no mechanism uses are left out.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from tests.published.check import Check, read_rows
from tests.published.formulas import grashof_number, rayleigh_number
from thermal_model.physics.enclosed_layers import nusselt_layer_heated_below_hollands
from thermal_model.physics.fins import conductance_fin_adiabatic_tip
from thermal_model.physics.free_convection import (
    nusselt_horizontal_plate_hot_side_down,
    nusselt_horizontal_plate_hot_side_up,
    nusselt_vertical_plate_churchill_chu,
    nusselt_vertical_plate_laminar_churchill_chu,
)
from thermal_model.physics.radiation import (
    exchange_factor_parallel_plates,
    exchange_factor_with_shields,
    grey_heat_flux,
)

ROWS = {row["id"]: row for row in read_rows("handbook_examples.csv")}

GRAVITY_ROUNDED = "the book takes g as 9.8 or 9.81 m/s2 and rounds on the way"


class Figure(NamedTuple):
    """What is compared, ours and the printed digits; with a reason, `within` may replace the rounding."""

    what: str
    ours: float
    printed: str
    reason: str = ""
    within: float = 0.01


def zero_celsius(celsius: float) -> float:
    return celsius + 273.15


def checks_of(identifier: str) -> list[Check]:
    """Figures of one example beside the printed ones."""
    row = ROWS[identifier]
    return [
        Check(
            name=f"{identifier} {row['source']}: {figure.what}",
            ours=float(figure.ours),
            printed=figure.printed,
            status=row["provenance"],
            within=figure.within if figure.reason else 0.0,
            reason=figure.reason,
        )
        for figure in CASES[identifier]()
    ]


def x01_evacuated_tubes() -> list[Figure]:
    factor = exchange_factor_with_shields(0.02, 0.05, 20.0 / 50.0, 0, 1.0)
    return [Figure("gain [W/m]", np.pi * 0.020 * grey_heat_flux(300.0, 77.0, factor), "0.499")]


def x02_evacuated_tubes_with_shield() -> list[Figure]:
    # The shield of 35 mm stands midway between 20 and 50 mm, as our even spacing puts it.
    bare = exchange_factor_with_shields(0.02, 0.05, 0.4, 0, 1.0)
    shielded = exchange_factor_with_shields(0.02, 0.05, 0.4, 1, 0.02)
    gain = np.pi * 0.020 * grey_heat_flux(300.0, 77.0, shielded)
    return [
        Figure("gain [W/m]", gain, "0.252"),
        Figure("change [%]", 100.0 * (shielded / bare - 1.0), "-49.5"),
    ]


def x09_vertical_plate() -> list[Figure]:
    rayleigh = rayleigh_number(232.0 - 23.0, 0.71, 0.0025, 26.4e-6, 38.3e-6)
    nusselt = nusselt_vertical_plate_churchill_chu(rayleigh, 0.69)
    coefficient = nusselt * 33.8e-3 / 0.71
    return [
        Figure("Ra", rayleigh, "1.813e9", GRAVITY_ROUNDED),
        Figure("Nu", nusselt, "147"),
        Figure("h [W/m2K]", coefficient, "7.0"),
        Figure("heat [W]", coefficient * 0.71 * 1.02 * 209.0, "1060", GRAVITY_ROUNDED),
    ]


def x10_rectangular_duct() -> list[Figure]:
    def rayleigh(length: float) -> float:
        return float(rayleigh_number(30.0, length, 1.0 / 303.0, 16.2e-6, 22.9e-6))

    side = nusselt_vertical_plate_laminar_churchill_chu(rayleigh(0.3), 16.2 / 22.9) * 0.0265 / 0.3
    top = nusselt_horizontal_plate_hot_side_up(rayleigh(0.375)) * 0.0265 / 0.375
    bottom = nusselt_horizontal_plate_hot_side_down(rayleigh(0.375)) * 0.0265 / 0.375
    heat = (2.0 * 0.3 * side + 0.75 * top + 0.75 * bottom) * 30.0
    return [
        Figure("side h [W/m2K]", side, "4.22", GRAVITY_ROUNDED),
        Figure("top h [W/m2K]", top, "5.48", GRAVITY_ROUNDED),
        Figure("bottom h [W/m2K]", bottom, "2.07"),
        Figure("heat [W/m]", heat, "246"),
    ]


def x11_steam_pipe() -> list[Figure]:
    return [Figure("radiation [W/m]", np.pi * 0.1 * grey_heat_flux(438.0, 296.0, 0.85), "441")]


def x13_rods() -> list[Figure]:
    perimeter, section = np.pi * 0.005, np.pi * 0.0025**2
    figures: list[Figure] = []
    for conductivity, heat in ((398.0, "8.31"), (180.0, "5.59"), (14.0, "1.56")):
        # A rod of 10 m is infinite to twelve digits.
        conductance = conductance_fin_adiabatic_tip(100.0, perimeter, conductivity, section, 10.0)
        figures.append(Figure(f"k={conductivity:g}: heat [W]", conductance * 75.0, heat))
    return figures


def x14_tall_plate() -> list[Figure]:
    rayleigh = 0.7 * grashof_number(50.0, 4.0, 1.0 / zero_celsius(35.0), 16.5e-6)
    nusselt = nusselt_vertical_plate_churchill_chu(rayleigh, 0.7)
    coefficient = nusselt * 0.02685 / 4.0
    return [
        Figure("GrPr", rayleigh, "2.62e11"),
        Figure("Nu", nusselt, "715"),
        Figure("h [W/m2K]", coefficient, "4.80"),
        Figure("heat [W]", coefficient * 40.0 * 50.0, "9603", GRAVITY_ROUNDED),
    ]


def x15_upright_air_gap() -> list[Figure]:
    factor = exchange_factor_parallel_plates(0.2, 0.2)
    radiation = 0.25 * grey_heat_flux(zero_celsius(100.0), zero_celsius(40.0), factor)
    return [Figure("radiation [W]", radiation, "15.4")]


def x19_shield_between_planes() -> list[Figure]:
    bare = exchange_factor_parallel_plates(0.3, 0.8)
    shielded = exchange_factor_with_shields(0.3, 0.8, 1.0, 1, 0.04)
    return [
        Figure("F without", bare, ".279"),
        Figure("F with shield", shielded, ".01902"),
        Figure("change [%]", 100.0 * (shielded / bare - 1.0), "-93.2"),
    ]


def x20_plate_in_three_positions() -> list[Figure]:
    def rayleigh(length: float) -> float:
        return float(0.7202 * grashof_number(60.0, length, 1.0 / 333.0, 1.896e-5))

    def heat(nusselt: float, length: float) -> float:
        return nusselt * 0.02808 / length * 0.36 * 60.0

    beyond = "Ra is 1.2e7: the book keeps the laminar formula past its own limit of 1e7, ours has turned turbulent"
    upright = nusselt_vertical_plate_churchill_chu(rayleigh(0.6), 0.7202)
    up = nusselt_horizontal_plate_hot_side_up(rayleigh(0.15))
    down = nusselt_horizontal_plate_hot_side_down(rayleigh(0.15))
    return [
        Figure("upright [W]", heat(float(upright), 0.6), "115"),
        Figure("hot side up [W]", heat(float(up), 0.15), "128", beyond, within=0.09),
        Figure("hot side up, the book's 0.54 Ra^(1/4) [W]", heat(0.54 * rayleigh(0.15) ** 0.25, 0.15), "128"),
        Figure("hot side down [W]", heat(float(down), 0.15), "64.2", GRAVITY_ROUNDED),
    ]


def x23_parallel_plates() -> list[Figure]:
    bare = exchange_factor_parallel_plates(0.2, 0.7)
    shielded = exchange_factor_with_shields(0.2, 0.7, 1.0, 1, 0.1)
    return [
        Figure("flux [W/m2]", grey_heat_flux(800.0, 500.0, bare), "3625", "the book takes sigma as 5.67e-8"),
        Figure("flux with shield [W/m2]", grey_heat_flux(800.0, 500.0, shielded), "806"),
    ]


def x24_layer_heated_below() -> list[Figure]:
    rayleigh = (2e3, 5e3, 1e4, 5e4, 1e5, 1e6)
    printed = ("1.210", "1.948", "2.391", "3.438", "3.994", "6.994")
    return [
        Figure(f"Nu at Ra {ra:g}", float(nusselt_layer_heated_below_hollands(ra)), text)
        for ra, text in zip(rayleigh, printed, strict=True)
    ]


CASES: dict[str, Callable[[], list[Figure]]] = {
    "X01": x01_evacuated_tubes,
    "X02": x02_evacuated_tubes_with_shield,
    "X09": x09_vertical_plate,
    "X10": x10_rectangular_duct,
    "X11": x11_steam_pipe,
    "X13": x13_rods,
    "X14": x14_tall_plate,
    "X15": x15_upright_air_gap,
    "X19": x19_shield_between_planes,
    "X20": x20_plate_in_three_positions,
    "X23": x23_parallel_plates,
    "X24": x24_layer_heated_below,
}
