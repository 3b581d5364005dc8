"""Sweeps: which designs, in which groups, what the journal keeps, and what the files say."""

import csv
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest
import xarray as xr

from geometries.container import closed_capacity, empty_mass, total_height
from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.overrides import with_overrides
from thermal_model.batch import with_kinds
from thermal_model.prediction import predict
from thermal_model.report.pictures.record import Curves, Map, RowsPanel
from thermal_model.report.sweep_plots import sweep_picture
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Outcome
from thermal_model.study import sweep as module
from thermal_model.study.axes import Axis, axis_name, read_axes
from thermal_model.study.journal import Journal, Results
from thermal_model.study.sampling import Plan, planned
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.sweep import Sweep, check_size, joined, run, summary_of, trial_rate
from thermal_model.study.sweep_files import dataset, hold_time_name, stretches, write_results
from thermal_model.study.sweep_results import read_sweep
from thermal_model.study.sweep_slice import slice_of
from thermal_model.words.numbers import Scale

CUP, SCENARIO, LIMIT = load_container("stoneware_cup"), Scenario(), 360.15
BOTTLE = load_container("slim_neck_double_seal")


def axes(*texts: str, container: Any = CUP, scenario: Scenario = SCENARIO) -> tuple[Axis, ...]:
    return tuple(
        read_axes([tuple(text.split("=", 1)) for text in texts], container, scenario, "--vary")  # type: ignore[misc]
    )


def cup_sweep(*texts: str, sampling: Sampling = Sampling.GRID, count: int | None = None) -> Sweep:
    return Sweep(CUP, SCENARIO, (LIMIT,), planned(axes(*texts), sampling, count, 1))


def finished(sweep: Sweep, folder: Path, chunk: int = module.BLOCK) -> Journal:
    journal = Journal(folder, sweep.inputs())
    run(sweep, journal, chunk=chunk)
    return journal


def whole(journal: Journal) -> Results:
    return joined([piece for _, piece in journal.pieces()])


# --- axes -----------------------------------------------------------------------------------------------------


def test_numbers_keep_the_unit_they_were_typed_in() -> None:
    (inches,) = axes("body.inside_depth=3..5 in:3")
    assert inches.points == pytest.approx([0.0762, 0.1016, 0.127], rel=1e-15)  # the inch is 25.4 mm by definition
    assert inches.shown(inches.points).tolist() == [3.0, 4.0, 5.0]
    assert inches.text(0.1016) == "4 in"


def test_temperatures_are_shown_on_their_scale() -> None:
    (room,) = axes("scenario.room=50..86 F:3")
    assert room.points == pytest.approx([283.15, 293.15, 303.15])
    assert room.shown(room.points).tolist() == [50.0, 68.0, 86.0]


def test_a_list_takes_counts_and_a_part_takes_kept_and_none() -> None:
    seals, plug = axes("lid.seals=0,1,2", "lid.plug=kept,none", container=BOTTLE)
    assert [len(seals.document(float(k))) for k in range(3)] == [0, 1, 2]
    assert seals.labels == ("0", "1", "2")
    assert plug.document(0.0) == BOTTLE.model_dump(mode="json", exclude_unset=True)["lid"]["plug"]
    assert with_overrides(BOTTLE, {"lid.plug": plug.document(0.0)}) == BOTTLE


REFUSALS = [
    (["body.neck.mouth_diamter=30..60 mm:3"], "did you mean 'body.neck.mouth_diameter'?"),
    (["lid.seals=0,3"], "lid.seals: 3 entries are asked for; this design has 2"),
    (["body.jacket=none,kept"], "'kept' keeps what is there, and this design has none"),
    (["body.gap.gas=air,argn"], "body.gap.gas = 'argn': did you mean 'argon'?"),
    (["lid.plug.kind=open,hollow", "lid.plug.kind=solid,open"], "lid.plug.kind: is varied twice"),
    (
        ["body.inside_diameter=60..70 mm:2", "body.outside_diameter=70..80 mm:2"],
        "body.inside_diameter: follows from body.outside_diameter; vary one",
    ),
    (["scenario.contents=tea,tee"], "scenario.contents = 'tee': unknown contents 'tee'; did you mean 'tea'?"),
    ([], "give what to vary, for example --vary"),
]


@pytest.mark.parametrize(("texts", "message"), REFUSALS)
def test_refused_axes(texts: list[str], message: str) -> None:
    with pytest.raises(InputError) as caught:
        axes(*texts, container=BOTTLE)
    assert message in str(caught.value)
    assert len(caught.value.problems) == 1


def test_room_from_a_table_is_shifted_not_set() -> None:
    scenario = Scenario.model_validate({"room_profile": {"times": ["0 s", "1 h"], "temperatures": ["20 C", "10 C"]}})
    with pytest.raises(InputError, match=r"vary scenario\.room_profile\.shift instead"):
        axes("scenario.room=10..20 C:2", scenario=scenario)


