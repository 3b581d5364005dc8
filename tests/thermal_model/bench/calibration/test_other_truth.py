"""What a calibration says when the truth is another model; `tests.benchmarks.calibration_other_truth` in small."""

import numpy as np

from tests.benchmarks.calibration_other_truth import STUDIES, one_bench

BENCHES = 3


def test_intervals_from_hot_benches_hold_full_cold_and_iced_runs_of_another_model() -> None:
    """Of nine hold times at 90 % fewer than seven are held in one case of nineteen; the truth knows other films."""
    study = "benches hot, at one fill"
    found = [one for number in range(BENCHES) for one in one_bench(number, study).values() if one is not None]
    assert len(found) == BENCHES * len(STUDIES[study][1])
    assert sum(one.is_inside for one in found) >= 7
    assert np.median([one.error for one in found]) < 0.1
