"""A design comes out the same to the bit, whatever stands beside it in a table; what can't be is told, not computed."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometries.container import Container
from geometries.design_file import catalogue_names, load_container
from geometries.numeric import Array
from geometries.overrides import with_overrides
from geometries.validation import validated
from thermal_model.batch import AS_GIVEN, UNKNOWNS, BatchResult, Table, evaluate
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Outcome
from thermal_model.solver.stepping import PlainStepper, Tolerance
from thermal_model.study.ranges import NumberField, number_fields
from thermal_model.unknowns import UNKNOWN_NAMES

COARSE = Tolerance(contents=1e-2, others=2.0)
"""Quick; what is the same to the bit is so at any tolerance."""

HORIZON = 1800.0

PLUG = load_container("single_seal_plug")
DESIGNS: list[Container] = [
    *map(load_container, catalogue_names()),
    with_overrides(load_container("single_wall_steel"), {"lid.skirt_length": "6 mm"}),
    with_overrides(PLUG, {"lid.seals.1": {"depth": "12 mm"}}),
]

SCENARIOS: list[dict[str, Any]] = [
    {"start": "90 C", "room": "20 C"},
    {"start": "4 C", "room": "25 C", "wind": "1 m/s", "sunlight": "300 W/m2", "ice": "20 g"},
    {"start": "85 C", "openings": [{"at": "4 min", "duration": "20 s", "pour": "30 mL", "every": "8 min"}]},
    {
        "start": "80 C",
        "preheat": {"duration": "5 min", "temperature": "95 C"},
        "room_profile": {"times": ["0 s", "10 min"], "temperatures": ["20 C", "15 C"], "in_steps": True},
        "openings": [{"at": "0 s"}, {"at": "10 min", "pour": "60 mL"}],
    },
    {"start": "88 C", "orientation": "inverted", "walls": "preheated", "stands_on": "nothing"},
    {
        "contents": "milk",
        "start": "70 C",
        "pins": {"contents_heat_capacity": "3900 J/kg/K", "exterior_film": "9 W/m2/K"},
    },
]

KINDS: dict[str, list[object]] = {
    "body.gap.shields": [0, 1, 2],
    "body.wall.material": ["stainless_304", "aluminium"],
    "body.handle": ["none"],
    "lid": ["none"],
    "lid.plug": ["none"],
    "lid.seals": [[]],
    "lid.plug.kind": ["hollow", "solid", "open", "foam"],
    "scenario.orientation": ["upright", "inverted"],
    "scenario.contents": ["water", "milk", "vegetable_oil"],
    "scenario.openings": [[], [{"at": "3 min", "pour": "25 mL"}]],
    "scenario.stands_on": ["nothing", "steel"],
    "scenario.walls": ["room", "preheated"],
}


def scenario(document: dict[str, Any]) -> Scenario:
    return validated(Scenario, document)


def column(field: NumberField | None, rows: int, draw: Any) -> Array:
    """Values about what a field holds now, with zero, the value itself, and nothing among them."""
    now = 1.0 if field is None else field.value
    centre = now or (0.0 if now == 0.0 else 1.0)
    some = [0.0, centre, 0.5 * centre, 0.97 * centre, 1.02 * centre, 1.5 * centre + 1e-3, np.nan]
    return np.array(draw(st.lists(st.sampled_from(some), min_size=rows, max_size=rows)))


@st.composite
def tables(draw: Any) -> tuple[Container, Scenario, Table]:
    container, run = draw(st.sampled_from(DESIGNS)), scenario(draw(st.sampled_from(SCENARIOS)))
    rows = draw(st.integers(2, 4))
    fields = number_fields(container, run)
    paths = draw(st.lists(st.sampled_from([*fields, *(UNKNOWNS + n for n in UNKNOWN_NAMES)]), min_size=1, max_size=4))
    numbers = {path: column(fields.get(path), rows, draw) for path in dict.fromkeys(paths)}
    kinds = draw(st.lists(st.sampled_from(sorted(KINDS)), max_size=2, unique=True))
    chosen = {k: draw(st.lists(st.sampled_from([AS_GIVEN, *KINDS[k]]), min_size=rows, max_size=rows)) for k in kinds}
    return container, run, Table(numbers, chosen, rows)


def some_rows(table: Table, rows: list[int]) -> Table:
    numbers = {path: values[rows] for path, values in table.numbers.items()}
    return Table(numbers, {path: [kinds[r] for r in rows] for path, kinds in table.kinds.items()}, len(rows))


def evaluated(container: Container, run: Scenario, table: Table, **options: Any) -> BatchResult:
    limits = [float(run.start) + towards for towards in (0.0, *((-1.0, -6.0) if run.start > 300.0 else (1.0, 6.0)))]
    options = {"tolerance": COARSE, "horizon": HORIZON, "stepper": PlainStepper} | options
    return evaluate(container, run, table, limits, **options)


def assert_same(whole: BatchResult, rows: list[int], part: BatchResult) -> None:
    np.testing.assert_array_equal(whole.hold_times[:, rows], part.hold_times)
    np.testing.assert_array_equal(whole.outcome[rows], part.outcome)
    assert [wrong_field(whole, row) for row in rows] == [wrong_field(part, k) for k in range(len(rows))]


def wrong_field(result: BatchResult, row: int) -> str:
    problem = result.problem_of(row)
    return "" if problem is None else problem.field


@settings(max_examples=25, deadline=None, derandomize=True)
@given(tables())
def test_a_row_alone_is_a_row_among_others_to_the_bit(given_table: tuple[Container, Scenario, Table]) -> None:
    container, run, table = given_table
    whole = evaluated(container, run, table)
    for row in range(table.count):
        assert_same(whole, [row], evaluated(container, run, some_rows(table, [row])))
    backwards = list(range(table.count))[::-1]
    assert_same(whole, backwards, evaluated(container, run, some_rows(table, backwards)))


@pytest.mark.parametrize("number", [0.0, 1.01])
@pytest.mark.parametrize("design", [PLUG, DESIGNS[-2], load_container("handled_tumbler_straw")], ids=lambda c: c.name)
def test_each_number_in_turn(design: Container, number: float) -> None:
    """Every number at zero, and a little off, given or not: alone, and beside all others."""
    run = scenario(SCENARIOS[2])
    fields = number_fields(design, run)
    rows = 1 + len(fields)
    numbers = {path: np.full(rows, np.nan) for path in fields}
    for row, (path, field) in enumerate(fields.items(), start=1):
        numbers[path][row] = number * (field.value or 1e-3)
    table = Table(numbers, {}, rows)
    whole = evaluated(design, run, table, horizon=400.0)
    assert (whole.outcome <= Outcome.NOT_REACHED).sum() > rows // 4
    for row in range(rows):
        assert_same(whole, [row], evaluated(design, run, some_rows(table, [row]), horizon=400.0))
