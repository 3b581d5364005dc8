"""What stands between a flask and its room: a jacket over side and base, sunlight on what faces it."""

import numpy as np
import pytest

from geometries.container import Container
from geometries.design_file import load_container
from geometries.overrides import with_overrides
from tests.thermal_model.runs import hold_time, loss_at_rest, scenario
from thermal_model.assemble.build import assemble
from thermal_model.solver.network import PATHS

JACKETED = load_container("glass_refill_flask")
BARE = with_overrides(JACKETED, {"body.jacket": None})
ICED = {"start": "2 C", "room": "25 C", "fill": "600 mL"}
SUN = {"sunlight": "800 W/m2"}


def lit(container: Container) -> dict[str, float]:
    """Power that the sun gives each node. [W]"""
    net = assemble(container, scenario(**ICED, **SUN))
    return {name: float(power[0]) for name, power in zip(net.names, net.sources, strict=True) if power[0] > 0.0}


def test_sunlight_falls_on_the_jacket_and_no_longer_on_the_flask() -> None:
    assert {name.split("_")[0] for name in lit(JACKETED)} == {"jacket"}
    assert sum(lit(JACKETED).values()) == pytest.approx(sum(lit(BARE).values()), rel=1e-9)


def test_a_jacket_keeps_most_of_the_sun_from_the_contents() -> None:
    # What a case takes up it gives to the room's air rather than inwards across its own air space.
    gain = {
        name: hold_time(c, scenario(**ICED), 283.15) / hold_time(c, scenario(**ICED, **SUN), 283.15)
        for name, c in (("jacketed", JACKETED), ("bare", BARE))
    }
    assert 1.0 < gain["jacketed"] < gain["bare"]


def test_a_jacket_lies_under_the_base_too() -> None:
    # The drawing and the mass have it there; in series with the base's other resistances it can only lower the loss.
    case = scenario(start="80 C", fill="600 mL")
    net = assemble(JACKETED, case)
    assert "jacket_base" in net.names
    base = [loss_at_rest(assemble(c, case), case)[1][PATHS.index("base")] for c in (JACKETED, BARE)]
    assert 0.0 < base[0] < base[1]


def test_a_skirt_shades_the_wall_under_it() -> None:
    design = load_container("wide_mouth_disc")
    lengths = ("0 mm", "20 mm")
    power = [sum(lit(with_overrides(design, {"lid.skirt_length": length})).values()) for length in lengths]
    assert power[1] < power[0]
    assert np.isfinite(power).all()
