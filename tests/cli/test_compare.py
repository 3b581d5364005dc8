"""`holdtime compare`: what it prints and writes, and what it refuses."""

import csv
import json
from pathlib import Path

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
    assert "single_wall_steel" in Path("lists.svg").read_text(encoding="utf-8")


def test_json_is_the_same_in_another_order(holdtime: Command) -> None:
    swapped = ("compare", "stoneware_cup", "single_wall_steel", *QUICK[3:])
    one, other = (holdtime(*words, *FEW, "--json", "--no-cold") for words in (QUICK, swapped))
    assert json.loads(one.stdout) == json.loads(other.stdout)
    document = json.loads(one.stdout)
    assert set(document) == {"hot", "hot_full"}
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
    standings = {row["name"]: row for row in json.loads(result.stdout)["hot"]["standings"]}
    assert all(row["is_calibrated"] for row in standings.values())
    slim, wide = standings["slim_neck_double_seal"], standings["wide_mouth_disc"]
    assert slim["place"] == 1
    assert slim["tier"] < wide["tier"]
    # Measured at 500 mL, predicted at 350 mL: never the same number under two names.
    times = [row["time"] for row in slim["measured_as_run_s"] if row["time"] is not None]
    assert len(times) >= 3
    assert min(times) > slim["predicted_s"]["high"]
