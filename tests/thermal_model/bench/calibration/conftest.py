"""One bench of every kind of evidence, invented and fitted once."""

import pytest

from tests.thermal_model.bench.calibration.invented import GUESS, START_AND_END, VIDEO, Invented, Plan, bench_of, invent
from thermal_model.bench.calibration.fit import Fit, fit

MIXED = [
    Plan("wide_mouth_disc", hours=4.0),
    Plan("wide_mouth_disc", VIDEO, "dial", hours=4.0),
    Plan("thin_disc_lid", hours=4.0, probe="dial"),
    Plan("thin_disc_lid", START_AND_END, hours=3.0),
    Plan("thin_disc_lid", GUESS, "dial", hours=3.0),
]


@pytest.fixture(scope="session")
def mixed() -> Invented:
    """Of these the truth is that nothing went wrong in any run."""
    return invent(bench_of(MIXED), seed=5)


@pytest.fixture(scope="session")
def mixed_fit(mixed: Invented) -> Fit:
    return fit(mixed.bench)
