"""A design comes out the same to the bit, whatever stands beside it in a table; what can't be is told, not computed."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometries.container import Container, closed_capacity
from geometries.design_file import catalogue_names, load_container
from geometries.errors import InputError
from geometries.numeric import Array
from geometries.overrides import with_overrides
from geometries.quantities import Dimension, exact_text
from geometries.ranges import NumberField, numbers_of
from geometries.validation import validated
from thermal_model.assemble import timeline
from thermal_model.batch import AS_GIVEN, SCENARIO, UNKNOWNS, BatchResult, Table, evaluate
from thermal_model.follow import follow
from thermal_model.prediction import check_fill, predict
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import MakeStepper, Outcome
from thermal_model.solver.steppers import compiled_stepper
from thermal_model.solver.stepping import PlainStepper, Tolerance
from thermal_model.study.ranges import number_fields
from thermal_model.uncertainty import draw_sample
from thermal_model.unknowns import UNKNOWN_NAMES

COARSE = Tolerance(contents=1e-2, others=2.0)
"""Quick; what is the same to the bit is so at any tolerance."""

HORIZON = 900.0

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


@settings(max_examples=8, deadline=None, derandomize=True)
@given(tables())
def test_a_row_alone_is_a_row_among_others_to_the_bit(given_table: tuple[Container, Scenario, Table]) -> None:
    container, run, table = given_table
    whole = evaluated(container, run, table)
    for row in range(table.count):
        assert_same(whole, [row], evaluated(container, run, some_rows(table, [row])))
    backwards = list(range(table.count))[::-1]
    assert_same(whole, backwards, evaluated(container, run, some_rows(table, backwards)))


@pytest.mark.parametrize("number", [0.0, 1.01])
@pytest.mark.parametrize(
    ("design", "stepper"),
    [(PLUG, PlainStepper), (load_container("handled_tumbler_straw"), compiled_stepper())],
    ids=["single_seal_plug, plain", "handled_tumbler_straw, compiled"],
)
def test_each_number_in_turn(design: Container, stepper: MakeStepper, number: float) -> None:
    """Every number at zero, and a little off, given or not: alone, and beside all others."""
    pours = {"at": "5 s", "duration": "5 s", "pour": "150 mL", "every": "8 min"}
    run = scenario({"start": "85 C", "openings": [pours]})
    fields = number_fields(design, run)
    rows = 1 + len(fields)
    numbers = {path: np.full(rows, np.nan) for path in fields}
    for row, (path, field) in enumerate(fields.items(), start=1):
        numbers[path][row] = number * (field.value or 1e-3)
    table = Table(numbers, {}, rows)
    whole = evaluated(design, run, table, horizon=30.0, stepper=stepper)
    assert (whole.outcome <= Outcome.NOT_REACHED).sum() > rows // 5
    assert not (whole.outcome == Outcome.FAILED).any()
    for row, (path, field) in enumerate(fields.items(), start=1):
        assert field.quantity.allows(numbers[path][row]) or whole.outcome[row] == Outcome.INVALID, path
    for row in range(rows):
        assert_same(whole, [row], evaluated(design, run, some_rows(table, [row]), horizon=30.0, stepper=stepper))


# --- what was wrong once ----------------------------------------------------------------------------------------


def times_of(container: Container, document: dict[str, Any], table: Table, *limits: float) -> Array:
    return evaluate(container, scenario(document), table, limits, stepper=PlainStepper).hold_times


def alone_and_together(
    container: Container, document: dict[str, Any], numbers: dict[str, Array], *limits: float
) -> None:
    table = Table(numbers, {})
    whole = times_of(container, document, table, *limits)
    apart = [times_of(container, document, some_rows(table, [row]), *limits) for row in range(table.count)]
    np.testing.assert_array_equal(whole, np.concatenate(apart, axis=1))
    assert np.isfinite(whole).any()


def test_a_skirt_of_no_length_is_none_beside_others() -> None:
    alone_and_together(
        load_container("single_wall_steel"), {}, {"lid.skirt_length": np.array([0.0, 7e-3, 14e-3])}, 333.15
    )


def test_pours_are_each_runs_own() -> None:
    """Of 500 mL a second pour of 240 mL leaves enough; of 485 mL it does not."""
    pours = {"openings": [{"at": "10 min", "pour": "240 mL", "every": "20 min"}]}
    numbers = {"scenario.fill": np.array([500e-6, 485e-6])}
    alone_and_together(PLUG, pours, numbers, 333.15)
    first, second = times_of(PLUG, pours, Table(numbers, {}), 333.15)[0]
    assert second > 2.0 * first


def test_the_best_guess_is_the_same_with_and_without_draws() -> None:
    run = scenario({"fill": "500 mL", "openings": [{"at": "10 min", "pour": "240 mL", "every": "20 min"}]})
    alone, drawn = (predict(PLUG, run, [333.15], draws=draws).hold_times[0] for draws in (0, 60))
    assert drawn.nominal == alone.nominal


def test_a_row_that_can_not_pour_is_refused_alone() -> None:
    pours = {"openings": [{"at": "10 min", "pour": "240 mL"}]}
    run, table = scenario(pours), Table({"scenario.fill": np.array([500e-6, 200e-6])}, {})
    found = evaluate(PLUG, run, table, [333.15], stepper=PlainStepper)
    assert found.outcome.tolist() == [Outcome.REACHED, Outcome.INVALID]
    assert "nothing is left" in str(found.problem_of(1))


def test_heat_capacities_in_as_many_rows_as_limits() -> None:
    numbers = {"scenario.pins.contents_heat_capacity": np.array([2000.0, 4000.0])}
    alone_and_together(load_container("stoneware_cup"), {"contents": "milk"}, numbers, 353.15, 343.15)


def test_an_opening_may_come_at_another_time_in_each_row() -> None:
    numbers = {
        "scenario.openings.0.at": np.array([0.0, 300.0, 600.0, 660.0]),
        "scenario.openings.0.duration": np.array([30.0, 60.0, 0.0, 10.0]),
    }
    run = {"openings": [{"at": "5 min"}], "preheat": {"duration": "2 min", "temperature": "95 C"}}
    alone_and_together(load_container("single_wall_steel"), run, numbers, 343.15)


def test_more_openings_than_are_listed_are_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """A run that is over before its last listed opening is none the worse for it. Forty stand for the four hundred."""
    assert timeline.MOST_OPENINGS == 400
    for module in ("assemble.timeline", "follow"):
        monkeypatch.setattr(f"thermal_model.{module}.MOST_OPENINGS", 40)
    often = scenario({"openings": [{"at": "10 s", "duration": "1 s", "every": "11 s"}]})  # no other test's
    cup = load_container("single_wall_steel")
    assert predict(cup, often, [361.15], draws=0).hold_times[0].nominal
    with pytest.raises(InputError, match="openings: more than 40 "):
        predict(cup, often, [303.15], draws=0)
    found = evaluate(cup, often, Table({"scenario.start": np.array([363.15])}, {}), [361.15, 303.15])
    assert found.outcome.tolist() == [Outcome.FAILED]


REFUSED = [
    ("scenario.wind", -1.0, "at least zero"),
    ("scenario.ice", -0.1, "at least zero"),
    ("scenario.ice", 2.0, "fit"),
    ("scenario.sunlight", -100.0, "at least zero"),
    ("scenario.relative_humidity", 3.0, "at most 1"),
    ("scenario.start", 420.15, "liquid range"),
    ("scenario.preheat.temperature", 423.15, "liquid range"),
    ("scenario.room", 0.0, "at least -40 C and at most 100 C"),
    ("scenario.room", 450.0, "at least -40 C and at most 100 C"),
    ("scenario.fill", 5e-3, "fit"),
    ("lid.skirt_length", -1e-3, "at least zero"),
    ("unknowns.exterior_film", 0.0, "above zero"),
]


@pytest.mark.parametrize(("path", "value", "told"), REFUSED)
def test_a_table_refuses_what_a_single_prediction_refuses(path: str, value: float, told: str) -> None:
    cup = load_container("single_wall_steel")
    run = scenario({"preheat": {"duration": "1 min", "temperature": "90 C"}, "fill": "300 mL"})
    centre = float(number_fields(cup, run)[path].value or 0.0) if not path.startswith(UNKNOWNS) else 1.0
    found = evaluate(cup, run, Table({path: np.array([value, centre])}, {}), [353.15], stepper=PlainStepper)
    assert found.outcome.tolist() == [Outcome.INVALID, Outcome.REACHED]
    problem = found.problem_of(0)
    assert problem is not None
    assert told in problem.message
    assert path.rpartition(".")[2] in problem.field or problem.field == "fill"  # ice counts as what it melts to
    if path.startswith(SCENARIO):
        with pytest.raises(InputError):
            check_fill(cup, with_overrides(run, {path.removeprefix(SCENARIO): written(path, value, cup, run)}))


def written(path: str, value: float, cup: Container, run: Scenario) -> object:
    quantity = number_fields(cup, run)[path].quantity
    return value if quantity.dimension is Dimension.FRACTION else exact_text(value, quantity.dimension)


def test_contents_that_start_past_a_limit_hold_it_for_no_time() -> None:
    """Draws about a start near the limit: they are no longer held for ever."""
    cup = load_container("stoneware_cup")
    found = evaluate(cup, Scenario(), Table({"scenario.start": np.array([350.0, 333.15, 330.0])}, {}), [333.15])
    assert found.outcome.tolist() == [Outcome.REACHED] * 3
    assert found.hold_times[0, 0] > 60.0
    assert found.hold_times[0, 1:].tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("design", "path", "spread", "share"),
    [
        # Foam: its thickness decides the hold time, where that of a vacuum does not.
        ("foam_jug", "body.gap.width", "4..40 mm", 0.5),
        # So full that some draws hold less than what is poured in.
        ("stoneware_cup", "body.inside_depth", "80..110 mm", 0.97),
    ],
)
def test_a_dimension_that_was_not_measured_widens_a_table_as_it_does_a_prediction(
    design: str, path: str, spread: str, share: float
) -> None:
    """The same draws give the same hold times; a row that says the dimension itself is as it says."""
    container = load_container(design).model_copy(update={"unsure": ((path, spread),)})
    pour = Scenario(fill=share * float(closed_capacity(container)))
    sample = draw_sample(container, pour, 6, 1)
    normals = sample.standard_normals
    assert path in normals
    table = Table({}, rows=7, normals=normals)
    alone = follow(sample, [333.15], stepper=PlainStepper).hold_times
    in_table = evaluate(container, pour, table, [333.15], stepper=PlainStepper).hold_times
    np.testing.assert_array_equal(in_table, alone)
    value = next(f.value for f in numbers_of(container) if f.path == path)
    said = Table({path: np.full(7, value)}, normals=normals)
    without = Table({}, rows=7, normals={name: normal for name, normal in normals.items() if name != path})
    of_said = evaluate(container, pour, said, [333.15]).hold_times
    np.testing.assert_array_equal(of_said, evaluate(container, pour, without, [333.15]).hold_times)
    assert np.abs(np.log(of_said / alone))[0, 1:].max() > 0.03
