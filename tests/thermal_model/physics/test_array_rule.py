"""Every physics function takes floats and arrays of any shape, and gives the same either way."""

import importlib
import inspect
import pkgutil

import numpy as np
import pytest

from thermal_model import physics
from thermal_model.physics import (
    conduction,
    enclosed_layers,
    evaporation,
    fins,
    forced_convection,
    free_convection,
    radiation,
    rarefied_gas,
    validity,
    vapour_transport,
)

RAYLEIGH = (0.0, 1e12)
PRANDTL = (0.5, 10.0)
EMISSIVITY = (0.02, 1.0)
RATIO = (0.5, 1.0)
FILM = (0.0, 50.0)
PRESSURE = (500.0, 60e3)
TEMPERATURE = (275.0, 370.0)
LENGTH = (0.001, 0.2)

SPANS = {
    radiation.grey_heat_flux: [TEMPERATURE, TEMPERATURE, EMISSIVITY],
    radiation.exchange_factor_parallel_plates: [EMISSIVITY, EMISSIVITY],
    radiation.exchange_factor_with_shields: [EMISSIVITY, EMISSIVITY, RATIO, (0.0, 5.0), EMISSIVITY],
    radiation.view_factor_coaxial_discs: [LENGTH, LENGTH, (0.0, 0.3)],
    radiation.view_factor_parallel_strips: [LENGTH, (0.0, 0.3)],
    radiation.view_factor_disc_to_cylinder_ring: [LENGTH, (0.0, 0.1), (0.1, 0.2)],
    radiation.exchange_factor_reradiating: [(0.0, 0.9), (1e-3, 2e-3), (2e-3, 4e-3), EMISSIVITY, EMISSIVITY],
    rarefied_gas.gas_conductivity: [(0.005, 0.2), (0.5, 1.4), TEMPERATURE],
    rarefied_gas.rayleigh_group_ideal_gas: [
        (0.002, 0.13),
        (1.1, 1.667),
        (0.005, 0.2),
        (8e-6, 3e-5),
        (0.0, 1e5),
        TEMPERATURE,
    ],
    rarefied_gas.free_molecule_coefficient: [(0.002, 0.13), (1.1, 1.667), TEMPERATURE],
    rarefied_gas.accommodation_factor: [EMISSIVITY, EMISSIVITY, RATIO],
    rarefied_gas.gas_conductance_sherman: [(0.0, 1e5), (0.0, 10.0)],
    free_convection.nusselt_vertical_plate_churchill_chu: [RAYLEIGH, PRANDTL],
    free_convection.nusselt_vertical_plate_laminar_churchill_chu: [RAYLEIGH, PRANDTL],
    free_convection.slender_cylinder_factor_popiel: [RAYLEIGH, PRANDTL, (0.5, 10.0)],
    free_convection.nusselt_horizontal_plate_hot_side_up: [RAYLEIGH],
    free_convection.nusselt_horizontal_plate_hot_side_down: [RAYLEIGH],
    forced_convection.nusselt_cross_flow_churchill_bernstein: [(0.0, 1e6), PRANDTL],
    forced_convection.nusselt_plate_laminar: [(0.0, 1e6), PRANDTL],
    forced_convection.combine_free_and_forced: [FILM, FILM],
    enclosed_layers.nusselt_layer_heated_below_hollands: [RAYLEIGH],
    enclosed_layers.nusselt_layer_vertical_elsherbiny: [RAYLEIGH, (5.0, 100.0)],
    enclosed_layers.nusselt_slot_open_below: [(0.0, 300.0)],
    conduction.resistance_isothermal_disc_on_half_space: [LENGTH, (0.02, 400.0)],
    conduction.bend_share: [(0.0, 2.3)],
    conduction.squares_of_square_corner: [LENGTH, LENGTH],
    fins.conductance_fin_adiabatic_tip: [FILM, LENGTH, (0.02, 400.0), LENGTH, LENGTH],
    vapour_transport.mass_fraction_from_pressure: [(0.0, 101325.0), (101325.0, 2e5)],
    vapour_transport.vapour_diffusivity_marrero_mason: [TEMPERATURE, (9e4, 101325.0)],
    vapour_transport.stefan_flow_potential: [(0.0, 1.0)],
    vapour_transport.stefan_flow_mass_flux: [(0.0, 0.05), (0.9, 1.3), (0.0, 1.0), (0.0, 1.0)],
    vapour_transport.vapour_conductivity_saturated: [
        TEMPERATURE,
        (9e4, 101325.0),
        PRESSURE,
        (2.2e6, 2.5e6),
        (2e-5, 4e-5),
    ],
    vapour_transport.exchange_flow_through_level_slit: [
        (0.05, 0.3),
        (0.0, 0.003),
        (0.003, 0.02),
        (-0.5, 0.5),
        (1e-5, 3e-5),
    ],
    vapour_transport.vapour_flow_through_gap_stefan: [
        (0.0, 1e-4),
        (0.003, 0.02),
        (0.9, 1.3),
        (2e-5, 4e-5),
        (0.0, 0.999),
        (0.0, 1.0),
    ],
    vapour_transport.exchange_flow_through_opening_epstein: [(0.0, 0.05), (0.001, 0.02), (-0.1, 0.4)],
    evaporation.sherwood_open_surface_bower_saylor: [RAYLEIGH, (0.4, 1.0)],
    evaporation.exchange_velocity_in_open_tube_epstein: [LENGTH, (0.02, 0.3), (-0.1, 0.4)],
}


