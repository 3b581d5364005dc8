"""The run that teaches most: algebra against closed forms, slopes against the engine, advice against exact Bayes."""

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.validation import validated
from tests.benchmarks.planning import next_cases
from thermal_model.bench.records import Probe
from thermal_model.gradients import LASTING, PASSING, UNKNOWN_STEP, log_hold_time, temperature_response
from thermal_model.plan.next_run import Candidate, advise, updated_covariance, usual_candidates
from thermal_model.prediction import predict
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import PRIORS, Belief

CUP = load_container("stoneware_cup")
HOT = validated(Scenario, {"fill": "200 mL", "start": "90 C"})
HOUR = 3600.0


# --- algebra ----------------------------------------------------------------------------------------------------


def test_update_of_independent_readings_adds_precisions():
    """n readings of one normal unknown: 1 / (1/p + n/s2), the textbook formula."""
    after = updated_covariance(np.array([[4.0]]), np.ones((5, 1)), 2.0 * np.eye(5))
    assert after.item() == pytest.approx(1.0 / (1.0 / 4.0 + 5.0 / 2.0), rel=1e-12)


def test_update_is_that_of_the_joint_normal():
    """Against the inverse of the joint precision, another route to the same matrix."""
    generator = np.random.default_rng(0)
    root, slopes = generator.standard_normal((4, 4)), generator.standard_normal((6, 4))
    covariance, noise = root @ root.T + np.eye(4), np.diag(generator.uniform(0.5, 2.0, 6))
    direct = np.linalg.inv(np.linalg.inv(covariance) + slopes.T @ np.linalg.inv(noise) @ slopes)
    assert updated_covariance(covariance, slopes, noise) == pytest.approx(direct, rel=1e-9)


def test_a_reading_that_answers_to_nothing_teaches_nothing():
    assert updated_covariance(np.eye(3), np.zeros((2, 3)), np.eye(2)) == pytest.approx(np.eye(3))


# --- slopes -----------------------------------------------------------------------------------------------------


def test_slopes_are_differences_of_predictions():
    """The room warmer by the step: two predictions of their own."""
    hold, lasting, passing = log_hold_time(CUP, HOT, 323.15)
    assert hold == pytest.approx(predict(CUP, HOT, [323.15], draws=0).hold_times[0].nominal, rel=1e-6)
    width = UNKNOWN_STEP * PRIORS["room"].width
    up, down = (
        predict(CUP, HOT.model_copy(update={"room": 293.15 + d}), [323.15], draws=0).hold_times[0].nominal
        for d in (width, -width)
    )
    assert passing[PASSING.index("room")] == pytest.approx(np.log(up / down) / (2.0 * UNKNOWN_STEP), rel=1e-4)
    assert lasting[LASTING.index("exterior_film")] < 0.0
    assert lasting[LASTING.index("gap_pressure")] == 0.0


def test_response_begins_at_the_start_and_falls():
    response = temperature_response(CUP, HOT, np.array([60.0, 600.0, HOUR]))
    assert np.all(np.diff(response.temperatures) < 0.0)
    assert response.temperatures[0] < 363.15
    assert response.lasting.shape == (3, len(LASTING))
    assert response.excess == pytest.approx(response.temperatures - 293.15)


# --- advice -----------------------------------------------------------------------------------------------------


def advice(**changes):
    given = {"length": 2.0 * HOUR, "probe": Probe("pen")} | changes
    return advise(CUP, HOT, 323.15, usual_candidates(CUP, HOT), **given)


def test_lessons_come_in_order_and_none_widens():
    found = advice()
    spreads = [lesson.spread for lesson in found.lessons]
    assert spreads == sorted(spreads)
    assert all(found.passing_spread <= spread < found.spread for spread in spreads)
    assert all(lesson.information > 0.0 for lesson in found.lessons)
    assert len({lesson.candidate.name for lesson in found.lessons}) == len(spreads)


def test_a_bad_thermometer_teaches_less():
    good, bad = advice(), advice(probe=Probe("kitchen", resolution=2.0, offset_spread=3.0, noise=1.0))
    assert bad.lessons[0].spread > good.lessons[0].spread


def test_what_is_known_already_teaches_little():
    """After a belief that leaves a hundredth of every lasting prior, no run gains more than it would have."""
    known = Belief(LASTING, np.zeros(len(LASTING)), 0.1 * np.eye(len(LASTING)))
    before, after = advice(), advice(belief=known)
    assert after.spread < before.spread
    assert after.lessons[0].information < before.lessons[0].information


def test_a_belief_moves_the_best_guess():
    films = Belief(("exterior_film",), np.array([1.0]), np.array([[0.5]]))
    assert advice(belief=films).hold_time < advice().hold_time


def test_a_target_out_of_reach_is_refused():
    with pytest.raises(InputError, match="not reached within 7 days"):
        advise(load_container("single_wall_steel"), HOT, 293.2, [Candidate("hot", HOT)], length=HOUR)


def test_the_advised_run_is_as_good_as_the_average_other_in_invented_benches():
    """Exact Bayes on an emulator, small: the benchmark `tests.benchmarks.planning` has a hundred benches."""
    cases = list(next_cases(("single_wall_steel",), draws=200, truths=10, samples=40_000))
    assert len(cases) == 10
    assert sum(case.is_as_good for case in cases) >= 9
    assert min(case.sample for case in cases) > 50.0
