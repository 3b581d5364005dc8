"""What every law must do, whatever its correlation: nothing without a difference, no jump, arrays as scalars.

Exact properties; the correlations inside are checked against their sources elsewhere.
"""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thermal_model.physics.constants import STANDARD_PRESSURE
from thermal_model.properties import water
from thermal_model.solver import laws
from thermal_model.solver.laws import Law
from thermal_model.solver.network import Link

STEFAN_BOLTZMANN_CODATA = 5.670374419e-8

GAS = {
    "free_molecule_300K": 1.17 * STANDARD_PRESSURE,
    "conductivity_300K": 0.0262,
    "conductivity_exponent": 0.8,
    "buoyancy_300K": 9.3e7,
    "buoyancy_exponent": -4.6,
}
LAYER = {"area": 0.002, "exchange_factor": 0.8, "depth": 0.01, "convects": 1.0, "slices": 1.0, **GAS}
FACE = {"area": 0.05, "emissivity": 0.3, "wind_film": 0.0, "film_factor": 1.1}
FILM = {"area": 0.002, "length": 0.08, "film_factor": 0.9}
HEADSPACE = {"area": 0.002, "size": 0.03, "water_activity": 1.0, "film_factor": 1.2}
ANNULUS = {"area": 1e-4, "length": 0.1, "exchange_factor": 3.0, "water_activity": 1.0}
SURFACE = {"area": 0.002, "diameter": 0.05, "depth": 0.01, "air_speed": 0.05, "film_factor": 1.0}

CASES: dict[str, tuple[Law, dict[str, float]]] = {
    "conduction": (laws.CONDUCTION, {"conductance": 0.4}),
    "sheet": (laws.SHEET_CONDUCTION, {"conductance_300K": 0.4, "relative_slope": 1e-3}),
    "grey": (laws.GREY_EXCHANGE, {"exchange_area": 0.01}),
    "upright face": (laws.VERTICAL_FACE, {"height": 0.2, "diameter": 0.07, **FACE}),
    "face up": (laws.HORIZONTAL_FACE, {"length": 0.02, "facing": 1.0, **FACE}),
    "face down": (laws.HORIZONTAL_FACE, {"length": 0.02, "facing": -1.0, **FACE}),
    "face in wind": (laws.HORIZONTAL_FACE, {"length": 0.02, "facing": 1.0, **FACE, "wind_film": 15.0}),
    "vacuum gap": (
        laws.GAP_VERTICAL,
        {
            "area": 0.05,
            "exchange_factor": 0.05,
            "width": 0.004,
            "height": 0.2,
            **GAS,
            "free_molecule_300K": 0.01,
            "buoyancy_300K": 1e-6,
        },
    ),
    "air gap": (laws.GAP_VERTICAL, {"area": 0.05, "exchange_factor": 0.2, "width": 0.02, "height": 0.2, **GAS}),
    "pocket over warm": (laws.LAYER_HORIZONTAL, {"upward": 1.0, **LAYER}),
    "pocket under warm": (laws.LAYER_HORIZONTAL, {"upward": -1.0, **LAYER}),
    "honeycomb": (laws.LAYER_HORIZONTAL, {"upward": 1.0, **LAYER, "convects": 0.0}),
    "half a layer": (laws.LAYER_HORIZONTAL, {"upward": 1.0, **LAYER, "slices": 2.0}),
    "headspace and lid": (laws.HEADSPACE_FILM, {"is_level": 1.0, **HEADSPACE}),
    "headspace and wall": (laws.HEADSPACE_FILM, {"is_level": 0.0, **HEADSPACE}),
    "annulus along": (
        laws.ANNULUS_VAPOUR,
        {**ANNULUS, "wall_resistance": 0.0, "is_across": 0.0},
    ),
    "annulus across": (
        laws.ANNULUS_VAPOUR,
        {**ANNULUS, "wall_resistance": 0.005, "is_across": 1.0},
    ),
    "gap under a lid": (
        laws.UNSEALED_GAP,
        {"perimeter": 0.15, "gap": 3e-4, "length": 0.005, "relative_humidity": 1.0, "water_activity": 1.0},
    ),
    "wetted wall": (laws.WETTED_FILM, {"facing": 0.0, **FILM}),
    "wetted floor": (laws.WETTED_FILM, {"facing": 1.0, **FILM}),
    "wetted ceiling": (laws.WETTED_FILM, {"facing": -1.0, **FILM}),
    "evaporation": (laws.OPEN_SURFACE_EVAPORATION, {"relative_humidity": 1.0, "water_activity": 1.0, **SURFACE}),
    "open convection": (laws.OPEN_SURFACE_CONVECTION, {"relative_humidity": 1.0, "water_activity": 1.0, **SURFACE}),
    "vent": (
        laws.VENT_EXCHANGE,
        {"diameter": 0.009, "length": 0.003, "relative_humidity": 1.0, "water_activity": 1.0, "film_factor": 1.0},
    ),
}
"""With saturated room air, so that evaporation and vent rest where the temperatures are equal."""

