"""Standard tests: the table as seen, the procedure as described, verdicts in the model and from readings.

Source of procedures and table: JIS S 2006 and EN 12546-1:2000, both second-hand (see the data file's provenance).
"""

import csv
from importlib.resources import files

import numpy as np
import pytest

from geometries.container import closed_capacity
from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.overrides import with_overrides
from tests.published.check import read_rows
from tests.published.jis_s2006_cases import after_six_hours, good_vessel
from thermal_model.bench.records import Probe, Reading
from thermal_model.judge.claims import Verdict
from thermal_model.judge.measured_standard import MeasuredRun, evaluate, temperature_after
from thermal_model.judge.standards import (
    JIS_TABLE,
    Procedure,
    Vessel,
    ends_between,
    jis_classes,
    limit_notes,
    minimum_of,
    scenario_of,
    simulate,
)

SLIM = load_container("slim_neck_double_seal")
HOUR = 3600.0
STOPPERED = Vessel.STOPPERED


# --- the table --------------------------------------------------------------------------------------------------


def test_the_table_that_comes_along_is_the_one_the_model_is_checked_against():
    text = files("thermal_model.judge").joinpath(JIS_TABLE).read_text(encoding="utf-8")
    assert list(csv.DictReader(text.splitlines())) == read_rows(JIS_TABLE)


@pytest.mark.parametrize(
    ("litres", "mouth", "least"),
    [(0.25, 0.030, 62), (0.3, 0.0389, 66), (0.3, 0.039, 64), (0.59, 0.05, 68), (0.6, 0.05, 72), (1.49, 0.038, 80)],
)
def test_classes_as_printed(litres, mouth, least):
    found = [row for row in jis_classes() if row.holds(1e-3 * litres, mouth)]
    assert len(found) == 1
    assert found[0].minimum - 273.15 == pytest.approx(least)


@pytest.mark.parametrize(("litres", "mouth"), [(0.25, 0.045), (1.6, 0.030), (0.5, 0.060)])
def test_no_limit_is_invented_where_the_table_has_none(litres, mouth):
    assert not [row for row in jis_classes() if row.holds(1e-3 * litres, mouth)]


def test_a_mouth_near_the_edge_of_its_class_is_said():
    notes = limit_notes(Procedure.JIS_HOT, good_vessel(0.5e-3, 0.0386), STOPPERED)
    assert any("another class" in note and "68 °C" in note for note in notes)
    assert limit_notes(Procedure.JIS_HOT, good_vessel(0.5e-3, 0.034), STOPPERED) == []


@pytest.mark.parametrize("vessel", [Vessel.DIRECT_DRINK, Vessel.TABLETOP, Vessel.OTHER])
def test_no_other_vessel_is_judged_by_the_table_of_the_stoppered(vessel):
    fine = good_vessel(0.5e-3, 0.034)
    assert minimum_of(Procedure.JIS_HOT, fine, STOPPERED) is not None
    assert minimum_of(Procedure.JIS_HOT, fine, vessel) is None
    (note,) = limit_notes(Procedure.JIS_HOT, fine, vessel)
    assert f"No table of limits is known to us for vessels of the class '{vessel}'" in note
    measured = evaluate(Procedure.JIS_HOT, SLIM, run_ending_at(40.0), vessel)
    assert (measured.verdict, measured.probability, measured.minimum) == (Verdict.NO_LIMIT, None, None)
    modelled = simulate(Procedure.JIS_HOT, fine, vessel=vessel, draws=2, seed=1)
    assert (modelled.verdict, modelled.probability, modelled.minimum) == (Verdict.NO_LIMIT, None, None)


def test_the_table_is_for_stoppered_steel_vacuum_ware():
    text = " ".join(limit_notes(Procedure.JIS_HOT, load_container("stoneware_cup"), STOPPERED))
    assert "not of stainless steel, it has no vacuum, it has no stopper" in text


# --- in the model -----------------------------------------------------------------------------------------------


def test_a_good_vessel_passes_and_one_that_lost_its_vacuum_fails():
    vessel = good_vessel(0.5e-3, 0.034)
    good = simulate(Procedure.JIS_HOT, vessel, vessel=STOPPERED, draws=20, seed=1)
    lost = simulate(
        Procedure.JIS_HOT, with_overrides(vessel, {"body.gap.pressure": "100 Pa"}), vessel=STOPPERED, draws=20, seed=1
    )
    assert (good.verdict, lost.verdict) == (Verdict.PASS, Verdict.FAIL)
    assert good.probability >= 0.95
    assert lost.probability == 0.0


def test_best_guess_is_that_of_the_checks_of_the_model():
    """The same run by another way: walls warmed three minutes."""
    vessel = good_vessel(0.5e-3, 0.034)
    ours = simulate(Procedure.JIS_HOT, vessel, vessel=STOPPERED, draws=20, seed=1)
    theirs = float(after_six_hours([(0.5e-3, 0.034)], "warmed")[0])
    assert ours.low < theirs < ours.high
    cold, warm = ends_between(vessel)
    assert cold < theirs < warm