def test_names_of_axes_tell_them_apart() -> None:
    both = axes("lid.layers.0.thickness=1,2 mm", "lid.layers.2.thickness=1,2 mm", container=BOTTLE)
    assert [axis_name(axis.path, both) for axis in both] == ["layer 0 thickness", "layer 2 thickness"]
    assert axis_name("body.neck.mouth_diameter", both) == "mouth diameter"


# --- sampling -------------------------------------------------------------------------------------------------


def test_grid_has_every_combination_once_and_kinds_outermost() -> None:
    plan = planned(axes("body.inside_depth=80,90,100 mm", "scenario.stands_on=wood,stone"), Sampling.GRID, None, 1)
    rows = plan.rows(0, plan.count).values
    assert plan.count == 6
    assert rows["scenario.stands_on"].tolist() == [0, 0, 0, 1, 1, 1]
    assert rows["body.inside_depth"].tolist() == pytest.approx([0.08, 0.09, 0.1] * 2)


def test_one_at_a_time_starts_from_the_design() -> None:
    plan = planned(axes("body.inside_depth=80,90 mm", "scenario.room=10,15,30 C"), Sampling.ONE_AT_A_TIME, None, 1)
    rows = plan.rows(0, plan.count)
    assert plan.count == 1 + 2 + 3
    assert rows.varied is not None
    assert rows.varied.tolist() == [-1, 0, 0, 1, 1, 1]
    own = CUP.body.inside_depth
    assert rows.values["body.inside_depth"].tolist() == pytest.approx([own, 0.08, 0.09, own, own, own])
    assert rows.values["scenario.room"].tolist() == pytest.approx([293.15] * 3 + [283.15, 288.15, 303.15])


def test_latin_hypercube_has_one_design_in_each_slice() -> None:
    """By definition of a Latin hypercube: N equal slices of every axis hold one point each."""
    plan = planned(axes("body.inside_depth=80..120 mm", "scenario.room=10..30 C"), Sampling.LATIN, 50, 3)
    rows = plan.rows(0, 50).values
    for path, low, high in (("body.inside_depth", 0.08, 0.12), ("scenario.room", 283.15, 303.15)):
        slices = np.floor(50.0 * (rows[path] - low) / (high - low)).astype(int)
        assert sorted(slices.tolist()) == list(range(50))


def test_sobol_fills_every_elementary_box() -> None:
    """A scrambled Sobol' sequence in base 2 is a (0, m, 2) net: each of 2^m boxes of volume 2^-m holds one point.

    Sobol' 1967; Owen 1995 for the scrambling.
    """
    plan = planned(axes("body.inside_depth=0.08..0.12 m", "scenario.room=280..300 K"), Sampling.SOBOL, 64, 5)
    rows = plan.rows(0, 64).values
    x = (rows["body.inside_depth"] - 0.08) / 0.04
    y = (rows["scenario.room"] - 280.0) / 20.0
    for k in range(7):
        boxes = np.floor(x * 2**k).astype(int) * 2 ** (6 - k) + np.floor(y * 2 ** (6 - k)).astype(int)
        assert sorted(boxes.tolist()) == list(range(64))


@pytest.mark.parametrize("sampling", list(Sampling))
def test_rows_do_not_depend_on_where_they_are_asked_from(sampling: Sampling) -> None:
    counted = sampling in (Sampling.LATIN, Sampling.SOBOL)
    varied = axes("body.inside_depth=80..120 mm:9", "scenario.stands_on=wood,stone,cork", "scenario.room=10..30 C:7")
    plan = planned(varied, sampling, 100 if counted else None, 7)
    rows = plan.rows(0, plan.count)
    again = Plan(plan.axes, plan.sampling, plan.count, plan.seed)
    for start in range(0, plan.count, 13):
        part = again.rows(start, min(start + 13, plan.count))
        for path, values in part.values.items():
            assert np.array_equal(values, rows.values[path][start : start + 13])


def test_seeds_differ_and_zero_is_one() -> None:
    first, second = (
        planned(axes("body.inside_depth=80..120 mm"), Sampling.LATIN, 8, seed).rows(0, 8).values["body.inside_depth"]
        for seed in (0, 1)
    )
    assert not np.array_equal(first, second)
    again = planned(axes("body.inside_depth=80..120 mm"), Sampling.LATIN, 8, 0).rows(0, 8).values["body.inside_depth"]
    assert np.array_equal(first, again)


# --- results --------------------------------------------------------------------------------------------------


def test_results_are_those_of_single_predictions() -> None:
    sweep = cup_sweep("body.inside_depth=80,100 mm", "scenario.stands_on=wood,stone", "scenario.room=10,25 C")
    found, rows = sweep.block(0, 8), sweep.plan.rows(0, 8).values
    for row in range(8):
        depth, room = rows["body.inside_depth"][row], rows["scenario.room"][row]
        surface = sweep.plan.axes[1].labels[int(rows["scenario.stands_on"][row])]
        container = with_overrides(CUP, {"body.inside_depth": f"{float(depth)!r} m"})
        scenario = Scenario.model_validate({"room": f"{float(room)!r} K", "stands_on": surface})
        alone = predict(container, scenario, [LIMIT], draws=0)
        assert found.hold_times[0, row] == pytest.approx(alone.hold_times[0].nominal, abs=1e-6)
    assert set(found.outcome.tolist()) == {Outcome.REACHED}


