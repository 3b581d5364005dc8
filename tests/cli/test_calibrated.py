"""Commands that vary a design start from what a bench says of it, as `predict` does."""

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from geometries.design_file import load_container, save_container
from geometries.overrides import with_overrides
from tests.cli.calibration_files import calibration
from tests.cli.conftest import Command, refused

CASE = ("single_wall_steel", "--fill", "200mL", "--until", "60C")
FILM = "exterior_film"
AS_IT_IS = ("--vary", "scenario.room=19,20 C")


@pytest.fixture
def known(tmp_path: Path) -> Path:
    """A container that radiates more and is thicker at the lid than it looks."""
    moved = {"exterior_emissivity": 3.0, "lid_thickness": 2.0, "exterior_film": 1.0}
    return calibration(tmp_path / "known.json", single_wall_steel=moved)


def answer(holdtime: Command, *arguments: object) -> dict[str, Any]:
    result = holdtime(*arguments, "--json")
    assert result.exit_code == 0, result.output
    document: dict[str, Any] = json.loads(result.stdout)
    return document


def test_a_sweep_starts_where_the_prediction_is(holdtime: Command, known: Path) -> None:
    best = answer(holdtime, "predict", *CASE, "--no-interval", "--calibration", known)["hold_times"][0]["nominal_s"]
    plain = answer(holdtime, "predict", *CASE, "--no-interval")["hold_times"][0]["nominal_s"]
    result = holdtime("sweep", *CASE, "--vary", "scenario.room=20,25 C", "--calibration", known, "--output", "s.csv")
    assert result.exit_code == 0, result.output
    assert "Calibrated on galley_bench" in result.stdout
    lines = [line for line in Path("s.csv").read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    first = next(csv.DictReader(lines))
    assert abs(best / plain - 1.0) > 0.03
    assert float(first["hold_time_60C [s]"]) == pytest.approx(best, rel=1e-6)


def test_another_calibration_is_another_sweep(holdtime: Command, known: Path) -> None:
    """The journal of one must not go on with the other: hold times differ, byte for byte."""
    options = ("sweep", *CASE, "--vary", "scenario.room=20,25 C")
    holdtime(*options, "--output", "plain.csv")
    holdtime(*options, "--output", "known.csv", "--calibration", known)
    assert Path("plain.csv").read_bytes() != Path("known.csv").read_bytes()


def test_sensitivity_starts_there_too(holdtime: Command, known: Path) -> None:
    best = answer(holdtime, "predict", *CASE, "--no-interval", "--calibration", known)["hold_times"][0]["nominal_s"]
    found = answer(holdtime, "sensitivity", *CASE, "--over", "unknowns", "--calibration", known)
    assert found["hold_time_s"] == pytest.approx(best, rel=1e-6)
    assert found["calibration"]["container"] == "single_wall_steel"
    plain = answer(holdtime, "sensitivity", *CASE, "--over", "unknowns")
    known_to, plain_to = (
        next(e["one_deviation_below_s"] - e["one_deviation_above_s"] for e in d["unknowns"] if e["name"] == FILM)
        for d in (found, plain)
    )
    # To a tenth of its prior.
    assert known_to == pytest.approx(0.1 * plain_to, rel=0.25)


def test_unknowns_that_hang_together_have_no_indices(holdtime: Command, known: Path) -> None:
    pytest.importorskip("SALib")
    refused(
        holdtime("sensitivity", *CASE, "--global", "--over", "unknowns", "--calibration", known), "--over", "--local"
    )


def test_intervals_of_a_screening_are_those_of_the_prediction(holdtime: Command, known: Path) -> None:
    best = answer(holdtime, "predict", *CASE, "--draws", "64", "--calibration", known)["hold_times"][0]
    options = ("screen", *CASE, *AS_IT_IS, "--draws", "64", "--calibration", known)
    design = answer(holdtime, *options)["front"][0]
    assert design["hold_time_s"] == pytest.approx(best["nominal_s"], rel=1e-6)
    assert [design["low_s"], design["high_s"]] == pytest.approx([best["low_s"], best["high_s"]], rel=0.02)


def test_a_calibration_of_another_name_is_refused(holdtime: Command, known: Path) -> None:
    for command in ("sweep", "sensitivity", "screen"):
        vary = AS_IT_IS if command != "sensitivity" else ()
        options = (command, *CASE, *vary, "--calibration", known, "--calibrated-as", "mug")
        refused(holdtime(*options), "--calibrated-as", "mug")


def test_a_container_is_found_by_its_name_in_the_calibration(holdtime: Command, tmp_path: Path) -> None:
    """As it stands on the bench, with what was changed in that piece; a file of the name comes first."""
    file = calibration(tmp_path / "known.json", piece={"exterior_film": 1.0})
    piece = with_overrides(load_container("single_wall_steel"), {"name": "piece", "body.neck.mouth_diameter": "48 mm"})
    document = json.loads(file.read_text(encoding="utf-8"))
    document["designs"] = {"piece": piece.model_dump(mode="json", exclude_unset=True)}
    file.write_text(json.dumps(document), encoding="utf-8")
    asked = ("--fill", "200mL", "--until", "60C", "--no-interval", "--calibration", file)
    found = answer(holdtime, "predict", "piece", *asked)
    assert found["inputs"]["design"]["body"]["neck"]["mouth_diameter"] == "48 mm"
    assert found["calibration"]["container"] == "piece"
    save_container(piece, "mine.toml")
    same = answer(holdtime, "predict", "mine.toml", *asked, "--calibrated-as", "piece")
    assert same["hold_times"] == found["hold_times"]
    refused(holdtime("predict", "pice", *asked), "neither a file nor in the catalogue", "calibrated in", "piece")
    assert holdtime("carry", "piece", *asked, "--to", "tea_at_the_counter").exit_code == 0
    document["designs"] = {"piece": {"name": "piece"}}
    file.write_text(json.dumps(document), encoding="utf-8")
    refused(holdtime("predict", "piece", *asked), "known.json: piece: body")


WARNING = "the fit did not come to rest, so that it can't be trusted"
HOLDS = ("single_wall_steel", "--fill", "200mL")
UNTIL = ("--until", "60C")
FEW = ("--draws", "20")


@pytest.mark.parametrize(
    "command",
    [
        ("predict", *CASE, "--no-interval"),
        ("sensitivity", *CASE, "--over", "unknowns"),
        ("sweep", *CASE, "--vary", "scenario.room=19,20 C"),
        ("screen", *CASE, "--vary", "body.outside_diameter=80..90 mm", "--count", "4"),
        ("compare", "single_wall_steel", "stoneware_cup", "--fill", "200mL", *UNTIL, *FEW),
        ("carry", *HOLDS, *FEW),
        ("explain", "single_wall_steel", "stoneware_cup", "--fill", "200mL", *UNTIL),
        ("check", *HOLDS, "--claim", "hot for 1 h", "--above", "60C", "--start", "95C", "--room", "20C", *FEW),
        ("plan", "run", *CASE),
    ],
    ids=lambda command: command[0],
)
def test_a_calibrations_warning_is_told_by_whoever_uses_it(
    holdtime: Command, tmp_path: Path, command: tuple[str, ...]
) -> None:
    known = calibration(tmp_path / "doubtful.json", (WARNING,), single_wall_steel={})
    told = holdtime(*command, "--calibration", known)
    assert told.exit_code == 0, told.output
    assert WARNING in " ".join(told.stdout.split())
    assert WARNING in json.dumps(answer(holdtime, *command, "--calibration", known))
