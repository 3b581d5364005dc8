"""`holdtime sensitivity`: what it prints and writes, and what it refuses."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from typer.testing import Result

from tests.cli.conftest import Command, refused, run
from thermal_model.uncertainty import PRIORS

QUICK = ("sensitivity", "single_wall_steel", "--fill", "200mL")
DEPTH = "body.inside_depth"


@pytest.fixture(scope="module")
def local() -> Result:
    return run("sensitivity", "wide_mouth_disc", "--fill", "400mL", "--over", "both")


@pytest.fixture(scope="module")
def sampled() -> dict[str, Any]:
    result = run(*QUICK, "--global", "--over", "both", "--vary", f"{DEPTH}=90..110 mm", "--samples", "8", "--json")
    assert result.exit_code == 0, result.output
    document: dict[str, Any] = json.loads(result.stdout)
    return document


def test_dimensions_in_plain_words_and_ranked(local: Result) -> None:
    assert local.exit_code == 0, local.output
    text = local.stdout
    assert re.search(r"1 mm wider mouth: +\d+ .* less +\(1 % wider: [\d.]+ % less\) +body\.neck\.mouth_diameter", text)
    sizes = [float(size) for size in re.findall(r"\(1 % \w+: ([\d.]+) % (?:more|less)\)", text)]
    assert len(sizes) >= 5
    assert sizes == sorted(sizes, reverse=True)
    assert "tried 1 % up and down" in text
    assert "Worth knowing better: " in text
    assert "no food-safety record" in text
    assert local.stderr == ""


def test_filled_to_the_lid_is_said(holdtime: Command, local: Result) -> None:
    assert "a larger inside also holds more" in holdtime("sensitivity", "single_wall_steel").stdout
    assert "a larger inside also holds more" not in local.stdout


def test_json_of_small_steps(holdtime: Command) -> None:
    result = holdtime(*QUICK, "--over", "both", "--json", "--output", "steps.json")
    document = json.loads(result.stdout)
    assert json.loads(Path("steps.json").read_text(encoding="utf-8")) == document
    depth = next(e for e in document["elasticities"] if e["path"] == DEPTH)
    assert depth["slope_s_per_SI"] == pytest.approx(
        depth["elasticity"] * document["hold_time_s"] / depth["value_SI"], rel=1e-9
    )
    assert {entry["name"] for entry in document["unknowns"]} == set(PRIORS)
    assert document["relative_step"] == 0.01
    assert document["inputs"]["assumed"] == ["contents", "room", "start", "until"]
    assert document["version"]


def test_json_of_indices(sampled: dict[str, Any]) -> None:
    kinds = {index["name"]: index["kind"] for index in sampled["indices"]}
    assert kinds[DEPTH] == "dimension"
    assert kinds["exterior_film"] == "unknown"
    assert set(kinds) | set(sampled["without_effect"]) == {DEPTH, *PRIORS}
    assert sampled["designs"] == sampled["base_sample"] * (len(kinds) + 2)
    for index in sampled["indices"]:
        assert index["first_order_low"] <= index["first_order"] <= index["first_order_high"]
        assert index["total_low"] <= index["total"] <= index["total_high"]
    assert sampled["worth_measuring"]["advice"] == PRIORS[sampled["worth_measuring"]["name"]].advice
    assert sampled["low_s"] < sampled["mean_s"] < sampled["high_s"]


def test_table_of_indices_and_its_picture(holdtime: Command) -> None:
    line = (*QUICK, "--global", "--samples", "4", "--seed", "0")
    result = holdtime(*line, "--plot", "indices.svg")
    assert result.exit_code == 0, result.output
    assert re.search(r"heat transfer to the room's air +-?\d+ ± \d+ % +\d+ ± \d+ %", result.stdout)
    assert "Worth measuring: " in result.stdout
    assert "The intervals are wide; --samples 16 about halves them." in result.stdout
    assert "written: indices.svg" in result.stderr
    text = Path("indices.svg").read_text(encoding="utf-8").replace("\xa0", " ")
    assert "share of the spread of the hold time [%]" in text
    assert "With others" in text
    assert holdtime(*line).stdout == result.stdout


@pytest.mark.parametrize("over", ["design", "unknowns", "both"])
def test_picture_of_small_steps(holdtime: Command, over: str) -> None:
    assert holdtime(*QUICK, "--over", over, "--plot", "steps.svg").exit_code == 0
    text = Path("steps.svg").read_text(encoding="utf-8").replace("\xa0", " ")
    assert ("it [%]" in text) == (over != "unknowns")
    assert ("hold time [h]" in text) == (over != "design")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--vary", f"{DEPTH}=90..110 mm"), "--vary: goes with --global"),
        (("--global", "--over", "both"), "--over: both with --global needs ranges: --vary"),
        (("--global", "--over", "unknowns", "--vary", f"{DEPTH}=90..110 mm"), "--over: unknowns leaves no dimension"),
        (("--global", "--vary", "body.inside_dept=90..110 mm"), "did you mean 'body.inside_depth'?"),
        (("--global", "--vary", f"{DEPTH}=110..90 mm"), "is reversed; write '90 mm..110 mm'"),
        (("--global", "--vary", f"{DEPTH}=90..90 mm"), "is empty"),
        (("--global", "--vary", f"{DEPTH}=90..110 mL"), "is not a length"),
        (("--global", "--vary", f"{DEPTH}=90, 110 mm"), "an index needs a range, low..high"),
        (("--global", "--vary", DEPTH), "write name=value"),
        (("--plot", "picture.bmp"), "can't draw a '.bmp' file"),
        (("--output", "nowhere/x.json"), "there is no folder"),
        (("--fill", "9 L"), "is beyond the brim"),
        (("--until", "95C"), "--until: "),
    ],
)
def test_refusals(holdtime: Command, options: tuple[str, ...], said: str) -> None:
    assert len(refused(holdtime(*QUICK, *options), said)) == 1
    assert list(Path().iterdir()) == []


def test_every_problem_at_once(holdtime: Command) -> None:
    lines = refused(holdtime("sensitivity", "no_such_design", "--fill", "3 mm", "--vary", "x=1..2 mm"))
    assert len(lines) == 3
