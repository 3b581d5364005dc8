"""Gaps filled with each gas at one atmosphere, and what is left of their convection as the gas thins."""

import numpy as np
import pytest

from tests.published.gas_gap_cases import gas_gap_checks
from thermal_model.assemble.walls import gas_parameters
from thermal_model.physics.constants import STANDARD_PRESSURE
from thermal_model.solver import laws


@pytest.mark.parametrize("check", gas_gap_checks(), ids=lambda check: check.name)
def test_a_gap_convects_by_its_own_gas(check):
    assert check.agrees, check


@pytest.mark.parametrize("pressure", [10.0, 100.0, 1e4])
@pytest.mark.parametrize("gas", ["air", "helium", "xenon"])
def test_a_thin_gas_hardly_convects_in_a_level_gap(gas, pressure):
    """Rayleigh's number goes as the square of the pressure (exact for an ideal gas).

    A tenth of an atmosphere leaves a hundredth of it: 25 mm under 70 K conduct and no more, heated from below as from
    above. Xenon alone, ten times heavier to move, still stirs there.
    """
    parameters = gas_parameters(gas, pressure, 1.0)
    common = {"area": 1.0, "exchange_factor": 0.0, "depth": 0.025, "convects": 1.0, "slices": 1.0, **parameters}
    below, above = (float(laws.layer_horizontal(363.15, 293.15, upward=up, **common)) for up in (1.0, -1.0))
    if gas == "xenon" and pressure == 1e4:
        assert below > 1.2 * above
    else:
        assert below == pytest.approx(above, rel=1e-9)


def test_the_order_of_the_gases():
    # Heavy gases conduct less and are stirred more; in a narrow gap the order is that of their conductivities.
    flows = [
        float(
            laws.gap_vertical(
                333.15, 293.15, 1.0, 0.0, width=0.004, height=0.2, **gas_parameters(gas, STANDARD_PRESSURE, 1.0)
            )
        )
        for gas in ("xenon", "krypton", "argon", "air", "helium", "hydrogen")
    ]
    assert np.all(np.diff(flows) > 0.0)