ANTISYMMETRIC = ("conduction", "sheet", "grey", "upright face", "vacuum gap", "air gap", "honeycomb", "annulus across")


temperatures = st.floats(275.0, 370.0)
each_law = pytest.mark.parametrize("case", CASES)


def flow(case: str, first: Any, second: Any, **changes: Any) -> Any:
    law, parameters = CASES[case]
    values = parameters | changes
    return law.flow(first, second, *(values[name] for name in law.parameters))


def test_every_law_stands_in_this_table() -> None:
    known = {id(law) for law, _ in CASES.values()}
    every = {name: value for name, value in vars(laws).items() if isinstance(value, Law)}
    assert {name for name, law in every.items() if id(law) not in known} == set()
    assert len(every) >= 12


@each_law
@given(temperature=temperatures)
@settings(max_examples=25, deadline=None)
def test_no_difference_no_flow(case: str, temperature: float) -> None:
    law, parameters = CASES[case]
    scale = abs(float(flow(case, temperature + 1.0, temperature)))
    assert abs(float(flow(case, temperature, temperature))) <= 1e-9 * max(scale, 1e-6)
    assert set(law.parameters) == set(parameters)


@each_law
@given(temperature=temperatures)
@settings(max_examples=25, deadline=None)
def test_no_jump_across_zero_difference(case: str, temperature: float) -> None:
    scale = abs(float(flow(case, temperature + 1.0, temperature)))
    for tiny in (1e-9, -1e-9):
        assert abs(float(flow(case, temperature + tiny, temperature))) < 1e-3 * scale


@each_law
@given(first=temperatures, second=temperatures)
@settings(max_examples=40, deadline=None)
def test_heat_flows_from_warm_to_cold(case: str, first: float, second: float) -> None:
    if abs(first - second) > 1e-3:
        assert np.sign(float(flow(case, first, second))) == np.sign(first - second)


@pytest.mark.parametrize("case", ANTISYMMETRIC)
@given(first=temperatures, second=temperatures)
@settings(max_examples=40, deadline=None)
def test_exchanged_ends_turn_the_flow(case: str, first: float, second: float) -> None:
    forth, back = float(flow(case, first, second)), float(flow(case, second, first))
    assert forth == pytest.approx(-back, rel=1e-9, abs=1e-12)


