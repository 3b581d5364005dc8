"""Elasticities against closed forms and separate runs; indices of what is known; what stays at its best guess."""

import math

import numpy as np
import pytest

from geometries.container import Container
from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.overrides import with_overrides
from geometries.ranges import Range
from tests.geometries.designs import bottle, cup
from thermal_model.assemble.lanes import Lanes
from thermal_model.batch import Table, with_draws
from thermal_model.prediction import predict
from thermal_model.report.sensitivity_text import change_text, global_text, local_text, most_worth_measuring
from thermal_model.scenario import Scenario
from thermal_model.study.question import Question
from thermal_model.study.ranges import number_field
from thermal_model.study.sensitivity import (
    STEP,
    given_dimensions,
    global_sensitivity,
    idle_unknowns,
    local_sensitivity,
    power_of_two,
)
from thermal_model.uncertainty import PRIORS, draw_sample
from thermal_model.words.dimensions import dimension_words, step_of

LIMIT = 333.15
TEA = Scenario.model_validate({"contents": "tea", "fill": "200 mL"})
CUP = load_container("single_wall_steel")


def ranged(container: Container, path: str, low: float, high: float) -> Range:
    return Range(number_field(path, container, TEA, "test"), low, high, "mm")


# --- local ------------------------------------------------------------------------------------------------------


def test_elasticity_is_that_of_separate_runs() -> None:
    """Independent of the batch: predict, with the mouth set to 1 % less and more."""
    container = bottle()
    found = local_sensitivity(Question(container, TEA, LIMIT))
    mouth = next(e for e in found.elasticities if e.field.path == "body.neck.mouth_diameter")
    held = []
    for factor in (1.0 - STEP, 1.0 + STEP):
        other = with_overrides(container, {"body.neck.mouth_diameter": f"{44.0 * factor} mm"})
        nominal = predict(other, TEA, [LIMIT], draws=0).hold_times[0].nominal
        assert nominal is not None
        held.append(nominal)
    assert mouth.value == pytest.approx((held[1] - held[0]) / (2.0 * STEP) / found.hold_time, rel=0.01)
    assert mouth.slope == pytest.approx((held[1] - held[0]) / (2.0 * STEP * 0.044), rel=0.01)
    assert mouth.value < 0.0


def test_elasticities_of_a_lumped_cup() -> None:
    """Lumped cooling: t = rho cp V / (h A) ln(...) (Incropera/DeWitt, ch. 5), filled to the brim, thin wall.

    With one film h over side, base and top, V / A = D H / (4 H + 2 D): of diameter the elasticity is
    4 H / (4 H + 2 D), of depth 2 D / (4 H + 2 D).
    """
    films = dict.fromkeys(("exterior_film", "base_film"), "2 W/m2K")
    inside = dict.fromkeys(("headspace_film", "wetted_film"), "5000 W/m2K")
    layer = {"layer_conductivity": "400 W/mK", "layer_density": "1 kg/m3", "wall_conductivity": "400 W/mK"}
    pins = {**films, **inside, **layer, "wall_density": "1 kg/m3"}
    scenario = Scenario.model_validate({"pins": pins, "air_under_lid": "0 mm"})
    container = Container.model_validate(
        {
            "name": "lumped",
            "body": {
                "inside_diameter": "80 mm",
                "inside_depth": "100 mm",
                "wall": {"kind": "single", "inner_thickness": "0.1 mm"},
            },
            "lid": {"layers": [{"kind": "solid", "thickness": "0.1 mm"}], "seals": [{"depth": "0 mm"}]},
        }
    )
    found = local_sensitivity(Question(container, scenario, LIMIT))
    values = {e.field.path: e.value for e in found.elasticities}
    total = 4.0 * 0.1 + 2.0 * 0.08
    assert values["body.inside_diameter"] == pytest.approx(4.0 * 0.1 / total, rel=0.01)
    assert values["body.inside_depth"] == pytest.approx(2.0 * 0.08 / total, rel=0.01)


