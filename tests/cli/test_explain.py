"""`holdtime explain`: pairs, one container in two conditions, and a whole set."""

import json
import math
import re
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calibration_files import calibration
from tests.cli.conftest import Command, refused

QUICK = ("explain", "single_wall_steel", "single_wall_steel", "--fill", "200mL")
WIDER = ("--set-b", "body.neck.mouth_diameter='52 mm'".replace("'", ""), "--set-b", "body.exterior.surface=paint")


def answer(holdtime: Command, *arguments: object) -> dict[str, Any]:
    result = holdtime(*arguments, "--json")
    assert result.exit_code == 0, result.output
    document: dict[str, Any] = json.loads(result.stdout)
    return document


def both(holdtime: Command, *arguments: object) -> tuple[dict[str, Any], str]:
    """JSON object and text on one line, of one run."""
    result = holdtime(*arguments, "--output", "answer.json")
    assert result.exit_code == 0, result.output
    return json.loads(Path("answer.json").read_text(encoding="utf-8")), " ".join(result.stdout.split())


# --- pairs ----------------------------------------------------------------------------------------------------


def test_shares_add_up_and_say_what_both_have(holdtime: Command) -> None:
    document = answer(holdtime, *QUICK, *WIDER, "--draws", "6")
    shares = {share["part"]: share for share in document["shares"]}
    assert set(shares) == {"mouth", "wall and gap"}
    total = sum(share["log_ratio"]["nominal"] for share in shares.values())
    assert total == pytest.approx(document["log_ratio"]["nominal"], rel=1e-9)
    times = document["hold_time_A_s"]["nominal"], document["hold_time_B_s"]["nominal"]
    assert total == pytest.approx(math.log(times[0] / times[1]), rel=1e-9)
    assert sum(s["difference_s"]["nominal"] for s in shares.values()) == pytest.approx(times[0] - times[1], rel=1e-9)
    assert (shares["mouth"]["A"], shares["mouth"]["B"]) == ("42 mm wide", "52 mm wide")
    assert document["combinations"] == 4
    assert document["inputs"]["seed"] == 1
    for share in shares.values():
        assert share["log_ratio"]["low"] <= share["log_ratio"]["median"] <= share["log_ratio"]["high"]


def test_text_and_picture(holdtime: Command) -> None:
    result = holdtime(*QUICK, *WIDER, "--no-interval", "--plot", "why.svg", "--if", "Mouth")
    assert result.exit_code == 0, result.output
    flat = " ".join(result.stdout.split())
    assert "Where A gains on B (+) and where it loses (−)" in flat
    assert re.search(r"wall and gap \+\d+ min", flat)
    assert "the same in both, and so without a share: lid layers, plug and seals, neck, base, capacity" in flat
    assert re.search(r"If A had the mouth of B, it would hold \d+ min", flat)
    assert "Shapley 1953" in flat
    assert "no food-safety record" in flat
    picture = Path("why.svg").read_text(encoding="utf-8")
    assert "hours that A gains (right) or loses (left) against B" in picture


def test_a_part_given_is_what_predict_says_of_that_design(holdtime: Command) -> None:
    given = answer(holdtime, *QUICK, *WIDER, "--no-interval", "--if", "mouth")["A_with_parts_of_B"]
    same = ("predict", "single_wall_steel", "--fill", "200mL", "--no-interval")
    predicted = answer(holdtime, *same, "--set", "body.neck.mouth_diameter=52 mm")["hold_times"][0]["nominal_s"]
    assert given["parts"] == ["mouth"]
    assert given["hold_time_s"]["nominal"] == pytest.approx(predicted, rel=1e-9)


def test_the_same_design_twice_has_nothing_to_explain(holdtime: Command) -> None:
    document, text = both(holdtime, *QUICK, "--draws", "3")
    assert "the same in every part: there is no difference to explain" in text
    assert document["shares"] == []


def test_same_seed_same_answer_and_a_file(holdtime: Command) -> None:
    options = (*QUICK, "--set-b", "scenario.fill=150 mL", "--draws", "4", "--seed", "5")
    one = answer(holdtime, *options, "--output", "why.json")
    assert one == answer(holdtime, *options)
    assert json.loads(Path("why.json").read_text(encoding="utf-8")) == one
    assert [share["part"] for share in one["shares"]] == ["fill"]
    assert (one["shares"][0]["A"], one["shares"][0]["B"]) == ("200 mL", "150 mL")