@given(first=temperatures, second=temperatures)
@settings(max_examples=40, deadline=None)
def test_a_pocket_turned_over_with_its_ends_is_the_same_pocket(first: float, second: float) -> None:
    forth = float(flow("pocket over warm", first, second))
    back = float(flow("pocket over warm", second, first, upward=-1.0))
    assert forth == pytest.approx(-back, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("case", ["deep pocket", "headspace and lid", "annulus along", "face up"])
def test_convection_and_vapour_favour_one_direction(case: str) -> None:
    name, changes = ("pocket over warm", {"depth": 0.03}) if case == "deep pocket" else (case, {})
    forth, back = (float(flow(name, *ends, **changes)) for ends in ((350.0, 330.0), (330.0, 350.0)))
    assert forth > -1.1 * back > 0.0


@each_law
@given(pairs=st.lists(st.tuples(temperatures, temperatures), min_size=1, max_size=9))
@settings(max_examples=25, deadline=None)
def test_arrays_give_what_scalars_give(case: str, pairs: list[tuple[float, float]]) -> None:
    first, second = np.array(pairs).T
    together = flow(case, first, second)
    alone = [float(flow(case, a, b)) for a, b in pairs]
    assert together.shape == first.shape
    np.testing.assert_allclose(together, alone, rtol=1e-12, atol=1e-14)
    assert flow(case, first[None], second[None]).shape == (1, len(pairs))


@each_law
@given(first=temperatures, second=temperatures)
@settings(max_examples=40, deadline=None)
def test_derivatives_are_finite(case: str, first: float, second: float) -> None:
    step = 1e-4
    for high, low in ((first + step, first), (first, first)):
        rise = float(flow(case, high, second + (step if high == low else 0.0)) - flow(case, low, second)) / step
        assert np.isfinite(rise)
        assert abs(rise) < 1e3


@each_law
@pytest.mark.parametrize("temperature", [273.15, 277.13, 293.15, 368.15])
def test_derivatives_are_finite_without_a_difference(case: str, temperature: float) -> None:
    rise = float(flow(case, temperature + 1e-4, temperature) - flow(case, temperature, temperature)) / 1e-4
    assert np.isfinite(rise)
    assert rise > 0.0


@each_law
def test_flow_has_no_jump_in_the_range_of_a_run(case: str) -> None:
    # A jump stays as large however fine the grid. Steps shrink with it: fourfold, or twofold at a square-root cusp,
    # as of water about its greatest density.
    coarse, fine = (np.abs(np.diff(flow(case, np.linspace(275.0, 363.15, n), 293.15))).max() for n in (20001, 80001))
    assert fine < 0.6 * coarse


@pytest.mark.parametrize("facing", [-1.0, 0.0, 1.0])
@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_a_film_has_no_cusp_where_water_is_densest(facing: float, side: float) -> None:
    """The root of a lightness that grows with the square of the distance ends in one: no step of a solver fits it."""

    def slope(distance: float) -> float:
        near, there = (
            laws.wetted_film(274.0, at, area=0.004, length=0.02, facing=facing, film_factor=1.0)
            for at in (water.DENSEST + side * distance, water.DENSEST)
        )
        return abs(float(near - there)) / distance

    assert slope(1e-4) < 1.5 * slope(1e-2)


def test_grey_exchange_is_stefan_boltzmann() -> None:
    # sigma A (T1^4 - T2^4), exact; sigma from CODATA 2018.
    expected = STEFAN_BOLTZMANN_CODATA * 0.01 * (350.0**4 - 300.0**4)
    assert float(flow("grey", 350.0, 300.0)) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("depth", [1e-3, 0.05])
@pytest.mark.parametrize("temperature", [303.15, 343.15])
def test_evaporation_and_convection_are_in_bowen_s_ratio(temperature: float, depth: float) -> None:
    # Evaporative over convective heat = dp / (gamma dT), gamma 66 Pa/K at sea level (psychrometry, from memory); 2.34
    # kPa at 20 C. Vapour densities instead of pressures and gamma's own change with temperature leave 10 %.
    ends = (temperature, 293.15)
    evaporated = float(flow("evaporation", *ends, relative_humidity=0.5, depth=depth))
    air = float(flow("open convection", *ends, relative_humidity=0.5, depth=depth))
    pressure = {303.15: 4247.0, 343.15: 31200.0}[temperature]
    assert evaporated / air == pytest.approx((pressure - 1170.0) / (66.0 * (temperature - 293.15)), rel=0.10)


def test_what_a_wall_keeps_from_the_annulus_stands_in_series() -> None:
    """Exact: one over the whole is one over the air and one over the wall."""
    air = flow("annulus across", 340.0, 330.0, wall_resistance=0.0)
    both = flow("annulus across", 340.0, 330.0)
    wall = 10.0 * ANNULUS["area"] / 0.005
    assert 1.0 / both == pytest.approx(1.0 / air + 1.0 / wall, rel=1e-12)


def test_a_gap_under_a_lid_lets_pass_what_stefan_s_law_says() -> None:
    """Independent: diffusion by the logarithmic mean of the air's pressure (Bird, Stewart, Lightfoot, sec. 18.2).

    Inside 60 C and saturated (19.95 kPa), outside 20 C and dry; 45 mm2 over 5 mm. The air conducts beside it, and the
    counterflow through so narrow a gap is next to nothing.
    """
    area, way, pressure = 0.15 * 3e-4, 0.005, 19.95e3
    log_mean = pressure / np.log(101325.0 / (101325.0 - pressure))
    moles = 2.6e-5 * (313.15 / 298.15) ** 1.75 * 101325.0 / (8.314 * 313.15) / way * pressure / log_mean
    expected = area * moles * 0.018015 * 2.40e6 + 0.0271 * area / way * 40.0
    ours = float(flow("gap under a lid", 333.15, 293.15, relative_humidity=0.0))
    assert ours == pytest.approx(expected, rel=0.02)
    assert float(flow("gap under a lid", 333.15, 293.15, gap=0.0)) == 0.0


def test_a_link_refuses_parameters_that_are_not_its_law_s() -> None:
    with pytest.raises(ValueError, match=r"conduction takes \('conductance',\), got \('width',\)"):
        Link(laws.CONDUCTION, "a", "b", {"width": 1.0})


def test_contents_without_water_give_no_vapour():
    # Oil boils far above any drink: over it the headspace carries heat by air alone, and nothing evaporates.
    warm = 350.0, 320.0
    assert flow("evaporation", *warm, water_activity=0.0, relative_humidity=0.5) == 0.0
    for case in ("headspace and lid", "headspace and wall", "annulus along"):
        assert 0.0 < flow(case, *warm, water_activity=0.0) < 0.3 * flow(case, *warm)


@pytest.mark.parametrize(("celsius", "pressure"), [(30.0, 3.08), (45.0, 8.42)])
def test_a_draught_hastens_evaporation_as_measured(celsius: float, pressure: float) -> None:
    """Pauken 1999, ASHRAE Trans. 105, pan of 1.2 m, 25 to 50 C (from memory).

    E = (74 + 98 v + 25 v^2) dp^(1.22 - 0.19 v + 0.038 v^2), g m-2 h-1 and kPa: 0.2 m/s adds 23 and 18 %. A small one
    is swept by a thinner layer: ours, of 8 cm, gains up to twice as much.
    """
    measured = (74.0 + 98.0 * 0.2 + 1.0) / 74.0 * pressure ** (-0.19 * 0.2 + 0.0015) - 1.0
    shape = {"relative_humidity": 0.5, "depth": 1e-3, "diameter": 0.08}
    still, moving = (float(flow("evaporation", celsius + 273.15, 293.15, air_speed=v, **shape)) for v in (0.0, 0.2))
    assert measured < moving / still - 1.0 < 2.2 * measured


def test_a_slender_wall_loses_more_than_a_plate() -> None:
    # A wide cylinder is a plate: Churchill-Chu alone; Popiel's factor at the doctest's own example is 1.076.
    wide, slim = (float(flow("upright face", 320.0, 293.15, diameter=d, emissivity=0.0)) for d in (100.0, 0.07))
    assert 1.04 < slim / wide < 1.12
