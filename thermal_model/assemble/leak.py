"""What a lid without a seal lets through: the gap between lid and lip, all around the mouth."""

import numpy as np

from geometries.numeric import Numeric
from thermal_model.assemble.annulus import top_of_open_annulus
from thermal_model.assemble.columns import lid_of
from thermal_model.assemble.setup import Setup
from thermal_model.solver.laws import UNSEALED_GAP
from thermal_model.solver.network import ROOM

USUAL_GAP = 3e-4
"""Mean gap under a lid that rests on its lip without a seal [m]; the unknown `lid_gap` multiplies it.

Judgement: two turned or moulded faces meet at a few high spots, and lie some tenths of a millimetre apart between;
the threads of a jar and its cap are hundreds of micrometres apart as well (as conservators of collections in jars
report). Its prior is wide: nobody measures it, and a warped lid or a crumb opens it threefold.
"""

SKIRT_GAP = 1e-3
"""Between a skirt and the neck it hangs around: thread clearance, judgement. [m]"""


def add_leak(setup: Setup) -> None:
    """Add the gap of a lid without any seal; upside down its contents would run out, and no air passes."""
    if lid_of(setup).seals or setup.is_inverted:
        return
    gap = USUAL_GAP * setup.unknowns.lid_gap
    radius = np.broadcast_to(setup.body.mouth_radius, (setup.lanes,))
    width = setup.body.side_width
    setup.link(
        UNSEALED_GAP,
        top_of_open_annulus(setup),
        ROOM,
        path="vent",
        lid_on=True,
        perimeter=2.0 * np.pi * (radius + 0.5 * width),
        gap=gap,
        length=_way_through(setup, gap, width),
        relative_humidity=setup.scenario.relative_humidity,
        water_activity=setup.water_activity,
    )


def _way_through(setup: Setup, gap: Numeric, width: Numeric) -> Numeric:
    """Return the way through the gap: over the lip, down a skirt that is wider, half a gap at each end. [m]"""
    return width + gap + gap / SKIRT_GAP * lid_of(setup).skirt_length
