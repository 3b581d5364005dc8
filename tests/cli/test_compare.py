"""`holdtime compare`: what it prints and writes, and what it refuses."""

import csv
import json
import re
from pathlib import Path

import pytest

from geometries.design_file import load_container
from tests.cli.calibration_files import calibration
from tests.cli.conftest import Command, refused

QUICK = ("compare", "single_wall_steel", "stoneware_cup", "--fill", "200mL", "--start", "80C", "--until", "70C")
FEW = ("--draws", "10")


def test_lists_in_words_csv_and_picture(holdtime: Command) -> None:
    result = holdtime(*QUICK, *FEW, "--csv", "lists.csv", "--plot", "lists.svg")
    assert result.exit_code == 0, result.output
    for words in ("Common conditions", "Each at its own full fill", "Cold", "By capacity", "no reading has been used"):
        assert words in result.stdout
    assert "no food-safety record" in result.stdout
    rows = list(csv.DictReader(Path("lists.csv").read_text(encoding="utf-8").splitlines()))
    assert {row["list"] for row in rows} == {"hot", "hot, full", "cold"}
    assert all(float(row["low [h]"]) < float(row["hold time [h]"]) < float(row["high [h]"]) for row in rows)
    # By its title, as its design has it.
    assert load_container("single_wall_steel").title in Path("lists.svg").read_text(encoding="utf-8")


def test_json_is_the_same_in_another_order(holdtime: Command) -> None:
    swapped = ("compare", "stoneware_cup", "single_wall_steel", *QUICK[3:])
    one, other = (holdtime(*words, *FEW, "--json", "--no-cold") for words in (QUICK, swapped))
    assert json.loads(one.stdout) == json.loads(other.stdout)
    document = json.loads(one.stdout)
    assert set(document) == {"hot", "hot_full", "calibration_warnings", "picture"}
    assert document["calibration_warnings"] == []
    best, last = document["hot"]["standings"]
    assert best["place"] == 1
    assert 0.0 <= best["probability_beats_next"] <= 1.0
    assert last["probability_beats_next"] is None
    assert abs(sum(best["heat_path_shares"].values()) - 1.0) < 1e-9


def test_cold_conditions_alone_have_no_second_list(holdtime: Command) -> None:
    words = ("compare", "single_wall_steel", "stoneware_cup", "--start", "4C", "--until", "10C", "--no-interval")
    result = holdtime(*words)
    assert result.exit_code == 0, result.output
    assert "Cold" not in result.stdout
    assert "nothing says which differences are real" in result.stdout


def test_refusals(holdtime: Command) -> None:
    refused(holdtime("compare", "stoneware_cup", "stoneware_cup"), "given twice: stoneware_cup")
    refused(holdtime("compare", "stonewar_cup"), "stoneware_cup")
    refused(holdtime(*QUICK, "--cold-until", "2C"), "--cold-until", "is not above the cold start")
    refused(holdtime(*QUICK, "--cold-start", "4 mL"), "--cold-start")
    refused(holdtime(*QUICK[:-1], "85C"), "--until")
    refused(holdtime(*QUICK, "--plot", "lists.doc"), ".png")
    refused(holdtime("compare", "stoneware_cup", "--fill", "5 L"), "--fill")


def test_bench_from_raw_readings_to_lists(holdtime: Command) -> None:
    assert holdtime("bench", "demo", "galley").exit_code == 0
    result = holdtime("compare", "galley", "--fill", "350mL", "--until", "60C", *FEW, "--no-cold", "--json")
    assert result.exit_code == 0, result.output
    document = json.loads(result.stdout)
    standings = {row["name"]: row for row in document["hot"]["standings"]}
    assert all(row["is_calibrated"] for row in standings.values())
    slim, wide = standings["slim_neck_double_seal"], standings["wide_mouth_disc"]
    assert slim["place"] == 1
    assert slim["tier"] < wide["tier"]
    # Measured at 500 mL, predicted at 350 mL: what was measured stands beside the model at 500 mL.
    runs = [row for row in document["measured"] if row["container"] == "slim_neck_double_seal"]
    told = [row for row in runs if row["measured_s"]["time"] is not None]
    assert len(told) >= 3
    assert [row["fill_m3"] for row in told] == pytest.approx([500e-6] * len(told))
    assert min(row["measured_s"]["time"] for row in told) > slim["predicted_s"]["median"]
    meet = [
        row["model_s"]["low"] < row["measured_s"]["high"] and row["measured_s"]["low"] < row["model_s"]["high"]
        for row in told
    ]
    assert sum(meet) >= len(told) - 1  # intervals of nine in ten
    assert all(row["model_s"]["median"] > slim["predicted_s"]["median"] for row in told)


