"""The posterior of a vacuum, against the same integral done by brute force."""

import numpy as np
import pytest

from tests.thermal_model.bench.calibration.invented import Plan, bench_of
from thermal_model.bench.calibration.coordinates import PRESSURE, Coordinates, Owner
from thermal_model.bench.calibration.vacuum import with_vacuum
from thermal_model.uncertainty import PRIORS

COORDINATES = Coordinates.of_bench(bench_of([Plan("wide_mouth_disc")]))
PLACE = COORDINATES.place(Owner.CONTAINER, "wide_mouth_disc", PRESSURE)
OTHER = COORDINATES.place(Owner.CONTAINER, "wide_mouth_disc", "gap_emissivity")


def test_without_readings_nothing_changes() -> None:
    size = COORDINATES.count
    centre, spread = with_vacuum(COORDINATES, np.zeros(size), np.eye(size))
    assert not centre.any()
    assert np.array_equal(spread, np.eye(size))


def test_it_is_the_integral_over_both() -> None:
    """One reading of the sum of radiation and gas, a e + b (exp(w z) - 1) / w, noise 1: mean and deviation of both."""
    by_emissivity, by_pressure, width = 3.0, 1.5, PRIORS[PRESSURE].width
    curvature = np.eye(2) + np.outer([by_emissivity, by_pressure], [by_emissivity, by_pressure])
    covariance = np.eye(COORDINATES.count)
    here = [OTHER, PLACE]
    covariance[np.ix_(here, here)] = np.linalg.inv(curvature)
    centre, spread = with_vacuum(COORDINATES, np.zeros(COORDINATES.count), covariance)

    e, z = np.meshgrid(np.linspace(-8.0, 8.0, 1601), np.linspace(-4.5, 4.5, 901), indexing="ij")
    seen = by_emissivity * e + by_pressure * np.expm1(width * z) / width
    weight = np.exp(-0.5 * (seen**2 + e**2 + z**2))
    weight /= weight.sum()
    for values, place in ((e, OTHER), (z, PLACE)):
        mean = np.sum(weight * values)
        assert centre[place] == pytest.approx(mean, abs=5e-3)
        assert np.sqrt(spread[place, place]) == pytest.approx(np.sqrt(np.sum(weight * (values - mean) ** 2)), rel=5e-3)
    together = np.sum(weight * (e - centre[OTHER]) * (z - centre[PLACE]))
    assert spread[OTHER, PLACE] == pytest.approx(together, abs=5e-3)
    assert centre[OTHER] < -0.05  # a normal distribution about the peak would say 0
