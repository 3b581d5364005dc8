"""A few designs, every number from end to end; the benchmark of the same name tries hundreds."""

import pytest

from geometries.design_file import load_container
from tests.benchmarks.field_sweeps import NO_EFFECT, Finding, direction, survey


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


def test_directions_are_read_beside_the_field() -> None:
    container = load_container("slim_neck_double_seal")
    assert direction("body.neck.mouth_diameter", container, "hot") == -1
    assert direction("scenario.room", container, "hot") == 1
    assert direction("scenario.room", container, "cold") == -1
    assert direction("body.neck.length", container, "hot") == 0
