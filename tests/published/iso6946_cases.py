"""Air layers of ISO 6946: its table, cell by cell from its formulas, and our pocket model under its conditions."""

from CoolProp.CoolProp import PropsSI

from tests.published.check import Check, read_rows
from tests.published.formulas import iso6946_convective_coefficient, iso6946_radiative_coefficient, rayleigh_number
from thermal_model.physics.enclosed_layers import (
    nusselt_layer_heated_below_hollands,
    nusselt_layer_vertical_elsherbiny,
)
from thermal_model.physics.radiation import STEFAN_BOLTZMANN, exchange_factor_parallel_plates

ROWS = read_rows("iso6946_air_layers.csv")
MEAN = 283.15
DIFFERENCE = 5.0
ROOM_HEIGHT = 2.5
STATUS = "ISO 6946, from memory; cells recomputed from the standard's coefficients"

DIRECTIONS = ("up", "horizontal", "down")


def standard_resistance(direction: str, thickness: float) -> float:
    """Resistance of an air layer by the standard's formulas [m2 K W-1]."""
    return 1.0 / (iso6946_convective_coefficient(direction, thickness) + iso6946_radiative_coefficient(0.9, 0.9))


def pocket_resistance(direction: str, thickness: float) -> float:
    """Resistance of the same layer by our own pocket model [m2 K W-1]."""
    conductivity, density, heat_capacity, viscosity = (
        PropsSI(key, "T", MEAN, "P", 101325.0, "Air") for key in ("L", "D", "C", "V")
    )
    diffusivity = conductivity / (density * heat_capacity)
    rayleigh = rayleigh_number(DIFFERENCE, thickness, 1.0 / MEAN, viscosity / density, diffusivity)
    nusselt = {
        "up": nusselt_layer_heated_below_hollands(rayleigh),
        "horizontal": nusselt_layer_vertical_elsherbiny(rayleigh, ROOM_HEIGHT / thickness),
        "down": 1.0,
    }[direction]
    radiation = 4.0 * STEFAN_BOLTZMANN * MEAN**3 * exchange_factor_parallel_plates(0.9, 0.9)
    return 1.0 / (float(nusselt) * conductivity / thickness + float(radiation))


def standard_checks() -> list[Check]:
    """Every cell of the table but those of zero thickness, which are zero by definition."""
    checks = []
    for row in ROWS[1:]:
        thickness = float(row["thickness_mm"])
        for direction in DIRECTIONS:
            ours = standard_resistance(direction, thickness / 1e3)
            name = f"ISO 6946 {thickness:g} mm {direction} [m2K/W]"
            checks.append(Check(name, ours, row[f"R_{direction}"], STATUS))
            checks.append(Check(f"{name}, recomputed", ours, row[f"recomputed_{direction}"], STATUS))
    return checks


POCKET_REASON = (
    "the standard's coefficients are rounded constants that don't know the thickness; Hollands' layer "
    "is livelier near 25 mm"
)


def pocket_checks() -> list[Check]:
    """Our pocket model beside the table, 5 to 50 mm."""
    checks = []
    for row in ROWS[1:]:
        thickness = float(row["thickness_mm"])
        if not 5.0 <= thickness <= 50.0:
            continue
        for direction in DIRECTIONS:
            ours = pocket_resistance(direction, thickness / 1e3)
            name = f"our pocket, ISO 6946 {thickness:g} mm {direction} [m2K/W]"
            printed = row[f"recomputed_{direction}"]
            checks.append(Check(name, ours, printed, STATUS, within=0.10, reason=POCKET_REASON))
    return checks