def test_one_at_a_time_leaves_the_rest_alone() -> None:
    """Its rows are those of a grid through the design itself."""
    own = f"{1e3 * float(CUP.body.inside_depth or 0.0)!r} mm"
    single = cup_sweep("body.inside_depth=80,110 mm", "scenario.room=10,25 C", sampling=Sampling.ONE_AT_A_TIME)
    grid = cup_sweep(f"body.inside_depth=80,110,{own}", "scenario.room=10,25,20 C")
    times = single.block(0, 5).hold_times[0]
    full = grid.block(0, 9).hold_times[0].reshape(3, 3)
    assert times.tolist() == pytest.approx([full[2, 2], full[0, 2], full[1, 2], full[2, 0], full[2, 1]], abs=1e-6)


def test_impossible_designs_are_told_apart_and_the_rest_is_untouched() -> None:
    varied = ("body.inside_depth=80,100 mm", "scenario.start=92,104 C", "scenario.fill=200,900 mL")
    found = cup_sweep(*varied).block(0, 8)
    assert found.outcome.tolist() == [0, 2, 2, 2, 0, 2, 2, 2]
    assert np.isnan(found.hold_times[0]).tolist() == [bool(outcome) for outcome in found.outcome]
    assert set(found.reasons) == {"scenario.start", "fill"}
    assert [found.reasons[k] if k >= 0 else "" for k in found.reason[:4]] == [
        "",
        "fill",
        "scenario.start",
        "scenario.start",
    ]
    possible = cup_sweep("body.inside_depth=80,100 mm", "scenario.start=92,93 C", "scenario.fill=200,201 mL").block(
        0, 8
    )
    assert found.hold_times[0, 0] == possible.hold_times[0, 0]


def test_reasons_carry_the_figures_of_their_own_design() -> None:
    sweep = replace(cup_sweep("scenario.fill=500,900 mL"), scenario=SCENARIO)
    assert sweep.message(0).startswith("fill: 500 mL is beyond the brim")
    assert sweep.message(1).startswith("fill: 900 mL is beyond the brim")


def test_contents_decide_what_start_is_allowed() -> None:
    found = cup_sweep("scenario.contents=water,vegetable_oil", "scenario.start=95,120 C").block(0, 4)
    assert found.outcome.tolist() == [0, 2, 0, 0]


def test_a_path_into_a_part_that_is_gone_is_an_invalid_design() -> None:
    sweep = Sweep(
        BOTTLE,
        SCENARIO,
        (362.15,),
        planned(axes("lid=kept,none", "lid.plug.depth=38,42 mm", container=BOTTLE), Sampling.GRID, None, 1),
    )
    found = sweep.block(0, 4)
    assert found.outcome.tolist() == [0, 0, 2, 2]
    assert "is left out in this design" in sweep.message(2)


def test_pours_count_for_each_design_alone() -> None:
    """A small fill ends repeated pours sooner: it must not end those of a full neighbour."""
    scenario = Scenario.model_validate({"openings": [{"at": "20 s", "pour": "60 mL", "every": "40 s"}]})
    plan = planned(axes("scenario.fill=150,400 mL", scenario=scenario), Sampling.GRID, None, 1)
    together = Sweep(CUP, scenario, (350.15,), plan).block(0, 2).hold_times[0]
    for row, fill in enumerate(("150 mL", "400 mL")):
        own = Scenario.model_validate(scenario.model_dump(mode="json", exclude_unset=True) | {"fill": fill})
        assert together[row] == pytest.approx(predict(CUP, own, [350.15], draws=0).hold_times[0].nominal, abs=1e-6)


# --- journal --------------------------------------------------------------------------------------------------


