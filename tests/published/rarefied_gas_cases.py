"""Rarefied gases: free-molecule coefficients and conductivities beside tables."""

from tests.published.check import Check, read_rows
from thermal_model.physics.rarefied_gas import (
    GASES,
    free_molecule_coefficient,
    gas_conductivity,
)


def free_molecule_checks() -> list[Check]:
    """Coefficients of the table at 300 K and full accommodation."""
    checks = []
    for row in read_rows("free_molecule_coefficients.csv"):
        ours = free_molecule_coefficient(float(row["M_kg_mol"]), float(row["gamma"]), 300.0)
        name = f"free-molecule coefficient of {row['gas']} [W/m2KPa]"
        printed = row["W_m2_K_Pa_at_300K_alpha1"]
        checks.append(Check(name, float(ours), printed, "Corruccini's formula, computed elsewhere"))
    return checks


# ISO 15099:2003 annex B, k = a + b T [W/m K]; seen in several public window programs.
ISO15099_CONDUCTIVITY = {
    "air": (2.873e-3, 7.760e-5),
    "argon": (2.285e-3, 5.149e-5),
    "krypton": (9.443e-4, 2.826e-5),
    "xenon": (4.538e-4, 1.723e-5),
}


def conductivity_checks() -> list[Check]:
    """Conductivities of the gap gases beside the window standard."""
    checks = []
    for name, (offset, slope) in ISO15099_CONDUCTIVITY.items():
        gas = GASES[name]
        for temperature in (270.0, 300.0, 350.0):
            ours = gas_conductivity(gas.conductivity_300K, gas.conductivity_exponent, temperature)
            checks.append(
                Check(
                    f"conductivity of {name} at {temperature:g} K [W/mK]",
                    float(ours),
                    f"{offset + slope * temperature:.5f}",
                    "ISO 15099 annex B, coefficients seen in public programs",
                    within=0.02,
                    reason="the standard's lines and CoolProp, which ours follow, differ by up to 1.7 %",
                )
            )
    return checks