def test_ranked_and_only_what_the_design_gives() -> None:
    container = bottle()
    found = local_sensitivity(Question(container, TEA, LIMIT))
    sizes = [abs(e.value) for e in found.elasticities]
    assert sizes == sorted(sizes, reverse=True)
    paths = {e.field.path for e in found.elasticities}
    assert paths == {field.path for field in given_dimensions(container)}
    assert "lid.layers.1.depth" in paths
    assert "body.gap.pressure" not in paths
    assert found.unknowns == ()


def test_a_step_that_makes_no_container_leaves_the_other_side() -> None:
    """A mouth almost as wide as the body can only be narrowed; the slope is that of the wide side of a finer step."""
    container = with_overrides(bottle(), {"body.neck.mouth_diameter": "65.9 mm"})
    question = Question(container, TEA, LIMIT)
    found = local_sensitivity(question)
    one_sided = {e.field.path for e in found.elasticities if e.is_one_sided}
    assert "body.neck.mouth_diameter" in one_sided
    assert "body.inside_depth" not in one_sided
    assert "tried to one side only" in local_text(found, question)
    mouth = next(e for e in found.elasticities if e.field.path == "body.neck.mouth_diameter")
    assert -2.0 < mouth.value < -0.2


def test_unknowns_a_deviation_down_and_up() -> None:
    """The start temperature a deviation higher is the scenario with that start."""
    question = Question(CUP, TEA, LIMIT)
    found = local_sensitivity(question, over_design=False, over_unknowns=True)
    assert found.elasticities == ()
    start = next(e for e in found.unknowns if e.name == "start")
    warmer = TEA.model_copy(update={"start": TEA.start + PRIORS["start"].width})
    assert start.upper == pytest.approx(predict(CUP, warmer, [LIMIT], draws=0).hold_times[0].nominal, rel=1e-4)
    assert start.lower < found.hold_time < start.upper
    text = local_text(found, question)
    assert f"Worth knowing better: {PRIORS[found.unknowns[0].name].label}" in text


def test_a_design_without_a_hold_time() -> None:
    with pytest.raises(InputError, match=r"the limit is not reached within the 7 days"):
        local_sensitivity(Question(CUP, TEA, 293.0))


# --- global -----------------------------------------------------------------------------------------------------


def test_one_input_has_all_of_the_variance() -> None:
    found = global_sensitivity(
        Question(cup(), TEA, LIMIT), [ranged(cup(), "body.inside_diameter", 0.07, 0.1)], [], samples=64, seed=0
    )
    (index,) = found.indices
    assert index.first == pytest.approx(1.0, abs=0.1)
    assert index.total == pytest.approx(1.0, abs=0.1)
    assert (found.samples, found.runs, found.left_out) == (64, 192, 0)
    assert found.low < found.mean < found.high
    assert most_worth_measuring(found) is None


def test_both_kinds_of_input_and_their_ranks() -> None:
    """Of a steel cup that loses by its outside: the room's film outweighs a table that hardly conducts."""
    question = Question(CUP, TEA, LIMIT)
    names = ["exterior_film", "room", "lid_leak"]
    found = global_sensitivity(
        question, [ranged(CUP, "body.wall.inner_thickness", 0.0004, 0.0005)], names, samples=32, seed=3
    )
    assert found.idle == ("lid_leak",)
    order = [index.name for index in found.indices]
    assert order[0] == "exterior_film"
    totals = [index.total for index in found.indices]
    assert totals == sorted(totals, reverse=True)
    best = most_worth_measuring(found)
    assert best is not None
    assert best.name == "exterior_film"
    text = global_text(found, question)
    assert f"Worth measuring: {PRIORS['exterior_film'].label}" in text
    assert PRIORS["exterior_film"].advice in text


