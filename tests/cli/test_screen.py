"""`holdtime screen`: fronts, the inverse question, production; what it prints and writes, and what it refuses."""

import csv
import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Command, refused
from thermal_model.words.cells import json_comment

QUICK = ("screen", "single_wall_steel", "--fill", "200mL")
DEPTH = "body.inside_depth"
GRID = ("--vary", f"{DEPTH}=90..120 mm:2", "--vary", "scenario.stands_on=wood, steel")
SPREAD = ("--tolerance", f"{DEPTH}=1 mm")


def answer(holdtime: Command, *options: str, design: tuple[str, ...] = QUICK) -> dict[str, Any]:
    result = holdtime(*design, "--json", *options)
    assert result.exit_code == 0, result.output
    assert result.stderr == ""
    document: dict[str, Any] = json.loads(result.stdout)
    return document


# --- the front --------------------------------------------------------------------------------------------------


def test_front_as_table_csv_and_picture(holdtime: Command) -> None:
    options = ("--vary", f"{DEPTH}=90..120 mm", "--count", "8", "--draws", "10", "--against", "depth")
    result = holdtime(*QUICK, *options, "--csv", "all.csv", "--plot", "front.svg", "--at-most", "depth=11 cm")
    assert result.exit_code == 0, result.output
    assert re.search(r"8 designs \(sobol, seed 1\), \d of them meet: inside depth at most 110 mm", result.stdout)
    assert re.search(r"^  \d+ min .* to .* mm", result.stdout, flags=re.M)
    assert "no food-safety record" in result.stdout
    lines = [line for line in Path("all.csv").read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    assert len(rows) == 8
    for row in rows:
        fits = float(row[f"{DEPTH} [mm]"]) <= 110.0
        assert row["meets constraints"] == str(fits).lower()
        assert bool(row["hold time [s]"]) == fits
    text = Path("front.svg").read_text(encoding="utf-8").replace("\xa0", " ")
    assert "inside depth [mm]" in text
    assert "hold time [h]" in text


def test_front_as_json(holdtime: Command) -> None:
    vary = ("--vary", f"{DEPTH}=150..200 mm:3", "--vary", "lid.layers=1,3")
    design = ("screen", "wide_mouth_disc", "--fill", "200mL")
    document = answer(holdtime, *vary, "--draws", "8", "--at-least", "capacity=300mL", design=design)
    assert document["designs"] == 6
    assert document["sampling"] == "grid"
    masses = [entry["measures_SI"]["mass"] for entry in document["front"]]
    times = [entry["hold_time_s"] for entry in document["front"]]
    assert masses == sorted(masses)
    assert times == sorted(times)
    for entry in document["front"]:
        assert entry["low_s"] < entry["hold_time_s"] < entry["high_s"]
        assert entry["measures_SI"]["capacity"] >= 3e-4
        assert entry["is_reached"]
        assert set(entry["vary"]) == {DEPTH, "lid.layers"}
    assert document["constraints"] == [{"measure": "capacity", "bound_SI": pytest.approx(3e-4), "kind": "at_least"}]


def test_same_seed_same_front(holdtime: Command) -> None:
    options = ("--vary", f"{DEPTH}=90..120 mm", "--count", "4", "--draws", "0")
    assert answer(holdtime, *options) == answer(holdtime, *options)
    assert answer(holdtime, *options) != answer(holdtime, *options, "--seed", "0")


# --- the inverse question, and production -----------------------------------------------------------------------


def test_which_value_holds_so_long(holdtime: Command) -> None:
    options = ("--find", "scenario.fill=100..350 mL", "--hold", "25 min", "--draws", "6")
    document = answer(holdtime, *options, design=QUICK[:2])
    assert document["outcome"] == "found"
    assert document["bound"] == "at_least"
    assert document["low_SI"] < document["nominal_SI"] < document["high_SI"]
    result = holdtime(*QUICK[:2], *options, "--plot", "find.png")
    number = f"{1e6 * document['nominal_SI']:.1f}"
    assert f"To hold 25 min: filled volume at least {number} mL (best guess)." in result.stdout
    assert re.search(r"To be sure in 19 of 20: at least [\d.]+ mL\.", result.stdout)
    assert Path("find.png").read_bytes().startswith(b"\x89PNG")
    nominal = holdtime(
        "predict", "single_wall_steel", "--no-interval", "--json", "--fill", f"{document['nominal_SI']} m3"
    )
    assert json.loads(nominal.stdout)["hold_times"][0]["nominal_s"] == pytest.approx(1500.0, rel=2e-3)


def test_when_no_value_holds_so_long(holdtime: Command) -> None:
    options = ("--find", "scenario.fill=100..200 mL", "--hold", "5h", "--draws", "0")
    assert answer(holdtime, *options, design=QUICK[:2])["outcome"] == "nowhere"
    assert re.search(
        r"No value from 100\.0 mL to 200\.0 mL holds 5 h \(best guess\); the longest is .* at 200\.0 mL",
        holdtime(*QUICK[:2], *options).stdout,
    )


def test_share_of_production(holdtime: Command) -> None:
    options = ("--tolerance", "scenario.fill=10 mL", *SPREAD, "--hold", "23 min", "--count", "40")
    document = answer(holdtime, *options)
    assert document["share"] == document["met"] / document["pieces"]
    assert document["share_low"] < document["share"] < document["share_high"]
    assert sum(s["share_of_variance"] for s in document["spreads"]) == pytest.approx(1.0)
    result = holdtime(*QUICK, *options, "--plot", "pieces.svg")
    assert Path("pieces.svg").exists()
    curves, causes = document["picture"]["panels"]
    assert curves["levels"][0]["y"] == pytest.approx(100.0 * document["share"])
    longer = [y for x, y in zip(curves["lines"][0]["x"], curves["lines"][0]["y"], strict=True) if x >= 23.0 / 60.0]
    assert max(longer) == pytest.approx(100.0 * document["share"])
    assert len(causes["rows"]) == len(document["spreads"])
    assert f"{document['met']} of 40)" in result.stdout
    assert "independent of each other; two in three pieces lie this near to the drawing, or nearer" in result.stdout
    assert re.search(r"filled volume +200 mL +± 10 mL +\d+ % of the spread", result.stdout)


# --- refusals ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ((), "--vary: give what to vary"),
        ((*GRID, "--hold", "8h"), "--hold: goes with --find or --tolerance"),
        ((*GRID, "--count", "9"), "--count: goes with --sample"),
        ((*GRID, "--at-most", "mas=400g"), "--at-most: mas: is unknown; did you mean 'mass'?"),
        ((*GRID, "--at-most", "mass=400mm"), "'400mm' is not a mass"),
        ((*GRID, "--at-most", "layers=2.5"), "'2.5' is not a whole number"),
        ((*GRID, "--at-most", "mass"), "write name=value"),
        ((*GRID, "--at-most", "mass=1g"), "no design meets the constraints; the nearest ("),
        ((*GRID, "--against", "hold"), "--against: the hold time is weighed against something else"),
        ((*GRID, "--vary", f"{DEPTH}=80..90 mm"), "is varied twice"),
        (("--vary", f"{DEPTH}=120..90 mm"), "is reversed"),
        (("--vary", f"{DEPTH}=90..120 mm:1000000"), "1000000 designs are too many to screen at once"),
        (("--vary", "body.inside_dept=90..120 mm"), "did you mean 'body.inside_depth'?"),
        (("--find", f"{DEPTH}=90..120 mm"), "--find: needs the hold time that is wanted"),
        (("--find", "body.wall.kind=1..2 mm", "--hold", "1h"), "holds no number with a unit"),
        (("--find", f"{DEPTH}=90..120 s", "--hold", "1h"), "is not a length"),
        (("--find", f"{DEPTH}=90..120 mm", "--hold", "1 mm"), "--hold: '1 mm' is not a duration"),
        (("--find", f"{DEPTH}=90..120 mm", "--hold", "0 h"), "--hold: '0 h' is not allowed"),
        (("--find", f"{DEPTH}=90..120 mm", "--hold", "1h", *SPREAD), "--tolerance: asks another question"),
        (("--find", f"{DEPTH}=90..120 mm", "--hold", "1h", "--csv", "x.csv"), "--csv: does not go with --find"),
        (("--tolerance", f"{DEPTH}=0 mm", "--hold", "1h"), "a spread must be above zero"),
        (("--find", "scenario.start=50..90 C", "--hold", "1h"), "--find: scenario.start: 60.0 C "),
        (("--find", "scenario.start=80..120 C", "--hold", "1h"), "outside the liquid range of water"),
        (("--vary", "scenario.room=10..70 C:3"), "--vary: scenario.room: 60.0 C lies below the room, 70.0 C"),
        (
            ("--tolerance", "scenario.room=15 C", "--hold", "1h"),
            "--tolerance: scenario.room = '15 C': three spreads reach too far: 60.0 C lies below the room",
        ),
        (
            ("--tolerance", "scenario.room=21 C", "--hold", "1h"),
            "too far: '-43 C' is not allowed; it must be at least -40 C",
        ),
        (("--vary", "scenario.openings.0.at=1..2 h"), "--vary: scenario.openings.0.at: "),
        ((*SPREAD, *SPREAD, "--hold", "1h"), "has two spreads"),
    ],
)
def test_refusals(holdtime: Command, options: tuple[str, ...], said: str) -> None:
    assert len(refused(holdtime(*QUICK, *options), said)) == 1
    assert list(Path().iterdir()) == []


def test_no_cell_of_a_screening_is_a_formula() -> None:
    """Commas of the comment that holds the design make cells to a spreadsheet."""
    comment = json_comment({"title": "tea,=1+1;@SUM(A1),-x", "low": [0.5, -1.5]})
    assert json.loads(comment) == {"title": "tea,=1+1;@SUM(A1),-x", "low": [0.5, -1.5]}
    cells = [cell.strip() for cell in re.split("[,;]", comment)]
    assert not [cell for cell in cells if cell[:1] in "=+@" or (cell[:1] == "-" and not cell[1:2].isdigit())]


def test_optimise_reads_a_tolerance_in_the_same_place(holdtime: Command) -> None:
    line = ("optimise", "stoneware_cup", "--fill", "200mL", "--vary", "body.inside_depth=90..120 mm")
    result = holdtime(*line, "--tolerance", "scenario.room=100 F", "--share", "95%")
    refused(result, "three spreads reach too far")
