"""How full a container is: what "full" means, the last millilitres, the thin layer of air under a lid."""

import numpy as np
import pytest

from geometries.container import capacity_below, closed_capacity, headspace_depth
from geometries.design_file import catalogue_names, load_container
from geometries.numeric import Array
from tests.published.check import read_rows
from tests.thermal_model.assemble.test_annulus import losses
from tests.thermal_model.runs import COARSE, scenario
from thermal_model.assemble.build import assemble, felt_headspace_depth
from thermal_model.assemble.contents import filled_volume
from thermal_model.follow import limit_enthalpies
from thermal_model.prediction import predict
from thermal_model.properties import moist_air, water
from thermal_model.scenario import AIR_UNDER_LID, Scenario
from thermal_model.solver import laws
from thermal_model.solver.engine import integrate
from thermal_model.solver.steppers import compiled_stepper
from thermal_model.uncertainty import draw_sample

BENDS = {("cork_stopper_bottle", "hot")}
LIDDED = [name for name in catalogue_names() if load_container(name).lid is not None]
WAYS = {
    "hot": ({"start": "90 C", "room": "20 C"}, 333.15, "60 W/m2K"),
    "cold": ({"start": "2 C", "room": "25 C"}, 283.15, "9 W/m2K"),
}


# --- what full means -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", LIDDED)
def test_full_leaves_some_millimetres_of_air(name: str) -> None:
    container = load_container(name)
    full = float(filled_volume(container, scenario()))
    if container.lid.plug is None or container.lid.plug.kind != "open":
        assert headspace_depth(container, full) == pytest.approx(AIR_UNDER_LID, rel=1e-6)
    assert 0.9 * closed_capacity(container) < full < closed_capacity(container)
    to_the_lid = filled_volume(container, scenario(air_under_lid="0 mm"))
    assert to_the_lid == pytest.approx(float(closed_capacity(container)), rel=1e-12)


def test_full_is_never_nearly_empty() -> None:
    # However much air is asked for, a tenth of the depth is the most that stays.
    container = load_container("slim_neck_double_seal")
    assert capacity_below(container, 1.0) > 0.8 * closed_capacity(container)


def test_ice_takes_its_room_from_a_full_container() -> None:
    container = load_container("slim_neck_double_seal")
    dry, iced = (float(filled_volume(container, scenario(start="2 C", ice=ice))) for ice in ("0 g", "100 g"))
    assert dry - iced == pytest.approx(0.100 / 999.8, rel=1e-3)


@pytest.mark.parametrize("fill", [None, "500 mL"])
def test_a_fill_is_uncertain_whether_it_is_given_or_not(fill: str | None) -> None:
    options = {} if fill is None else {"fill": fill}
    container = load_container("three_layer_wall")
    drawn = draw_sample(container, scenario(start="2 C", room="25 C", **options), 200, 1)
    spread = np.std(np.log(np.asarray(drawn.scenario.fill)[1:]))
    assert 0.005 < spread < 0.011
    assert np.asarray(drawn.scenario.fill)[0] == pytest.approx(float(filled_volume(container, scenario(**options))))


def test_the_fill_of_a_full_container_widens_its_interval() -> None:
    container = load_container("three_layer_wall")
    found = predict(container, scenario(start="2 C", room="25 C"), [283.15], draws=200, seed=1)
    assert found.contributions[0].name == "fill"


# --- the last millilitres ------------------------------------------------------------------------------------------


