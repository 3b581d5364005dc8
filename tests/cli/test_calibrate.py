"""`holdtime calibrate`, `holdtime validate`, and `--calibration` of a prediction, on a bench of few runs."""

import json
from pathlib import Path

import pytest

from tests.cli.conftest import Command, refused, run
from thermal_model.bench.calibration.calibration_file import KIND
from thermal_model.cli.calibrate import EXAMPLE

BENCH_FILE = """
[probes.log]
resolution = "0.5 K"

[containers.thin_disc_lid]
design = "thin_disc_lid"
"""

READINGS = {
    "hot-1": [(5, 88.5), (60, 79.5), (120, 71.5), (180, 65)],
    "hot-2": [(5, 87.5), (90, 74.5), (180, 64)],
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bench of two runs."""
    folder = tmp_path_factory.mktemp("bench") / "galley"
    folder.mkdir()
    (folder / "bench.toml").write_text(BENCH_FILE)
    runs = ["run,container,probe,fill [mL],poured at [C],room [C]"]
    runs += [f"{name},thin_disc_lid,log,400,90,21" for name in READINGS]
    (folder / "runs.csv").write_text("\n".join(runs) + "\n")
    rows = [f"{name},{time},{shown}" for name, looks in READINGS.items() for time, shown in looks]
    (folder / "readings.csv").write_text("\n".join(["run,time [min],temperature [C]", *rows]) + "\n")
    return folder


@pytest.fixture(scope="module")
def calibrated(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path, Path]:
    """What the command printed, the file and the picture it wrote."""
    out = tmp_path_factory.mktemp("calibrated")
    result = run("calibrate", folder, "--output", out / "galley.json", "--plot", out / "galley.svg")
    assert result.exit_code == 0, result.output
    return result.stdout, out / "galley.json", out / "galley.svg"


def test_it_says_what_the_readings_say_and_how_well_they_foretell(calibrated: tuple[str, Path, Path]) -> None:
    printed, _, picture = calibrated
    text = " ".join(printed.split())
    assert "2 runs of 1 containers, 7 readings, 0 marks" in text
    assert "shine of the walls inside the gap" in text
    assert "Each run predicted from the others (leave one out)" in text
    assert "2 of 2 end inside their 90 % interval" in text
    assert "burn" in text
    assert picture.read_text().startswith("<?xml")


def test_the_file_says_what_it_rests_on(calibrated: tuple[str, Path, Path], folder: Path) -> None:
    document = json.loads(calibrated[1].read_text())
    assert document["kind"] == KIND
    assert {"bench.toml", "runs.csv", "readings.csv"} <= set(document["files_sha256"])
    assert list(document["containers"]) == list(document["designs"]) == ["thin_disc_lid"]
    assert document["validation"]["share_of_runs_inside_90_percent"] == 1.0
    assert len(document["runs"][0]["residual_K"]) == 4


def test_a_prediction_takes_it(holdtime: Command, calibrated: tuple[str, Path, Path]) -> None:
    asked = ("predict", "thin_disc_lid", "--fill", "400mL", "--until", "60C", "--draws", "40", "--json")
    plain = json.loads(holdtime(*asked).stdout)
    known = json.loads(holdtime(*asked, "--calibration", calibrated[1]).stdout)
    assert known["calibration"]["container"] == "thin_disc_lid"
    widths = [d["hold_times"][0]["high_s"] - d["hold_times"][0]["low_s"] for d in (plain, known)]
    assert widths[1] < 0.7 * widths[0]


def test_a_benched_container_is_predicted_by_its_name(holdtime: Command, calibrated: tuple[str, Path, Path]) -> None:
    asked = ("--fill", "400mL", "--until", "60C", "--no-interval", "--calibration", calibrated[1], "--json")
    document = json.loads(holdtime("predict", "thin_disc_lid", *asked).stdout)
    assert document["calibration"]["container"] == "thin_disc_lid"


def test_another_design_takes_what_is_common_and_says_so(holdtime: Command, calibrated: tuple[str, Path, Path]) -> None:
    asked = ("predict", "wide_mouth_disc", "--no-interval", "--calibration", calibrated[1])
    assert "was not on the bench" in " ".join(holdtime(*asked).stdout.split())
    named = holdtime(*asked, "--calibrated-as", "thin_disc_lid").stdout
    assert "as thin_disc_lid." in " ".join(named.split())


def test_validate_prints_and_writes_the_same(holdtime: Command, folder: Path) -> None:
    result = holdtime("validate", folder, "--output", "validation.json")
    assert result.exit_code == 0, result.output
    document = json.loads(Path("validation.json").read_text())
    assert [item["run"] for item in document["runs"]] == list(READINGS)
    for item in document["runs"]:
        assert f"{item['error_K']:+.1f} K" in result.stdout
    assert json.loads(holdtime("validate", folder, "--json").stdout) == document
    shown = document["picture"]["panels"][1]["rows"]
    assert {row["name"] for row in shown} == {run["run"] for run in document["runs"]}
    bar = shown[0]["tracks"][0][0]
    assert ("is_hollow" in bar) == (not bar["low"] <= bar["at"] <= bar["high"])
    assert holdtime("redraw", "validation.json", "--plot", "validation.svg").exit_code == 0


@pytest.mark.parametrize("command", ["calibrate", "validate"])
def test_no_bench_is_refused(holdtime: Command, command: str) -> None:
    refused(holdtime(command, "nowhere"), "nowhere")


def test_what_goes_wrong_with_a_calibration_is_one_line(holdtime: Command, calibrated: tuple[str, Path, Path]) -> None:
    ask = ("predict", "thin_disc_lid", "--no-interval")
    refused(holdtime(*ask, "--calibrated-as", "thin_disc_lid"), "goes with --calibration FILE")
    refused(holdtime(*ask, "--calibration", "nowhere.json"), "there is no such file")
    refused(holdtime(*ask, "--calibration", calibrated[1], "--calibrated-as", "thin_disc"), "did you mean")
    refused(holdtime("calibrate", "nowhere", "--output", "no/such/folder.json"), "nowhere", "there is no folder")


def test_nothing_in_the_bench_is_changed(folder: Path, calibrated: tuple[str, Path, Path]) -> None:
    import hashlib

    digests = json.loads(calibrated[1].read_text())["files_sha256"]
    for name, digest in digests.items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest
    assert {path.name for path in folder.iterdir()} == set(digests)


def test_the_help_page_has_the_example(holdtime: Command) -> None:
    assert EXAMPLE in " ".join(holdtime("calibrate", "--help").stdout.split())
