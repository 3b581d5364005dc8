"""Pictures made again from result files, without computing."""

import json
from importlib import import_module
from pathlib import Path

import pytest

from tests.cli.conftest import Command, refused

CUP = ("--fill", "200mL")
COMMANDS = {
    "predict": ["predict", "stoneware_cup", *CUP, "--draws", "6"],
    "carry": ["carry", "stoneware_cup", *CUP, "--no-interval", "--to", "tea_at_the_counter"],
    "compare": ["compare", "single_wall_steel", "stoneware_cup", *CUP, "--no-interval"],
    "explain": ["explain", "single_wall_steel", "stoneware_cup", *CUP, "--no-interval"],
    "sensitivity": ["sensitivity", "single_wall_steel", *CUP],
    "screen": ["screen", "single_wall_steel", *CUP, "--vary", "body.inside_depth=90..120 mm:2", "--draws", "0"],
}


@pytest.mark.parametrize("name", COMMANDS)
def test_drawn_again_it_is_the_same_to_the_byte(holdtime: Command, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    made = holdtime(*COMMANDS[name], "--plot", "a.svg", "--output", "a.json", "--dark", "--shape", "tall")
    assert made.exit_code == 0, made.output
    # Nothing is followed: it would be an internal error.
    monkeypatch.delattr(import_module("thermal_model.solver.engine"), "integrate")
    again = holdtime("redraw", "a.json", "--plot", "b.svg", "--dark", "--shape", "tall")
    assert again.exit_code == 0, again.output
    assert Path("a.svg").read_bytes() == Path("b.svg").read_bytes()
    assert holdtime("redraw", "a.json", "--plot", "c.png", "--large-type").exit_code == 0


def test_what_holds_no_picture_is_refused(holdtime: Command) -> None:
    Path("text.json").write_text("no JSON")
    Path("list.json").write_text("[1]")
    Path("other.json").write_text('{"hold_times": []}')
    Path("damaged.json").write_text('{"picture": {"title": 5, "panels": [{"kind": "rows"}]}}')
    Path("deep.json").write_text("[" * 100_000)
    refused(holdtime("redraw", "text.json", "--plot", "a.png"), "text.json: is no JSON file")
    refused(holdtime("redraw", "deep.json", "--plot", "a.png"), "deep.json: is no JSON file")
    for name in ("list.json", "other.json"):
        assert len(refused(holdtime("redraw", name, "--plot", "a.png"), "holds no picture")) == 1
    refused(holdtime("redraw", "damaged.json", "--plot", "a.png"), "damaged.json", "title")
    refused(holdtime("redraw", "none.json", "--plot", "a.gif"), "none.json", "can't draw a '.gif' file")
    assert not Path("a.png").exists()


def test_looks_go_with_a_picture(holdtime: Command) -> None:
    lines = refused(holdtime("predict", "stoneware_cup", "--dark", "--shape", "square"), "--plot FILE")
    assert [line.split(":")[1].strip() for line in lines] == ["--shape", "--dark"]
    refused(holdtime("designs", "show", "stoneware_cup", "--large-type"), "--large-type", "--plot FILE")
    for command in (["designs", "show", "stoneware_cup"], ["predict", "stoneware_cup", "--no-interval"]):
        made = holdtime(*command, "--plot", "d.png", "--shape", "wide", "--large-type", "--force")
        assert made.exit_code == 0, made.output
        width, height = (int.from_bytes(Path("d.png").read_bytes()[at : at + 4], "big") for at in (16, 20))
        assert (width, height) == (1920, 1080)


def test_title_of_the_container_stands_over_its_picture(holdtime: Command) -> None:
    title = "Costs $5 & <b>more</b> $x^2$"
    made = holdtime("predict", "stoneware_cup", "--no-interval", "--set", f"title={title}", "--output", "a.json")
    assert made.exit_code == 0, made.output
    assert json.loads(Path("a.json").read_text())["picture"]["title"] == title
    assert holdtime("redraw", "a.json", "--plot", "a.svg").exit_code == 0


def test_a_slice_of_a_sweep_is_drawn_from_its_table(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    vary = ("--vary", "body.inside_depth=80,90 mm", "--vary", "scenario.room=10,20 C", "--until", "80C")
    assert holdtime("sweep", "stoneware_cup", *vary, "--output", "s.csv").exit_code == 0
    monkeypatch.delattr(import_module("thermal_model.solver.engine"), "integrate")
    for depth in ("80", "90"):
        held = ("--across", "room", "--at", f"inside_depth={depth} mm")
        drawn = holdtime("redraw", "s.csv", "--plot", f"{depth}.svg", *held)
        assert drawn.exit_code == 0, drawn.output
    assert Path("80.svg").read_bytes() != Path("90.svg").read_bytes()
    assert len(refused(holdtime("redraw", "s.csv", "--plot", "b.svg", "--lines", "rom"), "did you mean", "room")) == 1