def test_other_procedures_report_a_temperature_and_no_verdict():
    for procedure in (Procedure.JIS_COLD, Procedure.EN_HOT):
        result = simulate(procedure, SLIM, vessel=STOPPERED, draws=20, seed=1)
        assert result.verdict is Verdict.NO_LIMIT
        assert result.probability is result.minimum is None  # type: ignore[comparison-overlap]
        assert minimum_of(procedure, SLIM, STOPPERED) is None
        assert any("none is invented" in note for note in result.notes)


def test_procedures_as_scenarios():
    hot, cold, en = (scenario_of(p) for p in (Procedure.JIS_HOT, Procedure.JIS_COLD, Procedure.EN_HOT))
    assert (hot.start, cold.start, en.start) == pytest.approx((368.15, 277.15, 368.15))
    assert en.preheat.duration == 300.0
    assert cold.preheat is None
    assert cold.ice == 0.0
    assert hot.fill is None


# --- from readings ----------------------------------------------------------------------------------------------


def run_ending_at(celsius, **changes):
    """Readings of an exponential from 95 C that is at a temperature after six hours."""
    rate = np.log((celsius - 20.0) / 75.0) / (6.0 * HOUR)
    times = HOUR * np.array([0.0, 1.0, 3.0, 5.0, 7.0])
    readings = [Reading(t, 293.15 + 75.0 * np.exp(rate * t), 10.0, 2 + k) for k, t in enumerate(times)]
    given = {"name": "r1", "readings": readings, "start": 368.15, "room": 293.15, "probe": Probe("pen")} | changes
    return MeasuredRun(**given)


def test_between_readings_the_excess_falls_exponentially():
    temperature, spread = temperature_after(run_ending_at(70.0), 6.0 * HOUR)
    assert temperature - 273.15 == pytest.approx(70.0, abs=1e-9)
    # Probe 0.5 K, noise 0.1 K, display 0.1 K / sqrt(12), 10 s of cooling at 1.6 mK/s.
    assert spread == pytest.approx(np.sqrt(0.5**2 + 0.1**2 + 0.1**2 / 12.0 + 0.0187**2), rel=1e-3)


@pytest.mark.parametrize(
    ("celsius", "verdict"), [(74.0, Verdict.PASS), (72.2, Verdict.UNDECIDED), (70.0, Verdict.FAIL)]
)
def test_verdict_from_readings(celsius, verdict):
    result = evaluate(Procedure.JIS_HOT, SLIM, run_ending_at(celsius), STOPPERED)
    assert result.minimum.minimum - 273.15 == pytest.approx(72.0)
    assert result.verdict is verdict
    assert result.departures == ()


@pytest.mark.parametrize(
    ("changes", "fragment"),
    [
        ({"start": 365.15}, "started at 92.0"),
        ({"start": None}, "nobody measured the start"),
        ({"room": 296.15}, "the room was at 23.0"),
        ({"room": None}, "nobody measured the room"),
        ({"fill": 4e-4}, "filled with 400 mL"),
    ],
)
def test_what_was_not_the_procedure_stays_undecided(changes, fragment):
    result = evaluate(Procedure.JIS_HOT, SLIM, run_ending_at(80.0, **changes), STOPPERED)
    assert result.verdict is Verdict.UNDECIDED
    assert fragment in " ".join(result.departures)


def test_a_full_container_is_the_procedure():
    assert (
        evaluate(Procedure.JIS_HOT, SLIM, run_ending_at(80.0, fill=float(closed_capacity(SLIM))), STOPPERED).departures
        == ()
    )


def test_a_coarse_display_leaves_more_undecided():
    coarse = evaluate(Procedure.JIS_HOT, SLIM, run_ending_at(73.0, probe=Probe("kitchen", 1.0, 1.0, 0.5)), STOPPERED)
    fine = evaluate(Procedure.JIS_HOT, SLIM, run_ending_at(73.0, probe=Probe("lab", 0.01, 0.1, 0.02)), STOPPERED)
    assert (coarse.verdict, fine.verdict) == (Verdict.UNDECIDED, Verdict.PASS)


def test_readings_that_end_too_early_are_refused():
    short = run_ending_at(70.0)
    with pytest.raises(InputError, match=r"about 6 h after the start; they go from 0\.00 to 5\.00 h"):
        evaluate(Procedure.JIS_HOT, SLIM, run_ending_at(70.0, readings=short.readings[:-1]), STOPPERED)


def test_a_single_reading_at_the_time_is_enough():
    run = run_ending_at(60.0, readings=[Reading(6.0 * HOUR, 347.15, 10.0, 2)])
    result = evaluate(Procedure.JIS_HOT, SLIM, run, STOPPERED)
    assert result.median == 347.15