def public_functions():
    """Every public function that a physics module defines, but the bookkeeping of validity ranges."""
    for entry in pkgutil.iter_modules(physics.__path__, f"{physics.__name__}."):
        module = importlib.import_module(entry.name)
        for name, function in inspect.getmembers(module, inspect.isfunction):
            if module is not validity and function.__module__ == module.__name__ and not name.startswith("_"):
                yield function


def samples(function, count):
    """Columns of arguments spread over the spans, the ends included."""
    generator = np.random.default_rng(20)
    for low, high in SPANS[function]:
        values = generator.uniform(low, high, count)
        values[:2] = low, high
        yield generator.permutation(values)


def test_no_function_is_left_out():
    assert {f.__qualname__ for f in public_functions()} == {f.__qualname__ for f in SPANS}


@pytest.mark.parametrize("function", SPANS, ids=lambda function: function.__name__)
def test_array_equals_loop_of_floats(function):
    columns = list(samples(function, 9))
    batch = function(*columns)
    assert batch.shape == (9,)
    assert np.all(np.isfinite(batch))
    loop = [float(function(*map(float, row))) for row in zip(*columns, strict=True)]
    np.testing.assert_allclose(batch, loop, rtol=1e-13)


@pytest.mark.parametrize("function", SPANS, ids=lambda function: function.__name__)
def test_first_argument_broadcasts_against_the_rest(function):
    first, *rest = samples(function, 4)
    grid = function(first[:, None], *rest)
    assert grid.shape == ((4, 4) if rest else (4, 1))
    row = function(float(first[2]), *rest)
    np.testing.assert_allclose(grid[2], np.broadcast_to(row, grid[2].shape), rtol=1e-13)


@pytest.mark.parametrize("function", SPANS, ids=lambda function: function.__name__)
def test_arguments_are_left_untouched(function):
    columns = list(samples(function, 5))
    before = [column.copy() for column in columns]
    function(*columns)
    assert all(np.array_equal(a, b) for a, b in zip(columns, before, strict=True))


@pytest.mark.parametrize("function", SPANS, ids=lambda function: function.__name__)
def test_docstring_gives_units_source_and_example(function):
    text = inspect.getdoc(function)
    assert all(f"{part}\n---" in text for part in ("Parameters", "Returns", "References", "Examples"))
    assert "[" in text.split("Returns\n---")[1].split("References")[0]
    assert all(name in text for name in inspect.signature(function).parameters)


FREE = [
    free_convection.nusselt_vertical_plate_churchill_chu,
    free_convection.nusselt_vertical_plate_laminar_churchill_chu,
    free_convection.nusselt_horizontal_plate_hot_side_up,
    free_convection.nusselt_horizontal_plate_hot_side_down,
    enclosed_layers.nusselt_layer_heated_below_hollands,
    enclosed_layers.nusselt_layer_vertical_elsherbiny,
]


@pytest.mark.parametrize("function", FREE, ids=lambda function: function.__name__)
def test_nusselt_never_falls_with_rayleigh(function):
    rayleigh = np.concatenate([[0.0], np.logspace(-6, 12, 2000)])
    others = [0.71 if name == "prandtl" else 30.0 for name in list(inspect.signature(function).parameters)[1:]]
    assert np.all(np.diff(function(rayleigh, *others)) >= -1e-12)


@pytest.mark.parametrize("function", FREE[4:], ids=lambda function: function.__name__)
def test_still_layers_conduct(function):
    others = [0.71 if name == "prandtl" else 30.0 for name in list(inspect.signature(function).parameters)[1:]]
    assert function(0.0, *others) == 1.0
