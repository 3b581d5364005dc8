"""`import thermal_model` offers functions, lazily; quantities go in however written, results come out in SI."""

import importlib
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pint
import pytest

import geometries
import thermal_model as tm
from thermal_model.prediction import predict as predict_in_si

ROOT = Path(__file__).parents[3]
UNITS: pint.UnitRegistry = pint.UnitRegistry()
FLASK, OTHER = "slim_neck_double_seal", "single_seal_plug"
TEA = {"contents": "tea", "fill": "400 mL"}


def test_importing_imports_nothing_slow() -> None:
    code = (
        "import sys, geometries, thermal_model as tm; before = set(sys.modules); dir(tm); tm.load_container;"
        "print(*(name for name in ('numpy', 'pydantic', 'scipy') if name in before));"
        "print('pydantic' in sys.modules, 'scipy' in sys.modules, 'matplotlib' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.split("\n")[:2] == ["", "True False False"]


@pytest.mark.parametrize("package", [tm, geometries], ids=lambda package: package.__name__)
def test_public_names_are_found_and_documented(package) -> None:
    assert package.__all__
    for name in package.__all__:
        found = getattr(package, name)
        assert name == "__version__" or found.__doc__, name


@pytest.mark.parametrize("package", [tm, geometries], ids=lambda package: package.__name__)
def test_a_public_name_is_never_that_of_a_module(package) -> None:
    folder = Path(package.__file__).parent
    modules = {path.stem for path in folder.iterdir() if path.suffix == ".py" or path.is_dir()}
    assert not modules & set(package.__all__)
    for module in sorted(modules - {"__init__", "__pycache__", "catalogue", "scenarios"}):
        if (folder / f"{module}.py").exists():
            importlib.import_module(f"{package.__name__}.{module}")
    assert callable(tm.predict)
    assert callable(tm.explain)


@pytest.mark.parametrize("package", [tm, geometries], ids=lambda package: package.__name__)
def test_packages_say_that_they_are_typed(package) -> None:
    assert (Path(package.__file__).parent / "py.typed").is_file()


def test_the_version_is_that_of_the_distribution() -> None:
    assert tm.__version__ == importlib.import_module("importlib.metadata").version("holdtime")


@pytest.mark.parametrize(
    ("start", "fill", "limit"),
    [
        ("90 C", "500 mL", "60 C"),
        ("194 F", "0.5 L", "140 F"),
        (363.15, 5e-4, 333.15),
        (np.float64(363.15), np.float64(5e-4), np.float64(333.15)),
        (UNITS.Quantity(90, "degC"), UNITS.Quantity(500, "mL"), UNITS.Quantity(60, "degC")),
        (pint.UnitRegistry().Quantity(363.15, "K"), "500 mL", UNITS.Quantity(333.15, "kelvin")),
    ],
)
def test_a_quantity_is_the_same_however_it_is_given(start, fill, limit) -> None:
    found = tm.predict(FLASK, tm.Scenario(start=start, fill=fill), until=limit, draws=0)
    direct = predict_in_si(tm.load_container(FLASK), tm.Scenario(start="90 C", fill="500 mL"), [333.15], draws=0)
    assert found.hold_times[0].nominal == pytest.approx(direct.hold_times[0].nominal, rel=1e-9)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"fill": "48"}, "fill: '48' has no unit"),
        ({"start": -5.0}, "start: -5.0 is below absolute zero; a plain number is in kelvin"),
        ({"start": UNITS.Quantity(60, "delta_degC")}, "start: .* is a temperature difference"),
        ({"start": UNITS.Quantity(60, "m")}, "start: 60 meter is not a temperature"),
        ({"start": UNITS.Quantity([60, 70], "degC")}, "start: .* is not a temperature"),
        ({"room_profile": {"times": [0], "temperatures": [293], "shift": UNITS.Quantity(2, "degC")}}, "delta_degC"),
        ({"start": True}, "start: True is not a temperature"),
        ({"fill": float("nan")}, "fill: nan is not a finite number"),
        ({"fil": "1 L"}, "did you mean 'fill'"),
    ],
)
def test_a_wrong_quantity_is_refused_in_a_line(fields, message) -> None:
    with pytest.raises(tm.InputError, match=message):
        tm.predict(FLASK, fields, until="60 C")


def test_every_wrong_limit_is_named() -> None:
    with pytest.raises(tm.InputError) as caught:
        tm.predict(FLASK, until=["60", "5 kg", "50 C"])
    assert str(caught.value).splitlines() == [
        "until: '60' has no unit; give the unit, for example '74 C'",
        "until: '5 kg' is not a temperature; use C, F, K",
    ]


def test_one_question_takes_one_limit() -> None:
    with pytest.raises(tm.InputError, match="one limit temperature is wanted here, not 2"):
        tm.sensitivity(FLASK, until=["60 C", "50 C"])