def step_by_millilitre(name: str, way: str, **pins: str) -> Array:
    """Change of ln hold time over each 500th of the capacity, from 96 % to the last of them."""
    options, limit, _ = WAYS[way]
    container = load_container(name)
    fills = np.linspace(0.96, 1.0, 21) * float(closed_capacity(container))
    case: Scenario = scenario(**options, pins=pins).model_copy(update={"fill": fills})
    net = assemble(container, case, lanes=len(fills))
    limits = limit_enthalpies(case, [limit], len(fills))
    times = integrate(
        net, limits, np.full(len(fills), 3e6), tolerance=COARSE, stepper=compiled_stepper()
    ).crossing_times[0]
    return np.diff(np.log(times))


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", LIDDED)
def test_the_last_millilitres_bring_no_jump(name: str, way: str) -> None:
    """Where it changes most with a millilitre of 500, the air that it replaces is worth less than 1 % of the hold time.

    The rest is there too where the headspace has one film throughout. It is geometry: the nearer the contents come to
    a rim, the shorter the steel between them and the shell, up to 3.1 % a millilitre for cold water in the best wall;
    `tests/published/test_last_millimetres.py` holds that to a fine grid.
    """
    steepest = np.abs(step_by_millilitre(name, way)).max()
    if steepest > 0.01:
        geometry = np.abs(step_by_millilitre(name, way, headspace_film=WAYS[way][2])).max()
        assert steepest < geometry + 0.01
    assert steepest < 0.033


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", LIDDED)
def test_a_smaller_step_moves_the_loss_in_proportion(name: str, way: str) -> None:
    """Steps of 1, 0.5, 0.1 and 0.05 mL over the last six: a jump would be as large in the smallest as in the largest.

    What is more than in proportion is a bend, where the air under a stopper begins to turn over: for a twentieth of a
    millilitre the loss falls by 0.5 % a millilitre, around it rises by 0.15 %. Elsewhere no step is steeper than the
    millilitre around it by more than a quarter.
    """
    container, case = load_container(name), scenario(**WAYS[way][0])
    fills = (1.0 - 1e-12) * float(closed_capacity(container)) - 5e-8 * np.arange(120, -1, -1)
    logarithms = np.log(losses(container, case.model_copy(update={"fill": fills}), len(fills)))
    whole, half, tenth, twentieth = (np.abs(np.diff(logarithms[::every])).max() for every in (20, 10, 2, 1))
    bend = 4.0 if (name, way) in BENDS else 1.25
    assert half < 0.5 * bend * whole
    assert tenth < 0.1 * bend * whole
    assert twentieth < 0.05 * bend * whole


def test_the_air_that_counts_meets_the_air_there_is() -> None:
    depth = np.array([0.0, 1e-3, 4e-3, 8e-3, 0.05])
    felt = felt_headspace_depth(depth)
    assert np.all(np.diff(felt) > 0.0)
    assert felt[0] == pytest.approx(4e-3)
    np.testing.assert_allclose(felt[-2:], depth[-2:], rtol=0.016)


# --- a thin layer ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("millimetres", [5.0, 7.0, 10.0])
@pytest.mark.parametrize("heat_flow", ["up", "down"])
def test_a_dry_headspace_of_some_millimetres_insulates_as_the_standard_s_layer(
    millimetres: float, heat_flow: str
) -> None:
    """ISO 6946, still air layers of 5, 7 and 10 mm, about 10 C (from memory, see the table's note).

    Radiation taken off: 1/R - 5.1 / (1/0.9 + 1/0.9 - 1). Two halves in series, as liquid, headspace and lid have them.
    """
    (row,) = [r for r in read_rows("iso6946_air_layers.csv") if float(r["thickness_mm"]) == millimetres]
    resistance = float(row[f"R_{heat_flow}"])
    expected = 1.0 / resistance - 5.1 / (2.0 / 0.9 - 1.0)
    first, last = (285.65, 280.65) if heat_flow == "up" else (280.65, 285.65)
    half = laws.headspace_film(first, 0.5 * (first + last), 1.0, 1e-3 * millimetres, 1.0, 0.0, 1.0)
    assert float(half) / (first - last) == pytest.approx(expected, rel=0.12)


@pytest.mark.parametrize("celsius", [40.0, 60.0, 75.0])
def test_a_hot_thin_headspace_conducts_as_saturated_air(celsius: float) -> None:
    """Krischer and Kast; de Vries: vapour that diffuses through still saturated air, beside the conduction of the air.

    A layer of 3 mm between 1 K does not convect. Lewis' ratio puts Le^(1/3) in place of one, some 9 %.
    """
    mean = celsius + 273.15
    ends, depth = (mean + 0.5, mean, mean - 0.5), 3e-3
    half = float(laws.headspace_film(ends[0], ends[1], 1.0, depth, 1.0, 1.0, 1.0))
    from thermal_model.physics.vapour_transport import vapour_conductivity_saturated

    vapour = vapour_conductivity_saturated(
        mean, 101325.0, water.saturation_pressure(mean), water.latent_heat(mean), moist_air.vapour_diffusivity(mean)
    )
    expected = (float(moist_air.saturated_air_conductivity(mean)) + float(vapour)) / depth
    assert half == pytest.approx(expected, rel=0.15)