# --- one container, two conditions ----------------------------------------------------------------------------


def test_half_full_against_full(holdtime: Command) -> None:
    options = ("explain", "thin_disc_lid", "--start", "95C", "--against-fill", "half", "--no-interval")
    document, text = both(holdtime, *options)
    one, other = document["A"], document["B"]
    assert other["fill_m3"] == pytest.approx(0.5 * one["fill_m3"])
    assert document["end_difference_K"] == pytest.approx(other["end_K"] - one["end_K"], rel=1e-12)
    assert sum(document["shares_K"].values()) == pytest.approx(document["end_difference_K"], rel=1e-9)
    assert re.search(r"After 6 h B is \d+\.\d K colder than A\. Of that:", text)
    assert re.search(r"− ?\d+\.\d K: B's contents hold 50 % of the heat for each degree", text)
    assert "Check it by hand" in text
    assert "No published measurement" in text


def test_preheated_against_cold(holdtime: Command) -> None:
    options = ("explain", "thin_disc_lid", "--against-preheat", "5 min at 95 C", "--after", "3h", "--no-interval")
    document = answer(holdtime, *options)
    assert document["A"]["duration_s"] == 10800.0
    assert document["B"]["end_K"] > document["A"]["end_K"]
    assert document["B"]["heat_to_walls_and_lid_J"] < 0.0 < document["A"]["heat_to_walls_and_lid_J"]


def test_interval_of_the_end(holdtime: Command) -> None:
    options = ("explain", "single_wall_steel", "--set-b", "scenario.fill=100mL", "--after", "20 min", "--draws", "5")
    document, text = both(holdtime, *options)
    assert document["A"]["end_low_K"] < document["A"]["end_K"] < document["A"]["end_high_K"]
    assert re.search(r"after 20 min \d+\.?\d* °C \(\d+ to \d+\)", text)


def test_picture_of_two_conditions(holdtime: Command) -> None:
    result = holdtime("explain", "single_wall_steel", "--against-fill", "half", "--no-interval", "--plot", "why.svg")
    assert result.exit_code == 0, result.output
    picture = Path("why.svg").read_text(encoding="utf-8")
    for written in ("in two conditions", "heat the contents hold", "lid", "mW/K"):
        assert written in picture


# --- a set ----------------------------------------------------------------------------------------------------


def test_all_says_confounding_out_loud(holdtime: Command) -> None:
    cheap = ("single_wall_steel", "stoneware_cup", "air_gap_mug", "foam_jug")
    document, text = both(holdtime, "explain", "--all", *cheap, "--fill", "150mL", "--plot", "all.svg")
    assert [container["name"] for container in document["containers"]] == list(cheap)
    assert {entry["feature"] for entry in document["rank_correlations"]} >= {"mouth diameter", "double wall"}
    assert document["not_told_apart"]
    assert "What these containers can't tell apart" in text
    assert "What goes together need not be the cause" in text
    picture = Path("all.svg").read_text(encoding="utf-8")
    assert f"{document['not_told_apart'][0]['features'][0]} *" in picture
    assert "not to be told apart from another feature here" in picture


# --- refusals -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("single_wall_steel",), "give two designs to tell apart"),
        (("single_wall_steel", "stoneware_cup", "foam_jug"), "given: 3"),
        ((), "given: 0"),
        ((*QUICK[1:], "--if", "mout"), "--if: 'mout' is no part; did you mean 'mouth'?"),
        ((*QUICK[1:], "--against-fill", "half"), "--against-fill: goes with one design"),
        ((*QUICK[1:], "--plot", "x.txt"), "can't draw a '.txt' file"),
        ((*QUICK[1:], "--set-b", "bdy.x=1"), "unknown path; did you mean 'body'?"),
        ((*QUICK[1:], "--until", "95C"), "--until: 95.0 C"),
        ((*QUICK[1:], "--set-b", "scenario.start=50C"), "60.0 C"),
        (("single_wall_stel", "stoneware_cup"), "did you mean 'single_wall_steel'?"),
        (("single_wall_steel", "--against-fill", "lots"), "--fill: 'lots'"),
        (("single_wall_steel", "--against-fill", "half", "--after", "9 mm"), "--after: '9 mm' is not a duration"),
        (("single_wall_steel", "--against-fill", "half", "--after", "0 h"), "--after: '0 h' is not allowed"),
        (("single_wall_steel", "--against-fill", "half", "--plot", "x.txt"), "can't draw a '.txt' file"),
        (("stoneware_cup", "--against-fill", "half"), "an open cup loses vapour too"),
        (("--all", "single_wall_steel", "stoneware_cup"), "2 designs are too few"),
        (("--all", "--if", "mouth"), "--if: has no meaning with --all"),
    ],
)
def test_refusals(holdtime: Command, arguments: tuple[str, ...], said: str) -> None:
    assert len(refused(holdtime("explain", *arguments), said)) == 1
    assert list(Path().iterdir()) == []


