"""Good stoppered vessels against the least temperatures of JIS S 2006 after six hours.

Source: JIS S 2006, second-hand (see the file's provenance column). A standard's minimum is one-sided: a vessel that a
careful maker would build has to meet it, by how much is not said. That the figure can fail is checked with the same
vessel under a poor vacuum.
"""

import numpy as np
import pytest

from geometries.container import closed_capacity
from geometries.overrides import with_overrides
from tests.published.design_batches import final_temperatures
from tests.published.jis_s2006_cases import (
    PROCEDURE,
    SIX_HOURS,
    WALLS,
    after_six_hours,
    good_vessel,
    jis_classes,
)


@pytest.mark.parametrize("walls", ["room", "warmed"])
def test_good_vessels_meet_the_minimum_of_their_class(walls):
    """In the middle of each class and at its hardest corner; walls warmed by the water, or cold as the worst."""
    classes = jis_classes()
    middle = after_six_hours([c.middle for c in classes], walls)
    hardest = after_six_hours([c.hardest for c in classes], walls)
    for row, *temperatures in zip(classes, middle, hardest, strict=True):
        assert min(temperatures) >= row.minimum, (row.name, temperatures)


def test_the_real_capacity_is_that_of_the_class():
    for row in jis_classes():
        assert closed_capacity(good_vessel(*row.middle)) == pytest.approx(row.middle[0], rel=1e-6)


def test_a_vessel_with_a_poor_vacuum_fails_the_minimum():
    vessels = [with_overrides(good_vessel(*row.middle), {"body.gap.pressure": "10 Pa"}) for row in jis_classes()]
    fills = [closed_capacity(vessel) for vessel in vessels]
    ends = final_temperatures(vessels, fills, SIX_HOURS, **PROCEDURE, **WALLS["warmed"])
    assert np.all(ends < [row.minimum for row in jis_classes()])


def test_temperatures_rise_with_capacity_and_fall_with_the_mouth_as_the_table_does():
    classes = jis_classes()
    ours = after_six_hours([c.middle for c in classes], "warmed")
    for k, first in enumerate(classes):
        for j, second in enumerate(classes):
            is_bigger = first.mouth == second.mouth and first.capacity < second.capacity
            is_narrower = first.capacity == second.capacity and first.mouth > second.mouth
            if is_bigger or is_narrower:
                assert first.minimum < second.minimum
                assert ours[k] < ours[j], (first.name, second.name)
