"""Materials against the reference tables and the NIST fit."""

import csv
from pathlib import Path

import numpy as np
import pytest

from geometries.materials import (
    COLDEST,
    HOTTEST,
    conductivity,
    material,
    materials,
    surface,
    surface_emissivity,
    surfaces,
)

PUBLISHED = Path(__file__).parents[1] / "published"


def nist_conductivity_304(temperature):
    """Fit of log10 k in powers of log10 T, valid 1 to 300 K; coefficients of ss304_nist_fit.csv."""
    with (PUBLISHED / "ss304_nist_fit.csv").open(encoding="utf-8") as file:
        coefficients = [float(row["coef"]) for row in csv.DictReader(file)]
    return 10.0 ** np.polynomial.polynomial.polyval(np.log10(temperature), coefficients)


def test_stainless_304_lies_within_its_spread_of_the_nist_fit_and_of_incropera():
    steel = material("stainless_304")
    # The fit itself against the values that its table quotes.
    assert nist_conductivity_304(300.0) == pytest.approx(15.31, abs=0.01)
    # NIST up to 300 K; Incropera table A.1 14.9 at 300 K, 16.6 at 400 K (from memory), at 380 K by interpolation.
    published = {280.0: nist_conductivity_304(280.0), 300.0: nist_conductivity_304(300.0), 380.0: 16.26}
    for temperature, value in published.items():
        assert conductivity(steel, temperature) == pytest.approx(value, rel=2 * steel.spread)
    assert 14.9 < conductivity(steel, 300.0) < nist_conductivity_304(300.0)


def test_stainless_316_lies_within_its_spread_of_mills():
    # Mills 2002: k = -7.301e-6 T^2 + 0.02716 T + 6.308, read in a public code's documentation.
    steel, temperature = material("stainless_316"), np.array([300.0, 350.0])
    mills = -7.301e-6 * temperature**2 + 0.02716 * temperature + 6.308
    np.testing.assert_allclose(conductivity(steel, temperature), mills, rtol=steel.spread)


# Rows of materials.csv and emissivity.csv (from memory, as their status column says): the printed ranges.
CONDUCTIVITY_RANGES = {
    "copper": (401, 401),
    "aluminium": (237, 237),
    "silver": (429, 429),
    "aluminium_alloy": (160, 193),  # CIBSE Guide A, duraluminium (read in a copy); sheet alloys from memory
    "titanium": (16.0, 16.4),  # data sheets of grade 1 and grade 2 (read)
    "borosilicate_glass": (1.0, 1.4),
    "soda_lime_glass": (1.0, 1.4),
    "polypropylene": (0.12, 0.22),
    "copolyester": (0.19, 0.21),
    "silicone_rubber": (0.17, 0.35),
    "polyurethane_foam": (0.022, 0.030),
    "expanded_polystyrene": (0.033, 0.040),
    "cork": (0.039, 0.045),
    "bamboo": (0.10, 0.20),
    "stoneware": (1.0, 1.7),
}


@pytest.mark.parametrize("name", CONDUCTIVITY_RANGES)
def test_conductivities_lie_in_the_published_ranges(name):
    low, high = CONDUCTIVITY_RANGES[name]
    assert low <= material(name).conductivity_300K <= high


def test_no_material_is_left_unchecked():
    assert set(materials()) == {"stainless_304", "stainless_316", *CONDUCTIVITY_RANGES}


def published_emissivities():
    """Name in the reference table to its printed range."""
    with (PUBLISHED / "emissivity.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            low, _, high = row["emissivity"].split(" ")[0].partition("-")
            yield row["surface"], float(low), float(high or low)


OURS = {
    "stainless polished": "stainless_polished",
    "stainless electropolished": "stainless_electropolished",
    "stainless as rolled / lightly oxidised": "stainless_as_rolled",
    "copper foil, clean": "copper_foil",
    "copper oxidised": "copper_oxidised",
    "aluminium foil bright": "aluminium_foil",
    "silver film on glass": "silver_film",
    "glass": "glass",
    "water": "water",
    "paint/powder coat": "paint",
    "plastic": "plastic",
}


@pytest.mark.parametrize(("name", "low", "high"), list(published_emissivities()))
def test_emissivities_lie_in_the_published_ranges(name, low, high):
    ours = surface(OURS[name])
    assert low <= ours.emissivity <= high
    assert ours.low <= low
    assert ours.high >= high


@pytest.mark.parametrize("solid", materials().values(), ids=lambda solid: solid.name)
def test_every_material_is_complete(solid):
    assert solid.source
    assert 0.0 < solid.spread < 0.5
    assert solid.density > 10.0
    assert 200.0 < solid.heat_capacity < 2500.0
    assert conductivity(solid, COLDEST) > 0.0


@pytest.mark.parametrize("entry", surfaces().values(), ids=lambda entry: entry.name)
def test_every_surface_is_complete(entry):
    assert entry.source
    assert 0.0 < entry.low <= entry.emissivity <= entry.high <= 1.0


def test_conductivity_is_linear_within_its_range_and_held_outside():
    steel = material("stainless_304")
    slope = (conductivity(steel, 360.0) - conductivity(steel, 310.0)) / 50.0
    assert slope == pytest.approx(steel.conductivity_slope)
    assert conductivity(steel, 100.0) == conductivity(steel, COLDEST)
    assert conductivity(steel, 900.0) == conductivity(steel, HOTTEST)
    batch = np.array([250.0, 300.0, 350.0, 400.0])
    np.testing.assert_array_equal(conductivity(steel, batch), [conductivity(steel, float(t)) for t in batch])


@pytest.mark.parametrize(
    ("look_up", "name", "message"),
    [
        (material, "stainless304", "'stainless304' is not a known material; did you mean 'stainless_304'? allowed: "),
        (surface, "copper", "is not a known surface; did you mean 'copper_foil'? allowed: stainless_polished, "),
        (material, "xyz", "'xyz' is not a known material; allowed: "),
    ],
)
def test_an_unknown_name_is_answered_with_the_nearest(look_up, name, message):
    with pytest.raises(ValueError, match="is not a known") as caught:
        look_up(name)
    assert message in str(caught.value)


def test_an_emissivity_given_replaces_the_tables():
    assert surface_emissivity("paint") == 0.9
    assert surface_emissivity("paint", 0.5) == 0.5
