"""The reduced model of the what-if panel, held to the engine that made its tables."""

import numpy as np
import pytest

from geometries.design_file import load_container
from thermal_model.judge.compare import Entry
from thermal_model.judge.what_if.grids import Grids
from thermal_model.judge.what_if.model import engine_times, misses, random_states, rounded
from thermal_model.judge.what_if.reduced import AskedState, hold_times
from thermal_model.judge.what_if.runs import DrawnContainer
from thermal_model.judge.what_if.side import HOT
from thermal_model.judge.what_if.tables import CoolingTables, make_tables
from thermal_model.scenario import Scenario

GRIDS = Grids.of(HOT)


@pytest.fixture(scope="module")
def drawn() -> DrawnContainer:
    return DrawnContainer.of(Entry("slim", load_container("slim_neck_double_seal")), HOT, Scenario(), 6, 1)


@pytest.fixture(scope="module")
def tables(drawn: DrawnContainer) -> CoolingTables:
    return rounded(make_tables(drawn, GRIDS))


def test_it_agrees_with_the_engine(drawn: DrawnContainer, tables: CoolingTables) -> None:
    """Best guesses within 1 % or a minute, ends of ranges within 3 %, in conditions that no table was made for."""
    found = misses(drawn, GRIDS, tables, random_states(HOT, 8, np.random.default_rng(5)))
    assert np.all((found.best_relative < 0.01) | (found.best_seconds < 60.0))
    assert np.all(found.ends_relative < 0.03)


def test_it_agrees_with_the_lid_off_now_and_then(drawn: DrawnContainer, tables: CoolingTables) -> None:
    state = AskedState(360.0, 290.0, 335.0, share=0.8, every=3600.0)
    found = misses(drawn, GRIDS, tables, [state])
    shut = hold_times(HOT, GRIDS, tables, AskedState(360.0, 290.0, 335.0, share=0.8))
    assert found.best[0] < 0.99 * shut[0]
    assert found.best_relative[0] < 0.01


def test_openings_after_the_end_count_for_nothing(tables: CoolingTables) -> None:
    shut = hold_times(HOT, GRIDS, tables, AskedState(360.0, 290.0, 356.0))
    rare = hold_times(HOT, GRIDS, tables, AskedState(360.0, 290.0, 356.0, every=1e6))
    np.testing.assert_allclose(rare, shut, rtol=1e-12)


def test_a_volume_is_a_share_of_full(tables: CoolingTables) -> None:
    half = hold_times(HOT, GRIDS, tables, AskedState(360.0, 290.0, 335.0, share=0.5))
    volume = hold_times(HOT, GRIDS, tables, AskedState(360.0, 290.0, 335.0, fill=0.5 * float(tables.full[0])))
    assert volume[0] == pytest.approx(half[0], rel=1e-9)


def test_it_moves_the_right_way(tables: CoolingTables) -> None:
    """A colder room, a cooler start, a higher limit and less inside all hold shorter."""
    base = hold_times(HOT, GRIDS, tables, AskedState(360.0, 290.0, 335.0))
    for other in (
        AskedState(360.0, 280.0, 335.0),
        AskedState(355.0, 290.0, 335.0),
        AskedState(360.0, 290.0, 340.0),
        AskedState(360.0, 290.0, 335.0, share=0.7),
        AskedState(360.0, 290.0, 335.0, every=7200.0),
    ):
        assert np.all(hold_times(HOT, GRIDS, tables, other) < base)


def test_random_conditions_are_allowed_ones() -> None:
    for state in random_states(HOT, 50, np.random.default_rng(3)):
        assert state.start - state.limit >= HOT.least_change
        assert state.limit - state.room >= HOT.nearest - 1e-9
        assert HOT.share[0] <= state.share <= HOT.share[1]


def test_the_engine_is_asked_with_the_draws_of_a_ranking(drawn: DrawnContainer) -> None:
    """A state at which a ranking stands gives the ranking's own times, to the bit of its steps."""
    from thermal_model.judge.compare import rank

    entry = Entry("slim", load_container("slim_neck_double_seal"))
    ranked = rank([entry], Scenario(start=360.0, room=290.0), 335.0, draws=6, seed=1).standings[0].times
    np.testing.assert_allclose(
        engine_times(drawn, [AskedState(360.0, 290.0, 335.0)], np.zeros(1))[0], ranked, rtol=1e-7
    )