def test_changes_are_checked() -> None:
    flask = tm.load_container(FLASK)
    changed = tm.with_changes(flask, {"lid.plug.clearance": UNITS.Quantity(1, "mm"), "body.neck.mouth_diameter": 0.05})
    assert (changed.lid.plug.clearance, changed.body.neck.mouth_diameter) == (0.001, 0.05)
    assert tm.with_changes(tm.Scenario(), {"wind": "10 kn", "fill": 4e-4}).fill == 4e-4
    with pytest.raises(
        tm.InputError, match=r"body\.neck\.mouth_diameter: -0\.05 is not allowed; it must be above zero"
    ):
        tm.with_changes(flask, {"body.neck.mouth_diameter": -0.05})


def test_a_design_of_its_own() -> None:
    cup = tm.Container(
        name="paper_cup",
        body=geometries.Body(
            inside_diameter=0.08, inside_depth="95 mm", wall={"kind": "single", "material": "polypropylene"}
        ),
    )
    assert tm.predict(cup, until="60 C", draws=0).hold_times[0].nominal > 600.0


def test_a_sweep_is_a_labelled_array() -> None:
    vary = {"body.neck.mouth_diameter": [0.04, UNITS.Quantity(5, "cm"), "60 mm"], "lid.seals": [1, 2]}
    found = tm.sweep(FLASK, TEA, vary=vary, until=["60 C", 323.15])
    assert found.hold_time.dims == ("until", "body_neck_mouth_diameter", "lid_seals")
    assert found.hold_time.attrs["units"] == "s"
    assert found["body_neck_mouth_diameter"].values.tolist() == [40.0, 50.0, 60.0]
    assert found["body_neck_mouth_diameter"].attrs["units"] == "mm"
    alone = tm.predict(
        tm.with_changes(tm.load_container(FLASK), {"body.neck.mouth_diameter": 0.05}), TEA, until="60 C", draws=0
    )
    point = found.hold_time.sel(until=60.0, body_neck_mouth_diameter=50.0, lid_seals=2)
    assert float(point) == pytest.approx(alone.hold_times[0].nominal, rel=1e-6)


def test_typed_ranges_and_values_agree() -> None:
    typed = tm.sweep(FLASK, TEA, vary={"body.neck.mouth_diameter": "40..50 mm:2"}, until="60 C")
    given = tm.sweep(FLASK, TEA, vary={"body.neck.mouth_diameter": np.array([0.04, 0.05])}, until="60 C")  # type: ignore[dict-item]
    assert typed.hold_time.values.tolist() == given.hold_time.values.tolist()


@pytest.mark.parametrize(
    ("vary", "message"),
    [
        ({}, "give what to vary"),
        ({"body.neck.mouth_diameter": []}, "needs at least one value"),
        ({"body.neck.mouth_diameter": [0.04, "40 mm"]}, "a value comes twice"),
        ({"body.neck.mouth_diameter": [0.04, -1.0]}, "must be above zero"),
        ({"body.neck.mouth": [0.04, 0.05]}, "body.neck.mouth"),
    ],
)
def test_a_sweep_that_can_not_be_is_refused(vary, message) -> None:
    with pytest.raises(tm.InputError, match=message):
        tm.sweep(FLASK, TEA, vary=vary, until="60 C")


def test_sensitivity_ranks_dimensions_and_unknowns() -> None:
    found = tm.sensitivity(FLASK, TEA, until="60 C", over="both")
    sizes = [abs(effect.value) for effect in found.elasticities]
    assert sizes == sorted(sizes, reverse=True)
    assert found.unknowns
    assert not tm.sensitivity(FLASK, TEA, until="60 C").unknowns


def test_compare_and_explain_agree_on_who_holds_longer() -> None:
    ranking = tm.compare([FLASK, OTHER], TEA, until="60 C", draws=0)
    pair = tm.explain(FLASK, OTHER, TEA, until="60 C")
    held = {standing.entry.name: standing.nominal for standing in ranking.standings}
    assert pair.first_time.nominal - pair.second_time.nominal == pytest.approx(held[FLASK] - held[OTHER], rel=1e-6)
    assert sum(share.seconds.nominal for share in pair.shares()) == pytest.approx(pair.seconds.nominal, rel=1e-6)


def test_two_of_one_name_are_not_compared() -> None:
    flask = tm.load_container(FLASK)
    with pytest.raises(tm.InputError, match="two of the designs have one name"):
        tm.compare([flask, flask], TEA, until="60 C")
    assert len(tm.compare({"one": flask, "two": flask}, TEA, until="60 C", draws=0).standings) == 2


