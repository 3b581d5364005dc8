"""A few designs, every number from end to end; the benchmark of the same name tries hundreds."""

import pytest

from geometries.design_file import load_container
from geometries.overrides import with_values
from tests.benchmarks.field_sweeps import NO_EFFECT, Finding, Sweeper, direction, survey
from thermal_model.solver.steppers import compiled_stepper
from thermal_model.study.ranges import number_fields


@pytest.fixture(scope="module")
def found() -> dict[str, Finding]:
    return survey(2, 11, ("hot",))


def test_no_number_makes_a_jump_fails_or_goes_the_wrong_way(found: dict[str, Finding]) -> None:
    assert len(found) > 25
    assert {path: finding.failed for path, finding in found.items() if finding.failed} == {}
    assert {path: finding.jumps for path, finding in found.items() if finding.jumps} == {}
    assert {path: finding.wrong for path, finding in found.items() if finding.wrong} == {}


def test_every_number_has_an_effect(found: dict[str, Finding]) -> None:
    assert {path for path, finding in found.items() if finding.moved < NO_EFFECT} == set()


def test_liquid_that_rises_past_a_bend_beside_a_wide_gap_makes_no_jump() -> None:
    """1.1 % once: the outer shell is longer round the bend, and one cell after another got all that it is longer."""
    values = {
        "body.outside_diameter": 0.10134781,
        "body.outside_height": 0.2576493,
        "body.neck.mouth_diameter": 0.05055614,
        "body.neck.length": 0.02670958,
        "body.neck.shoulder_height": 0.0047283,
        "body.gap.width": 0.00454568,
        "body.gap.base_width": 0.00373841,
    }
    sweeper = Sweeper(with_values(load_container("wide_mouth_disc"), values), "hot", compiled_stepper())
    width = number_fields(sweeper.container, sweeper.scenario)["body.gap.width"]
    finding = Finding()
    sweeper.sweep(width, (9.09136e-05, 0.01818272), finding, "wide_mouth_disc")
    assert finding.moved > 0.03
    assert finding.jumps == []


def test_directions_are_read_beside_the_field() -> None:
    container = load_container("slim_neck_double_seal")
    assert direction("body.neck.mouth_diameter", container, "hot") == -1
    assert direction("scenario.room", container, "hot") == 1
    assert direction("scenario.room", container, "cold") == -1
    assert direction("body.neck.length", container, "hot") == 0
