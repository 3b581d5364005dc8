"""The fit of a bench whose truth is known."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

from geometries.errors import InputError
from tests.thermal_model.bench.calibration.invented import START_AND_END, Invented, Plan, bench_of, invent
from thermal_model.bench.calibration.coordinates import RATE_LEVEL, Owner
from thermal_model.bench.calibration.fit import Fit, fit
from thermal_model.bench.calibration.response import COLDEST_ROOM, WARMEST_ROOM
from thermal_model.bench.records import Bench


def emissivity(found: Fit, container: str = "wide_mouth_disc") -> int:
    return found.coordinates.place(Owner.CONTAINER, container, "gap_emissivity")


def with_outlier(bench: Bench, kelvins: float) -> Bench:
    run = bench.runs[0]
    spoiled = replace(run.readings[6], temperature=run.readings[6].temperature + kelvins)
    return replace(
        bench, runs=(replace(run, readings=(*run.readings[:6], spoiled, *run.readings[7:])), *bench.runs[1:])
    )


def test_truth_lies_where_the_posterior_says(mixed: Invented, mixed_fit: Fit) -> None:
    """Squared distance in the metric of the posterior has a chi-square distribution; 0.1 % on either side."""
    assert mixed_fit.converged
    off = mixed.truth - mixed_fit.centre
    distance = off @ np.linalg.solve(mixed_fit.spread, off)
    assert chi2.ppf(0.001, len(off)) < distance < chi2.ppf(0.999, len(off))


def test_the_data_move_and_narrow_what_they_speak_of(mixed_fit: Fit) -> None:
    assert mixed_fit.standard_deviation(emissivity(mixed_fit)) < 0.6
    idle = mixed_fit.coordinates.place(Owner.CONTAINER, "wide_mouth_disc", "annulus_exchange")
    assert mixed_fit.x[idle] == 0.0
    assert mixed_fit.standard_deviation(idle) == pytest.approx(1.0)


def test_the_optimum_is_an_optimum(mixed_fit: Fit) -> None:
    """No step along a coordinate lowers the loss of the exact model."""
    from thermal_model.bench.calibration.fit import _loss

    def exact(x: np.ndarray) -> float:
        return _loss(replace(mixed_fit.problem.predicted(x), widths=mixed_fit.linearised.widths), x)

    least = exact(mixed_fit.x)
    for place in (0, 2, emissivity(mixed_fit), mixed_fit.coordinates.places_of(Owner.RUN, "run_1")[1]):
        for step in (-0.2, 0.2):
            moved = mixed_fit.x.copy()
            moved[place] += step
            assert exact(moved) > least - 1e-3


def test_a_mistyped_reading_hardly_moves_the_fit(mixed: Invented, mixed_fit: Fit) -> None:
    found = fit(with_outlier(mixed.bench, 30.0))
    place = emissivity(found)
    assert abs(found.x[place] - mixed_fit.x[place]) < 0.3 * mixed_fit.standard_deviation(place)
    assert found.weights[6] < 0.05 * np.median(found.weights)


def test_many_readings_of_one_log_do_not_make_it_certain() -> None:
    """What the model leaves out stays: 40 times the readings narrow a run's rate to no less than its share.

    Of a run that went well; that it may not have widens both.
    """
    few, many = (fit(invent(bench_of([Plan("thin_disc_lid", hours=3.0, readings=n)]), seed=2).bench) for n in (5, 200))
    places = [found.coordinates.place(Owner.RUN, "run_1", RATE_LEVEL) for found in (few, many)]
    rates = [float(np.sqrt(found.covariance[k, k])) for found, k in zip((few, many), places, strict=True)]
    assert rates[1] > 0.6
    assert rates[1] < rates[0] + 0.05


def test_one_start_and_one_end_give_a_wide_interval() -> None:
    logged, glimpsed = (
        fit(invent(bench_of([Plan("wide_mouth_disc", kind, hours=4.0)]), seed=5).bench)
        for kind in ("log", START_AND_END)
    )
    widths = [found.standard_deviation(emissivity(found)) for found in (logged, glimpsed)]
    assert widths[0] < widths[1] < 1.0


def test_an_unmeasured_room_is_no_free_parameter() -> None:
    """Readings that only a room of 40 C would explain do not put the room there."""
    plan = Plan("thin_disc_lid", hours=3.0, room_spread=float("inf"), room="40 C")
    plain = bench_of([plan])
    warm = replace(plain, runs=tuple(replace(run, room_spread=0.5) for run in plain.runs))
    made = invent(warm, seed=1, truth=np.zeros(fit_size(warm))).bench
    found = fit(replace(made, runs=tuple(replace(run, room_spread=float("inf")) for run in made.runs)))
    from scipy.special import ndtr

    place = found.coordinates.place(Owner.RUN, "run_1", "room")
    room = COLDEST_ROOM + (WARMEST_ROOM - COLDEST_ROOM) * ndtr(found.x[place])
    assert room < 303.15
    assert found.standard_deviation(place) > 0.3


def fit_size(bench: Bench) -> int:
    from thermal_model.bench.calibration.coordinates import Coordinates

    return Coordinates.of_bench(bench).count


def test_a_bench_without_readings_is_refused() -> None:
    bench = bench_of([Plan("stoneware_cup")])
    empty = replace(bench, runs=tuple(replace(run, readings=()) for run in bench.runs))
    with pytest.raises(InputError, match="no run has a reading or a passed mark"):
        fit(empty)