def test_what_was_measured_stands_in_its_own_conditions(holdtime: Command) -> None:
    assert holdtime("bench", "demo", "galley").exit_code == 0
    text = holdtime("compare", "galley", "--fill", "350mL", "--until", "60C", "--no-interval", "--no-cold").stdout
    assert "Measured, and the model in the same conditions: time to 60 °C, each run at its own fill" in text
    assert re.search(r"slim_neck_double_seal +slim-1 +500 mL +92 °C +20\.5 °C +7 h", text)
    assert "measured, as run" not in text


def test_only_what_was_on_the_bench_is_said_to_be_corrected(holdtime: Command, tmp_path: Path) -> None:
    file = str(calibration(tmp_path / "cal.json", stoneware_cup={"exterior_film": 2.0}))
    words = (*QUICK, "--no-interval", "--no-cold", "--calibration", file)
    text = holdtime(*words).stdout
    assert "corrected by bench readings for 1 of 2: stoneware_cup." in text
    assert "Never on the bench: single_wall_steel" in text
    standings = json.loads(holdtime(*words, "--json").stdout)["hot"]["standings"]
    assert {row["name"]: row["calibrated_as"] for row in standings} == {
        "stoneware_cup": "stoneware_cup",
        "single_wall_steel": None,
    }
    assert [row["is_calibrated"] for row in standings] == [row["calibrated_as"] is not None for row in standings]
    neither = str(calibration(tmp_path / "other.json", flask={}))
    assert "none of them was on the bench" in " ".join(holdtime(*words[:-1], neither).stdout.split())


def test_which_benched_container_a_design_is_can_be_said(holdtime: Command, tmp_path: Path) -> None:
    file = str(calibration(tmp_path / "cal.json", mug={"exterior_film": 2.0}))
    words = (*QUICK, "--no-interval", "--no-cold", "--calibration", file)
    as_mug = ("--calibrated-as", "stoneware_cup=mug")
    assert "1 of 2: stoneware_cup (as mug)." in " ".join(holdtime(*words, *as_mug).stdout.split())

    def cup(*more: str) -> float:
        standings = json.loads(holdtime(*words, *more, "--json").stdout)["hot"]["standings"]
        return next(float(row["predicted_s"]["nominal"]) for row in standings if row["name"] == "stoneware_cup")

    assert cup(*as_mug) < cup()
    refused(holdtime(*words, "--calibrated-as", "stoneware_cup=jug"), "--calibrated-as jug", "mug")
    refused(holdtime(*words, "--calibrated-as", "tumbler=mug"), "'tumbler' is none of the designs: single_wall_steel")
    refused(holdtime(*QUICK, *as_mug), "--calibrated-as: goes with --calibration FILE")


def test_two_benches_and_a_design_in_one_ranking(holdtime: Command, tmp_path: Path) -> None:
    for name in ("north", "south"):
        assert holdtime("bench", "demo", name).exit_code == 0
        file = tmp_path / name / "bench.toml"
        file.write_text(file.read_text().replace('name = "galley_bench"', f'name = "{name}"'))
    words = ("compare", "north", "south", "thin_disc_lid", "--no-cold", "--draws", 20, "--json")
    found = json.loads(holdtime(*words).stdout)
    names = {row["name"] for row in found["hot"]["standings"]}
    assert {"thin_disc_lid", "stoneware_cup", "slim_neck_double_seal"} <= names
    assert len(names) == 5
    assert {"slim-1 (north)", "slim-1 (south)"} <= {row["run"] for row in found["measured"]}
    file.write_text(file.read_text().replace('design = "stoneware_cup"', 'design = "thin_disc_lid"'))
    refused(holdtime("compare", "north", "south"), "stoneware_cup", "one design on north and another on south")
    refused(holdtime("compare", "north", "north"), "given twice")
    refused(holdtime("compare", "north", "south", "--calibration", "a.json"), "--calibration", "one bench folder")
