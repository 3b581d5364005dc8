"""Samples: seeded, stratified, the nominal case first; and what follows from them."""

import numpy as np
import pytest
from scipy.stats import norm

from geometries.checks import dimension_problems
from geometries.container import closed_capacity
from geometries.design_file import load_container
from tests.thermal_model.runs import scenario
from thermal_model.prediction import _hold_time, drawn_runs, predict
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import PRIORS, Belief, Prior, Sample, Scope, Spread, contributions, draw_sample
from thermal_model.unknowns import UNKNOWN_NAMES

BOTTLE = load_container("slim_neck_double_seal")
CASE = scenario(start="90 C", fill="350 mL")


def sample(draws: int = 200, seed: int = 3) -> Sample:
    return draw_sample(BOTTLE, CASE, draws, seed)


def test_seed_decides() -> None:
    first, again, other = sample(), sample(), sample(seed=4)
    for name in PRIORS:
        np.testing.assert_array_equal(first.standard_normals[name], again.standard_normals[name])
        assert not np.array_equal(first.standard_normals[name], other.standard_normals[name])


def test_zero_is_a_seed() -> None:
    np.testing.assert_array_equal(sample(seed=0).unknowns.lid_leak, sample(seed=0).unknowns.lid_leak)
    assert not np.array_equal(sample(seed=0).unknowns.lid_leak, sample(seed=1).unknowns.lid_leak)


def test_one_draw_in_each_of_as_many_equally_likely_slices() -> None:
    # The definition of a Latin hypercube, exact.
    drawn = sample(200)
    for name in PRIORS:
        slices = np.floor(norm.cdf(drawn.standard_normals[name][1:]) * 200.0).astype(int)
        assert sorted(slices.tolist()) == list(range(200)), name


def test_unknowns_are_drawn_independently() -> None:
    normals = np.stack([sample(400).standard_normals[name][1:] for name in PRIORS])
    correlation = np.corrcoef(normals) - np.eye(len(PRIORS))
    assert np.abs(correlation).max() < 5.0 / np.sqrt(400.0)


def test_the_first_lane_is_the_nominal_one() -> None:
    drawn = sample()
    for name in UNKNOWN_NAMES:
        assert getattr(drawn.unknowns, name)[0] == 1.0
    assert BOTTLE.body.neck is not None
    assert drawn.container.body.neck is not None
    assert np.asarray(drawn.scenario.start)[0] == CASE.start
    assert np.asarray(drawn.scenario.fill)[0] == pytest.approx(CASE.fill, rel=1e-15)
    assert np.asarray(drawn.container.body.neck.mouth_diameter)[0] == BOTTLE.body.neck.mouth_diameter
    assert drawn.count == 201


def test_no_draws_are_the_nominal_case_alone() -> None:
    drawn = sample(0)
    assert drawn.count == 1
    assert all(np.array_equal(normals, [0.0]) for normals in drawn.standard_normals.values())


def test_every_unknown_has_a_prior_and_every_prior_its_reason() -> None:
    assert set(UNKNOWN_NAMES) <= set(PRIORS)
    assert all(prior.source and prior.label and prior.width > 0.0 for prior in PRIORS.values())


def test_factors_are_lognormal_and_shifts_normal() -> None:
    # Of a lognormal factor the quantile at one standard deviation is exp(width), exact.
    factor = Prior("", 0.3, "-", "")
    shift = Prior("", 0.5, "-", "", spread=Spread.SHIFT)
    np.testing.assert_allclose(factor.values(np.array([0.0, 1.0, -1.0])), [1.0, np.exp(0.3), np.exp(-0.3)])
    np.testing.assert_allclose(shift.values(np.array([0.0, 1.0, -2.0])), [0.0, 0.5, -1.0])


def test_draws_have_the_width_of_their_prior() -> None:
    drawn = sample(400)
    for name in UNKNOWN_NAMES:
        spread = np.std(np.log(getattr(drawn.unknowns, name)[1:]))
        assert spread == pytest.approx(PRIORS[name].width, rel=0.02)


def test_a_fill_never_exceeds_the_container() -> None:
    full = draw_sample(BOTTLE, scenario(start="90 C", fill=f"{closed_capacity(BOTTLE) * 1e6} mL"), 200, 1)
    assert full.scenario.fill is not None
    assert np.all(full.scenario.fill <= closed_capacity(full.container) * (1.0 + 1e-12))


# --- contributions -----------------------------------------------------------------------------------------------


def test_contributions_add_to_one_and_come_in_order() -> None:
    drawn = sample(300)
    result = np.exp(
        0.3 * drawn.standard_normals["gap_pressure"]
        + 0.1 * drawn.standard_normals["room"]
        - 0.05 * drawn.standard_normals["lid_contact"]
    )
    found = contributions(drawn, result)
    shares = {c.name: c.share for c in found}
    assert sum(shares.values()) == pytest.approx(1.0, rel=1e-12)
    assert [c.name for c in found[:3]] == ["gap_pressure", "room", "lid_contact"]
    # Exact for a loglinear result: squares of the slopes over their sum.
    for name, slope in (("gap_pressure", 0.3), ("room", 0.1), ("lid_contact", 0.05)):
        assert shares[name] == pytest.approx(slope**2 / (0.3**2 + 0.1**2 + 0.05**2), rel=1e-9)


