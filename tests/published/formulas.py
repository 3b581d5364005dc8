"""Textbook formulas that checks compare with or need on the way, and no mechanism of the model uses."""

import numpy as np

from geometries.numeric import Numeric
from thermal_model.physics.constants import GRAVITY

SMALL_DIFFERENCE = 5.0
"""Up to which ISO 6946 takes the coefficients of an air layer as constant [K]."""


def grashof_number(difference: float, length: float, expansion: float, viscosity: float) -> float:
    """g beta |dT| L^3 / nu^2; Incropera et al., 6th ed., eq. 9.12. [K, m, K-1, m2 s-1]"""
    return float(GRAVITY * expansion * abs(difference) * length**3 / viscosity**2)


def rayleigh_number(difference: float, length: float, expansion: float, viscosity: float, diffusivity: float) -> float:
    """Grashof times Prandtl; Incropera et al., 6th ed., eq. 9.23. [K, m, K-1, m2 s-1, m2 s-1]"""
    return grashof_number(difference, length, expansion, viscosity) * viscosity / diffusivity


def nusselt_layer_heated_below_holman_gas(rayleigh: Numeric) -> Numeric:
    """Gas between level plates, heated from below; Holman, table 7-3, from memory."""
    creeping, laminar = 0.059 * np.power(rayleigh, 0.4), 0.212 * np.power(rayleigh, 0.25)
    moving = np.where(np.less(rayleigh, 7000.0), creeping, laminar)
    turbulent = 0.061 * np.cbrt(rayleigh)
    return np.maximum(np.where(np.less(rayleigh, 3.2e5), moving, turbulent), 1.0)


def nusselt_layer_vertical_jakob(rayleigh: Numeric, aspect_ratio: Numeric) -> Numeric:
    """Gas between upright plates; Jakob, as in Holman, table 7-3, from memory."""
    strength = np.maximum(0.197 * np.power(rayleigh, 0.25), 0.073 * np.cbrt(rayleigh))
    return np.maximum(strength * np.power(aspect_ratio, -1.0 / 9.0), 1.0)


def nusselt_layer_vertical_incropera(rayleigh: Numeric, prandtl: Numeric, aspect_ratio: Numeric) -> Numeric:
    """Fluid between upright plates; Incropera, eq. 9.53, from memory."""
    moving = 0.42 * np.power(rayleigh, 0.25) * np.power(prandtl, 0.012) * np.power(aspect_ratio, -0.3)
    return np.maximum(moving, 1.0)


def iso6946_convective_coefficient(direction: str, thickness: float, difference: float = SMALL_DIFFERENCE) -> float:
    """Conduction and convection of an unventilated air layer; ISO 6946:2017, annex D, from memory. [W m-2 K-1]"""
    moving = {
        "up": 1.14 * max(difference, SMALL_DIFFERENCE) ** (1.0 / 3.0),
        "horizontal": 0.73 * max(difference, SMALL_DIFFERENCE) ** (1.0 / 3.0),
        "down": 0.09 * max(difference, SMALL_DIFFERENCE) ** 0.187 * max(thickness, 1e-9) ** -0.44,
    }[direction]
    return max(moving, 0.025 / max(thickness, 1e-9))


def iso6946_radiative_coefficient(emissivity_1: float, emissivity_2: float) -> float:
    """Radiation across an air layer at 10 C; ISO 6946:2017, annex D, from memory. [W m-2 K-1]"""
    return 5.1 / (1.0 / emissivity_1 + 1.0 / emissivity_2 - 1.0)