def test_chunks_change_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Bit for bit, whatever the chunk, and from whatever was done before."""
    monkeypatch.setattr(module, "BLOCK", 16)
    sweep = cup_sweep("body.inside_depth=80..120 mm:10", "scenario.stands_on=wood,stone", "scenario.fill=250..420 mL:4")
    first = whole(finished(sweep, tmp_path / "a", chunk=16))
    assert {0, 2} <= set(first.outcome.tolist())
    second = finished(sweep, tmp_path / "b", chunk=100)
    third = finished(sweep, tmp_path / "c", chunk=33)
    for start, stop in third.chunks()[:1]:
        (third.folder / f"{start:012d}-{stop:012d}.npz").unlink()
    run(sweep, third, chunk=16)
    for other in (whole(second), whole(third)):
        assert first.hold_times.tobytes() == other.hold_times.tobytes()
        assert first.outcome.tobytes() == other.outcome.tobytes()
        assert [first.reasons[k] for k in first.reason if k >= 0] == [other.reasons[k] for k in other.reason if k >= 0]


def test_block_size_changes_nothing_either(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sweep = cup_sweep("body.inside_depth=80..120 mm:20", "scenario.room=10..25 C:2")
    together = sweep.block(0, 40).hold_times
    monkeypatch.setattr(module, "BLOCK", 7)
    assert whole(finished(sweep, tmp_path / "a")).hold_times.tobytes() == together.tobytes()


def small_results(count: int) -> Results:
    return Results(np.zeros((1, count)), np.zeros(count, np.int8), np.full(count, -1, np.int32), ())


def test_missing_stretches(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "j", {"a": 1})
    journal.keep(10, small_results(10))
    journal.keep(30, small_results(5))
    assert journal.chunks() == [(10, 20), (30, 35)]
    assert list(journal.missing(42, 8)) == [(0, 8), (8, 10), (20, 28), (28, 30), (35, 42)]


def test_chunk_that_can_not_be_read_is_done_again(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "j", {"a": 1})
    journal.keep(0, small_results(10))
    (journal.folder / "000000000000-000000000010.npz").write_bytes(b"PK\3\4 torn")
    assert journal.chunks() == []
    assert list(journal.missing(10, 10)) == [(0, 10)]


def test_journal_of_other_inputs_is_refused_and_kept(tmp_path: Path) -> None:
    Journal(tmp_path / "j", {"seed": 1}).keep(0, small_results(3))
    before = {path.name: path.read_bytes() for path in (tmp_path / "j").iterdir()}
    with pytest.raises(InputError, match="holds part of another sweep"):
        Journal(tmp_path / "j", {"seed": 2})
    assert {path.name: path.read_bytes() for path in (tmp_path / "j").iterdir()} == before


def test_folder_of_something_else_is_refused(tmp_path: Path) -> None:
    (tmp_path / "j").mkdir()
    (tmp_path / "j" / "letter.txt").write_text("dear galley", encoding="utf-8")
    with pytest.raises(InputError, match=r"is in the way: it holds 'letter\.txt'"):
        Journal(tmp_path / "j", {"seed": 2})


def test_two_runs_do_not_share_a_journal(tmp_path: Path) -> None:
    kept = Journal(tmp_path / "j", {"seed": 1})
    with pytest.raises(InputError, match="another sweep is writing there"):
        Journal(tmp_path / "j", {"seed": 1})
    kept.remove()
    assert not (tmp_path / "j").exists()


# --- files ----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def grid(tmp_path_factory: pytest.TempPathFactory) -> tuple[Sweep, Journal]:
    sweep = replace(
        cup_sweep("body.inside_depth=3..5 in:3", "scenario.stands_on=wood,stone", "scenario.fill=200,440 mL"),
        limits=(LIMIT, 355.15),
    )
    return sweep, finished(sweep, tmp_path_factory.mktemp("grid") / "j")


def written(grid: tuple[Sweep, Journal], path: Path, scale: Scale = Scale.CELSIUS) -> Path:
    sweep, journal = grid
    write_results(sweep, journal, summary_of(sweep, journal), path, scale)
    return path


def test_csv_reopens_with_units(grid: tuple[Sweep, Journal], tmp_path: Path) -> None:
    lines = written(grid, tmp_path / "a.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0] == "# holdtime 0.1.0; grid, seed 1"
    facts = json.loads(lines[1].removeprefix("# "))
    assert facts["inputs"]["design"]["name"] == "stoneware_cup"
    assert facts["inputs"]["vary"]["body.inside_depth"] == {"low": 3.0, "high": 5.0, "count": 3, "unit": "in"}
    rows = list(csv.DictReader(lines[2:]))
    assert [*rows[0]] == [
        "design",
        "body.inside_depth [in]",
        "scenario.stands_on",
        "scenario.fill [mL]",
        "hold_time_87C [s]",
        "hold_time_82C [s]",
        "empty_mass [kg]",
        "capacity_under_lid [m3]",
        "outside_diameter [m]",
        "height_with_lid [m]",
        "mouth [m]",
        "outcome",
        "reason",
    ]
    results = whole(grid[1])
    for row, cells in enumerate(rows):
        time = results.hold_times[0, row]
        assert cells["hold_time_87C [s]"] == ("" if np.isnan(time) else repr(float(time)))
    assert [rows[1][key] for key in ("body.inside_depth [in]", "scenario.fill [mL]", "outcome", "reason")] == [
        "3.0",
        "440.0",
        "invalid",
        "fill",
    ]
    (invalid,) = facts["invalid"]
    assert invalid["designs"] == sum(row["outcome"] == "invalid" for row in rows)
    assert "440 mL is beyond the brim" in invalid["message"]


def test_netcdf_reopens_as_a_labelled_grid(grid: tuple[Sweep, Journal], tmp_path: Path) -> None:
    with xr.open_dataset(written(grid, tmp_path / "a.nc"), engine="h5netcdf") as found:
        assert found.hold_time.dims == ("until", "body_inside_depth", "scenario_stands_on", "scenario_fill")
        assert found["body_inside_depth"].attrs == {"units": "in", "long_name": "inside", "path": "body.inside_depth"}
        assert found.hold_time.attrs["units"] == "s"
        assert (found.until.attrs["units"], found.until.values.tolist()) == ("degC", [87.0, 82.0])
        assert json.loads(found.attrs["holdtime"])["inputs"]["seed"] == found.attrs["seed"] == 1
        one = found.hold_time.sel(until=82.0, body_inside_depth=4.0, scenario_stands_on="stone")
        alone = predict(
            with_overrides(CUP, {"body.inside_depth": "4 in"}),
            Scenario.model_validate({"stands_on": "stone", "fill": "200 mL"}),
            [355.15],
            draws=0,
        )
        assert float(one.sel(scenario_fill=200.0)) == pytest.approx(alone.hold_times[0].nominal, abs=1e-6)
        meanings = found.outcome.attrs["flag_meanings"].split()
        assert meanings[int(found.outcome.sel(body_inside_depth=3.0, scenario_fill=440.0)[0])] == "invalid"


def test_tables_open_in_one_line_with_what_designs_measure(grid: tuple[Sweep, Journal], tmp_path: Path) -> None:
    tall = with_overrides(CUP, {"body.inside_depth": "4 in"})
    frames = [
        pd.read_csv(written(grid, tmp_path / "a.csv"), comment="#").rename(columns=lambda name: name.split(" [")[0]),
        pd.read_parquet(written(grid, tmp_path / "a.parquet")),
        xr.open_dataset(written(grid, tmp_path / "a.nc"), engine="h5netcdf").to_dataframe().reset_index(),
    ]
    for frame in frames:
        depth = frame["body_inside_depth" if "body_inside_depth" in frame else "body.inside_depth"]
        row = frame[(depth == 4.0) & frame["empty_mass"].notna()].iloc[0]
        assert row["empty_mass"] == pytest.approx(float(empty_mass(tall)))
        assert row["capacity_under_lid"] == pytest.approx(float(closed_capacity(tall)))
        assert row["height_with_lid"] == pytest.approx(float(total_height(tall)))
    invalid = frames[0][frames[0]["outcome"] == "invalid"]
    assert len(invalid)
    assert invalid["empty_mass"].isna().all()


def test_counts_are_whole_numbers(tmp_path: Path) -> None:
    sweep = replace(
        cup_sweep("body.inside_depth=80,110 mm"),
        container=BOTTLE,
        plan=planned(axes("lid.seals=1,2", container=BOTTLE), Sampling.GRID, None, 1),
    )
    journal = Journal(tmp_path / "j", {})
    journal.keep(0, small_results(2))
    table = pq.read_table(written((sweep, journal), tmp_path / "a.parquet"))
    assert table["lid.seals"].to_pylist() == [1, 2]
    assert pd.read_parquet(tmp_path / "a.parquet")["lid.seals"].dtype == np.int64
    assert dataset(sweep, journal, summary_of(sweep, journal), Scale.CELSIUS)["lid_seals"].values.tolist() == [1, 2]


@pytest.mark.parametrize(
    ("path", "layers", "seals"),
    [("lid.layers.1.depth", 2, 2), ("lid.seals.1.depth", 3, 1)],
)
def test_none_among_depths_is_a_lid_without_the_part(path: str, layers: int, seals: int) -> None:
    steps = "30..38 mm:2" if path != "lid.layers.1.depth" else "5..15 mm:2"
    (axis,) = axes(f"{path}={steps}, none", container=BOTTLE)
    assert (len(axis.labels), axis.labels[-1]) == (3, "none")
    shallow, _ = with_kinds(BOTTLE, SCENARIO, {path: axis.documents[0]})
    assert shallow != BOTTLE
    bare = with_kinds(BOTTLE, SCENARIO, {path: axis.documents[-1]})[0].lid
    assert bare is not None
    assert (len(bare.layers), len(bare.seals)) == (layers, seals)


def test_none_for_the_depth_of_a_plug_is_a_lid_without_plug() -> None:
    shallow = with_overrides(BOTTLE, {"lid.seals.1.depth": None, "lid.seals.0.depth": "0 mm"})
    bare = with_kinds(shallow, SCENARIO, {"lid.plug.depth": "none"})[0].lid
    assert bare is not None
    assert bare.plug is None


def test_parquet_reopens_with_units(grid: tuple[Sweep, Journal], tmp_path: Path) -> None:
    table = pq.read_table(written(grid, tmp_path / "a.parquet", Scale.FAHRENHEIT))
    assert table.schema.field("body.inside_depth").metadata == {b"units": b"in"}
    assert table.schema.field("hold_time_188.6F").metadata == {b"units": b"s"}
    assert json.loads(table.schema.metadata[b"holdtime"])["version"] == "0.1.0"
    times = table["hold_time_188.6F"].to_pylist()
    expected = whole(grid[1]).hold_times[0]
    assert [t is None for t in times] == np.isnan(expected).tolist()
    assert [t for t in times if t is not None] == expected[~np.isnan(expected)].tolist()


@pytest.mark.parametrize("ending", ["csv", "parquet", "nc"])
def test_samples_and_one_at_a_time_are_one_dimension(tmp_path: Path, ending: str) -> None:
    single = cup_sweep("body.inside_depth=80,110 mm", "scenario.stands_on=wood,stone", sampling=Sampling.ONE_AT_A_TIME)
    path = written((single, finished(single, tmp_path / "j")), tmp_path / f"a.{ending}")
    if ending == "nc":
        with xr.open_dataset(path, engine="h5netcdf") as found:
            assert found.hold_time.dims == ("until", "design")
            varied, surface = found.varied.values.tolist(), found["scenario_stands_on"].values.tolist()
    elif ending == "parquet":
        table = pq.read_table(path)
        varied, surface = table["varied"].to_pylist(), table["scenario.stands_on"].to_pylist()
    else:
        rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()[2:]))
        varied, surface = [row["varied"] for row in rows], [row["scenario.stands_on"] for row in rows]
    assert varied == ["", *["body.inside_depth"] * 2, *["scenario.stands_on"] * 2]
    assert surface == ["as given"] * 3 + ["wood", "stone"]


def test_the_file_does_not_depend_on_the_chunks(tmp_path: Path) -> None:
    """Stretches are cut where they are cut: chunks of 3 and of 10 make the same ones."""
    found = []
    for name, size in (("a", 3), ("b", 10)):
        journal = Journal(tmp_path / name, {})
        for start in range(0, 20, size):
            count = min(size, 20 - start)
            times = np.arange(start, start + count, dtype=float)[None, :]
            journal.keep(start, replace(small_results(count), hold_times=times))
        found.append([(start, part.hold_times.tolist()) for start, part in stretches(journal, 8)])
    assert found[0] == found[1]
    assert [start for start, _ in found[0]] == [0, 8, 16]


def test_heading_of_a_limit() -> None:
    assert hold_time_name(347.65, Scale.CELSIUS) == "hold_time_74.5C"
    assert hold_time_name(333.15, Scale.KELVIN) == "hold_time_333.15K"


# --- size -----------------------------------------------------------------------------------------------------


def test_far_too_many_designs(monkeypatch: pytest.MonkeyPatch) -> None:
    sweep = cup_sweep("body.inside_depth=80..120 mm:1000000", "scenario.room=10..25 C:1000000")
    assert sweep.plan.count == 10**12
    with pytest.raises(InputError) as caught:
        check_size(sweep)
    line = str(caught.value)
    assert "1 000 000 000 000 designs are too many" in line
    assert "years" in line
    assert "--sample sobol --count 4096" in line


def test_trial_measures_possible_designs() -> None:
    assert trial_rate(cup_sweep("body.inside_depth=80..120 mm:1000000", "scenario.room=10..25 C:1000000")) > 0.0


# --- pictures -------------------------------------------------------------------------------------------------


def test_contours_over_two_numbers(grid: tuple[Sweep, Journal]) -> None:
    picture = sweep_picture(*grid)
    first, second = picture.panels
    assert isinstance(first, Map)
    assert (first.x_label, first.y_label) == ("inside depth [in]", "fill [mL]")
    assert (first.title, second.title) == ("time above 87 °C", "time above 82 °C")
    assert "held: stands on wood" in picture.given


def test_a_picture_of_a_quick_sweep_says_so(tmp_path: Path) -> None:
    sweep = replace(cup_sweep("scenario.stands_on=nothing,wood"), is_quick=True)
    assert "quick: hold times within 0.1 % or 10 s" in sweep_picture(sweep, finished(sweep, tmp_path / "j")).given


def test_lines_over_one_number(tmp_path: Path) -> None:
    sweep = cup_sweep("body.inside_depth=120,80,100 mm", "scenario.stands_on=wood,stone")
    journal = finished(sweep, tmp_path / "j")
    (panel,) = sweep_picture(sweep, journal).panels
    assert isinstance(panel, Curves)
    times = whole(journal).hold_times[0].reshape(2, 3)[:, [1, 2, 0]]
    assert [line.text for line in panel.lines] == ["stands on wood", "stands on stone"]
    assert panel.y_label == "hold time [min]"
    for line, expected in zip(panel.lines, times, strict=True):
        assert line.x == pytest.approx([80.0, 100.0, 120.0])
        assert line.y == pytest.approx(expected / 60.0, rel=1e-5)


def test_bars_over_kinds_longest_first(tmp_path: Path) -> None:
    sweep = cup_sweep("scenario.stands_on=nothing,wood,steel")
    journal = finished(sweep, tmp_path / "j")
    (panel,) = sweep_picture(sweep, journal).panels
    assert isinstance(panel, RowsPanel)
    lengths = [row.tracks[0][0].at for row in panel.rows]
    assert lengths == pytest.approx(sorted(whole(journal).hold_times[0] / 60.0, reverse=True), rel=1e-5)


@pytest.mark.parametrize("sampling", [Sampling.LATIN, Sampling.ONE_AT_A_TIME])
def test_a_panel_for_each_axis(tmp_path: Path, sampling: Sampling) -> None:
    count = 12 if sampling is Sampling.LATIN else None
    sweep = cup_sweep("body.inside_depth=80..120 mm:3", "scenario.stands_on=wood,stone", sampling=sampling, count=count)
    picture = sweep_picture(sweep, finished(sweep, tmp_path / "j"))
    panels = [panel for panel in picture.panels if isinstance(panel, Curves)]
    assert [panel.x_label for panel in panels] == ["inside depth [mm]", "stands on"]
    assert panels[1].ticks == ("wood", "stone")
    assert panels[0].y_span == panels[1].y_span
    assert "time above 87 °C" in picture.given


def test_labelled_arrays_without_a_file(grid: tuple[Sweep, Journal]) -> None:
    found = dataset(*grid, summary_of(*grid), Scale.CELSIUS)
    assert found.sizes == {"until": 2, "body_inside_depth": 3, "scenario_stands_on": 2, "scenario_fill": 2}
    assert isinstance(found.hold_time.values[0, 0, 0, 0], float)


# --- where heat goes, and intervals


def test_a_table_has_the_heat_paths_and_intervals_of_single_predictions(tmp_path: Path) -> None:
    wanted = replace(cup_sweep("body.inside_depth=90,110 mm", "scenario.room=10,20 C"), wants_paths=True, draws=8)
    results = whole(finished(wanted, tmp_path))
    for row in range(4):
        depth, room = ("90 mm", "110 mm")[row // 2], (283.15, 293.15)[row % 2]
        container = with_overrides(CUP, {"body.inside_depth": depth})
        alone = predict(container, SCENARIO.model_copy(update={"room": room}), wanted.limits, draws=8, seed=1)
        split = results.more["heat_paths"][:, row]
        assert split == pytest.approx([*alone.heat_paths.values()], rel=1e-12)
        hold = alone.hold_times[0]
        assert (results.more["low"][0, row], results.more["high"][0, row]) == pytest.approx((hold.low, hold.high))


def test_paths_and_intervals_do_not_depend_on_the_chunks(tmp_path: Path) -> None:
    wanted = replace(cup_sweep("body.inside_depth=80..120 mm:5"), wants_paths=True, draws=4)
    one, many = (whole(finished(wanted, tmp_path / str(chunk), chunk)) for chunk in (5, 2))
    for name in ("heat_paths", "low", "high"):
        assert one.more[name].tobytes() == many.more[name].tobytes()


def test_paths_and_intervals_stand_in_every_format(tmp_path: Path) -> None:
    wanted = replace(cup_sweep("body.inside_depth=80,100 mm"), wants_paths=True, draws=4)
    journal = finished(wanted, tmp_path / "j")
    table = pd.read_csv(written((wanted, journal), tmp_path / "a.csv"), comment="#")
    other = pd.read_parquet(written((wanted, journal), tmp_path / "a.parquet"))
    with xr.open_dataset(written((wanted, journal), tmp_path / "a.nc")) as data:
        total = data.heat_loss_coefficient.values.ravel()
        assert data.heat_path_lid.attrs["units"] == "W/K"
        assert (data.hold_time_low <= data.hold_time_high).all()
    assert table["heat_loss_coefficient [W/K]"].to_numpy() == pytest.approx(total)
    assert other["heat_loss_coefficient"].to_numpy() == pytest.approx(total)
    assert {"low_hold_time_87C [s]", "heat_path_vent [W/K]"} <= {*table.columns}


# --- slices of a file


@pytest.mark.parametrize("ending", ["csv", "parquet", "nc"])
def test_a_sweep_is_read_back_from_its_file_alone(grid: tuple[Sweep, Journal], tmp_path: Path, ending: str) -> None:
    sweep, results, scale = read_sweep(written(grid, tmp_path / f"a.{ending}", Scale.FAHRENHEIT))
    assert sweep.inputs() == grid[0].inputs()
    assert results.hold_times.tobytes() == whole(grid[1]).hold_times.tobytes()
    assert scale is Scale.FAHRENHEIT


def test_any_slice_shows_the_times_of_its_designs(tmp_path: Path) -> None:
    wanted = cup_sweep("body.inside_depth=80,90,100 mm", "scenario.room=10,20 C", "body.outside_diameter=85,90 mm")
    journal = finished(wanted, tmp_path)
    times = whole(journal).hold_times[0].reshape(3, 2, 2) / 60.0
    cut = slice_of(wanted.plan, "room", None, "inside_depth", {"outside_diameter": "90 mm"})
    (panel,) = sweep_picture(wanted, journal, cut=cut).panels
    assert isinstance(panel, Curves)
    assert [line.text for line in panel.lines] == [f"inside depth {depth} mm" for depth in (80, 90, 100)]
    for line, expected in zip(panel.lines, times[:, :, 1], strict=True):
        assert np.array(line.y) == pytest.approx(expected, rel=1e-4)
    cut = slice_of(wanted.plan, "outside_diameter", "room", None, {})
    (chart,) = sweep_picture(wanted, journal, cut=cut).panels
    assert isinstance(chart, Map)
    assert np.array(chart.values) == pytest.approx(times[1], rel=1e-4)


@pytest.mark.parametrize(
    ("asked", "at", "message"),
    [
        (("mouth", None, None), {}, r"--across: mouth: is not varied in this sweep; .*varied are: body.inside_depth"),
        (("material", None, None), {}, r"--across: body.wall.material: needs numbers, two at least"),
        (("inside_depth", "inside_depth", None), {}, r"--across: body.inside_depth: is to be two things"),
        (("inside_depth", "room", "material"), {}, r"--lines: goes without --up: a map has no lines"),
        (
            ("inside_depth", None, None),
            {"inside_depth": "80 mm"},
            r"--at: body.inside_depth: is drawn, and can't be held",
        ),
        (
            (None, None, None),
            {"inside_depth": "81 mm"},
            r"--at: body.inside_depth = .81 mm.: was not computed; these were: 80",
        ),
        ((None, None, None), {"inside_depth": "8 kg"}, r"--at: body.inside_depth: .*kg"),
    ],
)
def test_slices_that_are_none(
    asked: tuple[str | None, str | None, str | None], at: dict[str, str], message: str
) -> None:
    plan = cup_sweep(
        "body.inside_depth=80,90 mm", "scenario.room=10,20 C", "body.wall.material=stoneware,stainless_304"
    ).plan
    with pytest.raises(InputError, match=message) as caught:
        slice_of(plan, *asked, at)
    assert len(caught.value.problems) == 1


def test_a_sample_has_no_slices() -> None:
    plan = cup_sweep("body.inside_depth=80..90 mm", sampling=Sampling.SOBOL, count=4).plan
    with pytest.raises(InputError, match="--across: cuts a grid of every combination; this is 'sobol'"):
        slice_of(plan, "inside_depth", None, None, {})


def test_a_quick_sweep_keeps_to_its_promise_and_says_what_it_is(tmp_path: Path) -> None:
    sharp = cup_sweep("body.inside_depth=80..120 mm:5")
    quick = replace(sharp, is_quick=True)
    exact, found = whole(finished(sharp, tmp_path / "a")).hold_times, whole(finished(quick, tmp_path / "b")).hold_times
    assert (np.abs(found - exact) < np.maximum(10.0, 1e-3 * exact)).all()
    assert not np.array_equal(found, exact)
    assert quick.block(3, 4).hold_times[0, 0] == found[0, 3]
    assert quick.inputs()["accuracy"] == module.QUICK
    assert "accuracy" not in sharp.inputs()


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (("outside_diameter", "room", "inside_depth", {}), r"--lines: goes without --up: a map has no lines"),
        (("diameter", None, None, {}), r"--across: diameter: is not varied in this sweep; .*varied are: body\.outside"),
        (("wall.material", None, None, {}), r"--across: body\.wall\.material: needs numbers, two at least"),
        (("room", "room", None, {}), r"--across: scenario\.room: is to be two things; name another axis"),
        (("room", None, None, {"room": "20 C"}), r"scenario\.room"),
        ((None, None, None, {"room": "cold"}), r"--at: scenario\.room: 'cold' does not start with a number"),
        (
            (None, None, None, {"room": "21 C"}),
            r"--at: scenario\.room = '21 C': was not computed; these were: 20 C, 30 C",
        ),
        (
            (None, None, None, {"room": "20 C", "inside_depth": "80 mm", "outside_diameter": "90 mm"}),
            r"--at: no numbers are left to draw over; hold fewer axes than",
        ),
    ],
)
def test_slices_that_can_not_be_cut(asked: tuple[Any, Any, Any, dict[str, str]], message: str) -> None:
    numbers = ("body.outside_diameter=90, 95 mm", "body.inside_depth=80..90 mm:2", "scenario.room=20, 30 C")
    wanted = cup_sweep(*numbers, "body.wall.material=stoneware, borosilicate_glass")
    with pytest.raises(InputError, match=message):
        slice_of(wanted.plan, *asked)


def test_only_a_grid_is_cut() -> None:
    drawn = cup_sweep("body.inside_depth=80..90 mm", sampling=Sampling.SOBOL, count=4)
    with pytest.raises(InputError, match=r"--across: cuts a grid of every combination; this is 'sobol'"):
        slice_of(drawn.plan, "inside_depth", None, None, {})
    assert slice_of(drawn.plan, None, None, None, {}).across is None
    both = cup_sweep("body.handle.thickness=9, 10 mm", "body.lip.thickness=4, 5 mm")
    with pytest.raises(InputError, match=r"--across: thickness: fits several; write one of: body\.handle"):
        slice_of(both.plan, "thickness", None, None, {})
