"""`holdtime optimise`: options, files, a search that is gone on with; it is tested in `tests/thermal_model/study`."""

import csv
import json
from pathlib import Path

import pytest

from geometries.container import empty_mass, outside_diameter
from geometries.design_file import load_container
from tests.cli.conftest import Command, refused
from thermal_model.study.optimum.designs import DesignSpace

SEARCH = (
    *("optimise", "stoneware_cup", "--fill", "200mL", "--vary", "body.inside_depth=80..120 mm"),
    *("--vary", "body.inside_diameter=70..80 mm", "--at-least", "hold=10min", "--best", "mass", "--tries", "20"),
    *("--tolerance", "body.inside_depth=0.5mm", "--pieces", "16"),
)


def test_stopped_it_goes_on_and_ends_the_same(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = holdtime(*SEARCH, "--output", "whole.json")
    assert whole.exit_code == 0, whole.output
    followed, asked = DesignSpace._followed, 0

    def counted(*arguments: object) -> object:
        nonlocal asked
        asked += 1
        if asked == 6:
            raise KeyboardInterrupt
        return followed(*arguments)

    monkeypatch.setattr(DesignSpace, "_followed", counted)
    stopped = holdtime(*SEARCH, "--output", "parts.json")
    assert stopped.exit_code == 130
    assert "what is done is kept in parts.json.partial, the same command goes on there" in stopped.stderr
    assert not Path("parts.json").exists()
    refused(holdtime(*SEARCH, "--seed", "2", "--output", "parts.json"), "holds part of another search")
    gone_on = holdtime(*SEARCH, "--output", "parts.json")
    assert gone_on.exit_code == 0, gone_on.output
    assert "goes on where it was stopped" in gone_on.stderr
    assert Path("parts.json").read_bytes() == Path("whole.json").read_bytes()
    assert gone_on.stdout == whole.stdout
    assert not Path("parts.json.partial").exists()


CUP = ("optimise", "stoneware_cup", "--fill", "200mL")
DEPTH = ("--vary", "body.inside_depth=80..120 mm")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ((), ["--vary: give what may change"]),
        ((*DEPTH, "--plot", "a.png"), ["--plot: draws a front; ask for two"]),
        (
            (*DEPTH, *("--best", "hold", "--best", "mass", "--best", "height", "--best", "cost"), "--cost", "wall_kg"),
            ["--best: are too many to weigh against each other; give three at most"],
        ),
        ((*DEPTH, "--best", "cost"), ["--cost: --best cost or --at-most cost=12 needs it"]),
        ((*DEPTH, "--cost", "wall_kg"), ["--cost: is not asked for: --best cost"]),
        ((*DEPTH, "--hold", "2h"), ["--hold: goes with --best share or --at-least share=95%"]),
        ((*DEPTH, "--best", "mass", "--best", "mass"), ["--best: mass: is wished for twice"]),
        (
            (*DEPTH, "--also", "tea_at_the_counter", "--also", "tea_at_the_counter"),
            ["--also: tea_at_the_counter: is given twice; give it once"],
        ),
        (
            (*DEPTH, "--cost", "wall_kg", "--best", "cost", "--best", "share", "--hold", "5min", "--at-least", "x=3"),
            ["--at-least: x: is unknown; allowed: mass", "cost, share, or the path of a number"],
        ),
        ((*DEPTH, "--share", "95%", "--tolerance", "body.inside_depth=3"), ["--tolerance: body.inside_depth"]),
        (
            (*DEPTH, *("--tolerance", "body.inside_depth=1mm", "--tolerance", "body.inside_depth=2mm")),
            ["--tolerance: body.inside_depth: has two spreads; give one"],
        ),
    ],
)
def test_what_can_not_be_asked(holdtime: Command, typed: tuple[str, ...], said: list[str]) -> None:
    refused(holdtime(*CUP, *typed, "--output", "a.json"), *said)
    assert not [path for path in Path().iterdir() if path.name != "a.png"]


def test_a_front_and_its_files(holdtime: Command) -> None:
    wishes = ("--best", "mass", "--best", "capacity")
    files = ("--csv", "front.csv", "--save", "best.toml", "--plot", "front.svg")
    found = holdtime(*CUP, *DEPTH, *wishes, "--tries", "10", "--count", "3", *files)
    assert found.exit_code == 0, found.output
    assert "Wanted: least empty mass and largest capacity under the lid" in found.stdout
    assert "None of these is beaten by another in everything that is wanted" in found.stdout
    assert [line for line in found.stderr.splitlines() if line] == [
        "written: front.csv",
        "written: best.toml",
        "written: front.svg",
    ]
    said, *lines = Path("front.csv").read_text().splitlines()
    assert said.startswith("# holdtime optimise {")
    rows = list(csv.DictReader(lines))
    masses, capacities = ([float(row[f"{name} [SI]"]) for row in rows] for name in ("mass", "capacity"))
    assert len(rows) >= 3
    assert sorted(masses) == [mass for _, mass in sorted(zip(capacities, masses, strict=True))]
    assert float(empty_mass(load_container("best.toml"))) == pytest.approx(masses[0], rel=1e-5)


def test_what_is_bounded_is_told_of_the_best(holdtime: Command) -> None:
    """As the design itself has it; twice bounded it is told once."""
    bounds = (
        "--at-least",
        "hold=10min",
        "--at-most",
        "hold=3h",
        "--at-most",
        "diameter=12cm",
        "--at-least",
        "mouth=3cm",
    )
    best = holdtime(
        *CUP, *DEPTH, *bounds, "--best", "mass", "--tries", "10", "--save", "best.toml", "--output", "a.json"
    )
    assert best.exit_code == 0, best.output
    bounded = json.loads(Path("a.json").read_text())["designs"][0]["bounded_SI"]
    design = load_container("best.toml")
    assert bounded["diameter"] == pytest.approx(float(outside_diameter(design)), rel=1e-9)
    assert bounded["mouth"] == pytest.approx(2.0 * float(design.body.mouth_radius), rel=1e-9)
    answer = holdtime("predict", "best.toml", "--fill", "200mL", "--no-interval", "--json")
    assert answer.exit_code == 0, answer.output
    alone = json.loads(answer.stdout)["hold_times"][0]["nominal_s"]
    assert bounded["hold"] == pytest.approx(alone, rel=1e-5)
    told = [line.split()[0] for line in best.stdout.partition("The best design found")[2].splitlines() if line.strip()]
    assert told.count("hold") == 1
    assert told.count("outside") == 1


def test_a_bounded_time_that_never_ends_is_none(holdtime: Command) -> None:
    asked = ("--until", "20.001C", "--at-least", "hold=3h", "--best", "mass", "--tries", "10", "--output", "a.json")
    best = holdtime("optimise", "slim_neck_double_seal", "--vary", "body.neck.mouth_diameter=35..60 mm", *asked)
    assert best.exit_code == 0, best.output
    (told,) = [line for line in best.stdout.splitlines() if line.startswith("  hold time ")]
    assert told.split("hold time")[1].strip() == "longer than followed"
    assert json.loads(Path("a.json").read_text())["designs"][0]["bounded_SI"] == {"hold": None}