def test_idle_unknowns_are_those_the_design_has_no_place_for() -> None:
    idle = idle_unknowns(Question(CUP, TEA, LIMIT), list(PRIORS))
    assert {"gap_emissivity", "gap_pressure", "annulus_exchange", "clearance"} <= set(idle)
    assert not {"exterior_film", "room", "start", "fill"} & set(idle)


def test_ranges_beyond_what_can_be_made() -> None:
    with pytest.raises(InputError, match=r"narrow the ranges\. The first that fails: .*wider than the body"):
        global_sensitivity(
            Question(bottle(), TEA, LIMIT), [ranged(bottle(), "body.neck.mouth_diameter", 0.03, 0.09)], [],
            samples=4, seed=1,
        )  # fmt: skip


def test_without_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    with pytest.raises(InputError, match=r"pip install 'holdtime\[sensitivity\]'") as caught:
        global_sensitivity(Question(CUP, TEA, LIMIT), [], list(PRIORS), samples=4, seed=1)
    assert len(caught.value.problems) == 1


def test_base_samples_are_powers_of_two() -> None:
    assert [power_of_two(n) for n in (1, 2, 3, 64, 65)] == [2, 2, 4, 64, 128]


# --- draws on top -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("scenario", [TEA, Scenario()])
def test_draws_on_top_are_the_sample_that_a_prediction_draws(scenario: Scenario) -> None:
    container = load_container("slim_neck_double_seal")
    sample = draw_sample(container, scenario, 20, 5)
    drawn = with_draws(Lanes(container, scenario, count=sample.count), sample.standard_normals)
    designs, runs, unknowns = drawn.container, drawn.scenario, drawn.unknowns
    assert designs.body.neck is not None
    assert sample.container.body.neck is not None
    assert np.array_equal(designs.body.neck.mouth_diameter, sample.container.body.neck.mouth_diameter)
    assert designs.lid is not None
    assert sample.container.lid is not None
    for mine, theirs in zip(designs.lid.layers, sample.container.lid.layers, strict=True):
        assert np.array_equal(mine.height, theirs.height)
    assert np.array_equal(runs.room, sample.scenario.room)
    assert np.array_equal(runs.start, sample.scenario.start)
    assert np.array_equal(runs.fill, sample.scenario.fill)  # drawn whether it is given or not
    assert np.array_equal(unknowns.gap_emissivity, sample.unknowns.gap_emissivity)
    assert Table({}, normals=sample.standard_normals).count == drawn.count == 21


def test_a_misreading_does_not_hide_contents_that_do_not_fit() -> None:
    fill = np.array([1e-4, 9e-3])
    drawn = with_draws(Lanes(cup(), Scenario().model_copy(update={"fill": fill}), count=2), {"fill": np.ones(2)})
    assert drawn.scenario.fill == pytest.approx([1e-4 * math.exp(0.01), 9e-3])


# --- words ------------------------------------------------------------------------------------------------------


def test_dimensions_have_names() -> None:
    container = bottle()
    assert dimension_words("body.neck.mouth_diameter", container) == ("mouth", "wider")
    assert dimension_words("lid.layers.1.depth", container) == ("air pocket of the lid (layer 1)", "deeper")
    assert dimension_words("lid.seals.0.depth", container) == ("seal 0", "deeper")
    assert dimension_words("body.exterior.emissivity", container) == ("emissivity of exterior", "higher")


def test_steps_are_at_most_a_tenth() -> None:
    for field in given_dimensions(bottle()):
        assert field.value is not None
        step, _ = step_of(field.value, field.quantity.dimension)
        assert 0.0099 * field.value <= step <= 0.1001 * field.value


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(-543.0, "9 min less"), (0.4, "no change"), (75.0, "1 min 20 s more"), (-4000.0, "1 h 7 min less")],
)
def test_changes_in_words(seconds: float, text: str) -> None:
    assert change_text(seconds) == text
