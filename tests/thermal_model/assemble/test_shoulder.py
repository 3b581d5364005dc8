"""A liquid that rises to a flat shoulder: its ring gets wet, and nothing else changes at once."""

import numpy as np
import pytest

from geometries.container import inner_profile
from geometries.design_file import catalogue_names, load_container
from geometries.overrides import with_overrides
from geometries.shapes import volume_below_height
from tests.thermal_model.assemble.test_annulus import losses
from tests.thermal_model.runs import scenario
from thermal_model.scenario import Scenario

NECKED = [name for name in catalogue_names() if load_container(name).body.neck is not None]
CASES = {"hot": scenario(start="75 C", room="20 C"), "cold": scenario(start="9 C", room="22 C")}
A_HAIR = 1e-9
"""[m3]"""


def losses_about_the_ring(name: str, case: Scenario, millilitres: list[float]) -> np.ndarray:
    """Logarithm of the loss at fills counted from that which touches the ring. [mL]"""
    container = with_overrides(load_container(name), {"body.neck.shoulder_height": "0 mm"})
    neck = container.body.neck
    assert neck is not None
    touching = float(volume_below_height(inner_profile(container), container.body.depth - neck.length))
    fills = touching + 1e-6 * np.array(millilitres)
    return np.log(losses(container, case.model_copy(update={"fill": fills}), len(fills)))


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
@pytest.mark.parametrize("name", NECKED)
def test_a_flat_shoulder_gets_wet_without_a_jump(name: str, case: Scenario) -> None:
    """As the layer of air under it grows thin, it conducts ever better, and its vapour stays out of the headspace."""
    below, above = losses_about_the_ring(name, case, [-1e6 * A_HAIR, 1e6 * A_HAIR])
    assert abs(above - below) < 0.01


@pytest.mark.parametrize("name", ["thin_disc_lid", "three_layer_wall", "wide_mouth_disc"])
def test_far_below_a_flat_shoulder_it_is_part_of_the_headspace(name: str) -> None:
    """Half a ring's width away and more, a millimetre moves the loss by three quarters of one in the neck at most."""
    *far, neck = np.diff(losses_about_the_ring(name, CASES["cold"], [-41.0, -40.0, -21.0, -20.0, 0.5, 1.5]))[::2]
    body = load_container(name).body
    neck_per_body = (body.mouth_radius / inner_profile(load_container(name)).radii[0]) ** 2
    assert 0.0 < max(far) < 0.75 * neck * neck_per_body
