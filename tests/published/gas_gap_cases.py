"""Gas-filled gaps at one atmosphere: our laws beside published correlations with each gas's own properties.

Properties at the mean temperature: CoolProp 8.0; for krypton and xenon, whose conductivity and viscosity it lacks,
lines of ISO 15099:2003 annex B (conductivity seen in public programs, viscosity from memory) with CoolProp's density
and heat capacity.
"""

import numpy as np
from CoolProp.CoolProp import PropsSI

from tests.published.check import Check
from tests.published.rarefied_gas_cases import ISO15099_CONDUCTIVITY
from thermal_model.assemble.walls import gas_parameters
from thermal_model.physics.constants import GRAVITY, STANDARD_PRESSURE
from thermal_model.solver import laws

NAMES = {
    "air": "Air",
    "argon": "Argon",
    "krypton": "Krypton",
    "xenon": "Xenon",
    "helium": "Helium",
    "hydrogen": "Hydrogen",
    "nitrogen": "Nitrogen",
    "carbon_dioxide": "CarbonDioxide",
}

ISO15099_VISCOSITY = {"krypton": (2.213e-6, 7.777e-8), "xenon": (1.069e-6, 7.414e-8)}
"""mu = a + b T [Pa s], ISO 15099:2003 annex B, from memory."""

WIDTHS = (0.005, 0.010, 0.025)
HEIGHT = 0.2
ENDS = ((353.15, 313.15), (363.15, 293.15), (278.15, 298.15))
ALLOWED = 0.03
ONSET, NEAR_ONSET = 1708.0, 0.1
"""So near the onset of convection one per cent of a property is 1.4 % of the heat; those cases are left out."""
SOURCE = "ElSherbiny et al. 1982, Hollands et al. 1976; CoolProp, ISO 15099"


def conductivity_and_rayleigh(gas: str, warm: float, cold: float, width: float) -> tuple[float, float]:
    """Conductivity [W m-1 K-1] and Rayleigh number of a gas at one atmosphere, from reference data."""
    mean = 0.5 * (warm + cold)
    density, heat_capacity = (PropsSI(key, "T", mean, "P", STANDARD_PRESSURE, NAMES[gas]) for key in "DC")
    if gas in ISO15099_VISCOSITY:
        (a, b), (c, d) = ISO15099_CONDUCTIVITY[gas], ISO15099_VISCOSITY[gas]
        conductivity, viscosity = a + b * mean, c + d * mean
    else:
        conductivity, viscosity = (PropsSI(key, "T", mean, "P", STANDARD_PRESSURE, NAMES[gas]) for key in "LV")
    group = GRAVITY * density**2 * heat_capacity / (mean * viscosity * conductivity)
    return conductivity, group * abs(warm - cold) * width**3


def nusselt_upright(rayleigh: float, aspect: float) -> float:
    """ElSherbiny, Raithby and Hollands 1982, written out anew."""
    transition = 0.104 * rayleigh**0.293 / (1.0 + (6310.0 / rayleigh) ** 1.36)
    return max(0.0605 * rayleigh ** (1 / 3), (1.0 + transition**3) ** (1 / 3), 0.242 * (rayleigh / aspect) ** 0.272)


def nusselt_heated_below(rayleigh: float) -> float:
    """Hollands et al. 1976 for a level layer heated from below, written out anew."""
    return 1.0 + 1.44 * max(1.0 - ONSET / rayleigh, 0.0) + max((rayleigh / 5830.0) ** (1 / 3) - 1.0, 0.0)


def gas_gap_checks() -> list[Check]:
    """Heat through one square metre of upright and of level gap, without radiation."""
    checks = []
    for gas in NAMES:
        parameters = gas_parameters(gas, STANDARD_PRESSURE, 1.0)
        for width in WIDTHS:
            for first, second in ENDS:
                conductivity, rayleigh = conductivity_and_rayleigh(gas, first, second, width)
                plain = conductivity / width * (first - second)
                upright = laws.gap_vertical(first, second, 1.0, 0.0, width=width, height=HEIGHT, **parameters)
                level = laws.layer_horizontal(
                    first, second, 1.0, 0.0, depth=width, upward=1.0, convects=1.0, slices=1.0, **parameters
                )
                floor = nusselt_heated_below(rayleigh) if first > second else 1.0
                cases = [("upright", upright, plain * nusselt_upright(rayleigh, HEIGHT / width))]
                if abs(rayleigh / ONSET - 1.0) > NEAR_ONSET or first < second:
                    cases.append(("level", level, plain * floor))
                for name, ours, expected in cases:
                    label = f"{name} {1e3 * width:.0f} mm gap of {gas}, {first:.0f} to {second:.0f} K [W/m2]"
                    reason = "power laws for lines and equations of state; the temperature jump at the walls"
                    checks.append(
                        Check(label, float(np.asarray(ours)), f"{expected:.4g}", SOURCE, within=ALLOWED, reason=reason)
                    )
    return checks