# --- what a bench knows ---------------------------------------------------------------------------------------


def test_readings_tell_two_alike_apart(holdtime: Command, tmp_path: Path) -> None:
    known = calibration(
        tmp_path / "known.json", bright={"exterior_emissivity": -2.0}, dull={"exterior_emissivity": 2.0}
    )
    options = (*QUICK, "--calibration", known, "--calibrated-as", "bright", "--calibrated-as-b", "dull", "--draws", "4")
    document, text = both(holdtime, *options)
    assert re.search(r"A: Calibrated on galley_bench .* as bright\. B: Calibrated on galley_bench", text)
    shares = {share["part"]: share["log_ratio"]["nominal"] for share in document["shares"]}
    assert shares["wall and gap"] > 0.01
    assert shares["wall and gap"] == pytest.approx(document["log_ratio"]["nominal"], rel=1e-6)
    assert all(abs(value) < 1e-9 for part, value in shares.items() if part != "wall and gap")
    assert [entry["container"] for entry in document["calibration"]] == ["bright", "dull"]


def test_readings_narrow_the_account_of_one_container(holdtime: Command, tmp_path: Path) -> None:
    known = calibration(tmp_path / "known.json", single_wall_steel={"exterior_emissivity": 3.0})
    options = ("explain", "single_wall_steel", "--set-b", "scenario.fill=100mL", "--after", "10 min", "--draws", "5")
    plain, narrowed = answer(holdtime, *options), answer(holdtime, *options, "--calibration", known)
    spread = [d["A"]["end_high_K"] - d["A"]["end_low_K"] for d in (plain, narrowed)]
    assert spread[1] < 0.9 * spread[0]
    assert narrowed["A"]["end_K"] < plain["A"]["end_K"] - 0.1


def test_a_whole_bench(holdtime: Command, tmp_path: Path) -> None:
    """Four containers, a run each: hold times as the readings correct them, under one condition."""
    names = ("single_wall_steel", "stoneware_cup", "air_gap_mug", "foam_jug")
    folder = tmp_path / "bench"
    folder.mkdir()
    described = "".join(f'[containers.{name}]\ndesign = "{name}"\n' for name in names)
    (folder / "bench.toml").write_text(f'name = "galley"\n[probes.pen]\n{described}')
    rows = "".join(f"{name}-1,{name},pen,90,20\n" for name in names)
    (folder / "runs.csv").write_text(f"run,container,probe,start [C],room [C]\n{rows}")
    readings = "".join(f"{name}-1,{10 * k},{85 - 5 * k}\n" for name in names for k in (1, 2))
    (folder / "readings.csv").write_text(f"run,time [min],temperature [C]\n{readings}")
    document, text = both(holdtime, "explain", "--all", folder, "--fill", "150mL")
    assert [container["name"] for container in document["containers"]] == sorted(names)
    assert "the model as the readings correct it" in text
    assert "What these containers can't tell apart" in text


def test_what_can_not_be_told_of_all(holdtime: Command) -> None:
    Path("bench").mkdir()
    refused(holdtime("explain", "bench", "--all", "--calibration", "a.json"), "--calibration: a bench brings its own")
    holdtime("designs", "copy", "foam_jug", "foam_jug.toml")
    refused(
        holdtime("explain", "--all", "foam_jug", "foam_jug.toml"), "foam_jug: two designs bear this name; rename one"
    )
    given = ("--if", "mouth", "--set-b", "lid.seals.0=", "--against-fill", "half", "--calibrated-as", "x")
    lines = refused(holdtime("explain", "--all", *given), "--if: has no meaning with --all; leave it out")
    assert len(lines) == 4
