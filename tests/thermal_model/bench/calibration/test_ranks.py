"""A few of the benches of `tests.benchmarks.calibration_sbc`, which runs 200: do intervals hold the invented truth?"""

import numpy as np

from tests.benchmarks.calibration_sbc import inside, ranked


def test_intervals_hold_the_truth_of_invented_benches() -> None:
    """Talts et al. 2018. Nine in ten are claimed; fewer than three in four of 48 is one chance in 1500."""
    shares = ranked(6, seed=5).shares
    known = shares[np.isfinite(shares)]
    assert len(known) >= 40
    assert inside(known) >= 0.75
    assert np.ptp(known) > 0.5