def test_a_prediction_comes_with_cautions() -> None:
    lines = tm.cautions(tm.predict(FLASK, TEA, until="60 C", draws=0))
    assert any("burn" in line or "scald" in line for line in lines)


# --- records --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def records() -> list:
    flask = tm.load_container(FLASK)
    return [
        flask,
        tm.Scenario(fill=4.1e-4, start="90 C", openings=[{"at": "1 h", "pour": "100 mL"}], room_profile=None),
        tm.predict(flask, TEA, until="60 C", draws=20),
        tm.sensitivity(flask, TEA, until="60 C", over="both"),
        tm.compare([FLASK, OTHER], TEA, until="60 C", draws=5),
        tm.explain(FLASK, OTHER, TEA, until="60 C"),
    ]


def test_json_reads_back_as_the_same_record(records) -> None:
    for record in records:
        text = tm.to_json(record)
        json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
        found = tm.from_json(text)
        assert type(found) is type(record)
        assert tm.to_json(found) == text
    assert tm.from_json(tm.to_json(records[0])) == records[0]
    assert tm.from_json(tm.to_json(records[1])) == records[1]
    curve = tm.from_json(tm.to_json(records[2])).curve
    assert np.array_equal(curve.low, records[2].curve.low)


@pytest.mark.parametrize("text", ["{", "[]", '{"record": "Prediction"}', '{"record": "os", "data": {}}'])
def test_what_is_no_record_is_refused(text) -> None:
    with pytest.raises(tm.InputError, match=r"is no record|is not JSON"):
        tm.from_json(text)


def test_a_damaged_record_names_its_place(records) -> None:
    document = json.loads(tm.to_json(records[0]))
    document["data"]["body"]["neck"]["mouth_diameter"] = "44 kg"
    with pytest.raises(tm.InputError, match=r"body\.neck\.mouth_diameter: .*'44 kg' is not a length"):
        tm.from_json(json.dumps(document))


def test_what_has_no_json_form_says_so() -> None:
    with pytest.raises(TypeError, match="dict has no JSON form"):
        tm.to_json({})  # type: ignore[type-var]


def test_records_show_themselves(records) -> None:
    for record in records:
        line, text, page = repr(record), str(record), record._repr_html_()
        assert line.startswith(f"<{type(record).__name__} ")
        assert "\n" not in line
        assert len(line) < 160
        assert text.count("\n") >= 1
        assert page.count("<table>") == page.count("</table>") >= 1
        assert "array(" not in page


def test_a_page_is_escaped() -> None:
    flask = tm.with_changes(tm.load_container(FLASK), {"summary": "<script> & more"})
    assert "&lt;script&gt; &amp; more" in flask._repr_html_()


# --- bench ----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def calibrated(tmp_path_factory):
    from thermal_model.bench.write.demo import write_demo

    folder = tmp_path_factory.mktemp("bench") / "galley"
    folder.mkdir()
    write_demo(folder)
    bench = tm.read_bench(str(folder))
    return bench, tm.calibrate(bench)


def test_a_bench_calibrates_every_function(calibrated, tmp_path) -> None:
    bench, calibration = calibrated
    file = tmp_path / "galley.json"
    tm.save_calibration(calibration, file)
    known = tm.load_calibration(file)
    assert set(known.containers) == set(bench.containers)
    name = next(iter(bench.containers))
    about = {"until": "60 C", "draws": 20}
    by_record, by_file, by_path = (
        tm.predict(bench.containers[name], TEA, calibration=each, **about).hold_times[0].nominal
        for each in (calibration, known, str(file))
    )
    without = tm.predict(bench.containers[name], TEA, **about).hold_times[0].nominal
    assert by_file == by_path == pytest.approx(by_record, rel=1e-6)
    assert abs(by_record / without - 1.0) > 1e-3
    ranking = tm.compare(bench.containers, TEA, until="60 C", draws=10, calibration=known)
    assert all(standing.entry.belief is not None for standing in ranking.standings)


def test_a_name_that_was_not_on_the_bench_is_refused(calibrated) -> None:
    with pytest.raises(tm.InputError, match="calibrated_as = 'teapot': on the bench were"):
        tm.predict(FLASK, TEA, until="60 C", calibration=calibrated[1], calibrated_as="teapot")
    with pytest.raises(tm.InputError, match="calibrated_as: goes with calibration"):
        tm.predict(FLASK, TEA, until="60 C", calibrated_as=FLASK)


def test_a_bench_and_a_calibration_show_themselves(calibrated) -> None:
    bench, calibration = calibrated
    assert repr(bench).startswith("<Bench ")
    assert repr(calibration).startswith("<Calibration on ")
    assert "left of its spread" in calibration._repr_html_()
    assert tm.to_json(tm.from_json(tm.to_json(bench))) == tm.to_json(bench)
