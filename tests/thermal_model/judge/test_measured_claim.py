"""Claims judged by readings: exact cases of an exponential, bounds that decide or don't, other conditions."""

from dataclasses import replace

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.errors import InputError
from thermal_model.bench.records import Passing, Probe, Reading, Run
from thermal_model.bench.reduce.evidence import unchecked_offsets
from thermal_model.judge.claims import Claim, Verdict
from thermal_model.judge.measured_claim import AskedConditions, judge_claim
from thermal_model.report.check_text import measured_claim_text
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import Scale

HOUR, LIMIT = 3600.0, 333.15
PROBES = {"pen": Probe("pen")}


def run_that_holds(hours, *, until=12.0, **changes):
    """Readings every half hour of an exponential from 90 C in 20 C that passes 60 C after some hours."""
    times = HOUR * np.arange(0.0, until + 0.1, 0.5)
    shown = 293.15 + 70.0 * (40.0 / 70.0) ** (times / (hours * HOUR))
    readings = tuple(
        Reading(float(t), float(v), 10.0, 2 + k) for k, (t, v) in enumerate(zip(times, shown, strict=True))
    )
    scenario = Scenario(start="90 C", room="20 C", fill="500 mL")
    run = Run(
        "r1",
        "slim",
        "pen",
        load_container("slim_neck_double_seal"),
        scenario,
        None,
        0.3,
        0.5,
        0.02,
        readings,
        (),
        "",
        2,
    )
    return replace(run, **changes)


def verdict(run, hours, asked=AskedConditions(), limit=LIMIT, *, is_hot=True):  # noqa: B008
    return judge_claim(Claim(is_hot, hours * HOUR), limit, run, PROBES, unchecked_offsets(PROBES), asked)


@pytest.mark.parametrize(("hours", "expected"), [(7.0, Verdict.PASS), (8.0, Verdict.UNDECIDED), (9.0, Verdict.FAIL)])
def test_a_run_of_eight_hours(hours, expected):
    found = verdict(run_that_holds(8.0), hours)
    assert found.verdict is expected
    assert found.held.time == pytest.approx(8.0 * HOUR, rel=1e-3)
    assert found.departures == ()


def test_at_its_own_hold_time_the_chance_is_even():
    assert verdict(run_that_holds(8.0), 8.0).probability == pytest.approx(0.5, abs=0.02)


def test_a_run_that_ended_early_passes_what_it_saw_and_no_more():
    short = run_that_holds(8.0, until=5.0)
    assert verdict(short, 4.5).verdict is Verdict.PASS
    later = verdict(short, 7.0)
    assert (later.verdict, later.probability) == (Verdict.UNDECIDED, None)


def test_two_looks_bound_it():
    looks = run_that_holds(8.0, readings=(), passings=(Passing(LIMIT, 7.0 * HOUR, 9.0 * HOUR, 2),))
    found = [verdict(looks, hours).verdict for hours in (6.0, 8.0, 10.0)]
    assert found == [Verdict.PASS, Verdict.UNDECIDED, Verdict.FAIL]


@pytest.mark.parametrize(
    ("asked", "fragment", "at_7_h", "at_9_h"),
    [
        # Started colder than asked: a pass stands, a failure doesn't.
        (AskedConditions(start=368.15), "started at 90.0 °C, asked are 95.0 °C", "pass", "undecided"),
        (AskedConditions(start=353.15), "started at 90.0 °C", "undecided", "fail"),
        (AskedConditions(room=298.15), "the room was at 20.0 °C, asked are 25.0 °C", "pass", "undecided"),
        (AskedConditions(room=283.15), "the room was at 20.0 °C", "undecided", "fail"),
        (AskedConditions(fill=400e-6), "filled with 500 mL, asked are 400 mL", "undecided", "fail"),
        (AskedConditions(start=368.15, room=283.15), "started at", "undecided", "undecided"),
    ],
)
def test_other_conditions_leave_it_undecided_unless_they_made_it_harder(asked, fragment, at_7_h, at_9_h):
    found = [verdict(run_that_holds(8.0), hours, asked) for hours in (7.0, 9.0)]
    assert fragment in " ".join(d.words for d in found[0].departures)
    assert [one.verdict.value for one in found] == [at_7_h, at_9_h]


def test_what_nobody_measured_is_no_agreement():
    unknown = run_that_holds(8.0, start_spread=np.inf, room_spread=np.inf)
    found = verdict(unknown, 4.0, AskedConditions(start=363.15, room=293.15))
    assert [d.words for d in found.departures] == ["nobody measured the start", "nobody measured the room"]
    assert found.verdict is Verdict.UNDECIDED


def test_near_conditions_are_the_same():
    near = AskedConditions(start=362.65, room=294.65, fill=490e-6)
    assert verdict(run_that_holds(8.0), 7.0, near).departures == ()


def test_a_run_from_the_wrong_side_is_refused():
    with pytest.raises(InputError, match=r"started at 90\.0 C, which is not below 60 C"):
        verdict(run_that_holds(8.0), 7.0, is_hot=False)


@pytest.mark.parametrize(
    ("run", "said"),
    [
        (run_that_holds(8.0), "it did for 8 h"),
        (run_that_holds(8.0, until=5.0), "it was still above 60 °C after 5 h, and what came later nobody saw"),
        (
            run_that_holds(8.0, readings=(), passings=(Passing(LIMIT, 7.0 * HOUR, 9.0 * HOUR, 2),)),
            "it passed 60 °C between",
        ),
        (run_that_holds(8.0, readings=()), "none tells when 60 °C was passed"),
    ],
    ids=["passed", "ended before", "two looks", "nothing read"],
)
def test_what_readings_say_is_said_in_words(run, said):
    text = " ".join(measured_claim_text(verdict(run, 6.0), Scale.CELSIUS, ("a display that hangs",)).split())
    assert f"The readings: {said}" in text
    assert "Look at this run: a display that hangs." in text
    assert "No model has a part in this verdict." in text