def test_contributions_leave_out_what_was_not_reached() -> None:
    drawn = sample(300)
    result = np.exp(0.2 * drawn.standard_normals["base_film"])
    result[5:40] = np.nan
    assert contributions(drawn, result)[0].share == pytest.approx(1.0)


def test_too_few_draws_say_nothing_of_contributions() -> None:
    assert contributions(sample(10), np.ones(11)) == []
    assert contributions(sample(300), np.ones(301)) == []


# --- quantiles ---------------------------------------------------------------------------------------------------


def test_the_interval_covers_nine_in_ten() -> None:
    """A new draw from the same lognormal falls within 5 and 95 % of a sample of 200: 90 %, within its own scatter."""
    generator = np.random.default_rng(2)
    covered = []
    for _ in range(300):
        times = np.exp(0.3 * generator.normal(size=201))
        hold = _hold_time(333.15, times)
        covered.append(hold.low <= np.exp(0.3 * generator.normal()) <= hold.high)
    # Standard error of a share of 0.9 in 300: 1.7 %.
    assert np.mean(covered) == pytest.approx(0.90, abs=0.05)


def test_a_draw_that_never_gets_there_holds_longest() -> None:
    times = np.concatenate([[10.0], np.arange(1.0, 101.0)])
    full = _hold_time(333.15, times)
    assert (full.low, full.median, full.high) == (6.0, 51.0, 96.0)
    times[-30:] = np.nan
    part = _hold_time(333.15, times)
    assert (part.low, part.median, part.high) == (6.0, 51.0, None)
    assert part.share_reached == pytest.approx(0.7)


def test_belief_moves_and_narrows_what_it_names() -> None:
    """Closed form: draws of a normal distribution have its mean and covariance."""
    belief = Belief(("exterior_film", "gap_emissivity"), np.array([0.5, -1.0]), np.array([[0.3, 0.0], [-0.2, 0.1]]))
    sample = draw_sample(BOTTLE, CASE, 4000, 1, belief=belief)
    drawn = np.stack([sample.standard_normals[name] for name in belief.names])
    assert drawn[:, 0] == pytest.approx(belief.mean)
    assert drawn[:, 1:].mean(axis=1) == pytest.approx(belief.mean, abs=0.02)
    assert np.cov(drawn[:, 1:]) == pytest.approx(belief.root @ belief.root.T, abs=0.01)
    free = draw_sample(BOTTLE, CASE, 4000, 1)
    assert np.array_equal(sample.standard_normals["lid_contact"], free.standard_normals["lid_contact"])


def test_containers_share_what_is_common_and_draw_their_own_apart() -> None:
    first, second = (draw_sample(BOTTLE, CASE, 50, 1, own=own) for own in ("a", "b"))
    for name, prior in PRIORS.items():
        same = np.array_equal(first.standard_normals[name], second.standard_normals[name])
        assert same == (prior.scope is not Scope.CONTAINER), name


def test_what_the_network_leaves_out_widens_what_is_forecast() -> None:
    """Closed form: quantiles of a log-normal distribution, where nothing else is unknown."""
    names = tuple(PRIORS)
    known = Belief(names, np.zeros(len(names)), 1e-6 * np.eye(len(names)), time_spread=0.05)
    found = predict(BOTTLE, CASE, [333.15], draws=400, seed=1, belief=known).hold_times[0]
    assert found.low is not None
    assert found.high is not None
    assert np.log(found.high / found.low) == pytest.approx(2.0 * 1.6449 * 0.05, rel=0.03)
    alone = predict(BOTTLE, CASE, [333.15], draws=0).hold_times[0].nominal
    assert found.nominal == pytest.approx(alone, rel=1e-6)
    runs = drawn_runs(BOTTLE, CASE, [333.15], draws=400, seed=1, belief=known)
    assert np.quantile(runs.crossing_times[0, 1:], (0.05, 0.95)) == pytest.approx([found.low, found.high], rel=1e-3)


def test_a_dimension_that_was_not_measured_widens_the_interval():
    known = load_container("slim_neck_double_seal")
    unsure = known.model_copy(update={"unsure": (("body.neck.mouth_diameter", "15..65 mm"),)})
    run = Scenario.model_validate({"fill": "400 mL"})
    narrow, wide = (predict(c, run, [333.15], draws=100) for c in (known, unsure))
    assert narrow.hold_times[0].nominal == wide.hold_times[0].nominal
    spreads = [p.hold_times[0].high / p.hold_times[0].low for p in (narrow, wide)]
    assert spreads[1] > 1.2 * spreads[0]
    assert wide.contributions[0].label == "mouth, not measured"
    assert wide.failed_draws == 0


def test_draws_of_unsure_dimensions_all_make_a_container():
    known = load_container("slim_neck_double_seal")  # whose plug of 40 mm ends above the neck's 45 mm
    ranges = (("lid.plug.depth", "37..200 mm"), ("body.neck.length", "20..90 mm"))
    unsure = known.model_copy(update={"unsure": ranges})
    sample = draw_sample(unsure, Scenario(), 300, 1)
    assert dimension_problems(sample.container) == []
    assert np.ptp(sample.container.body.neck.length) > 0.02
    assert sample.container.lid.plug.depth[0] == 0.04
