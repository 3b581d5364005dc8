"""`holdtime carry`: other conditions, limit by limit."""

import json
import re
from pathlib import Path

import pytest

from geometries.quantities import Dimension, parse_quantity
from tests.cli.calibration_files import calibration
from tests.cli.conftest import Command, refused

QUICK = ("carry", "single_wall_steel", "--fill", "200mL", "--to", "half_full_tea")


def test_text_and_picture(holdtime: Command) -> None:
    result = holdtime(*QUICK, "--draws", "6", "--plot", "elsewhere.svg")
    assert result.exit_code == 0, result.output
    flat = " ".join(result.stdout.split())
    assert "On the bench single_wall_steel: 200 mL, water (assumed)" in flat
    assert re.search(r"half_full_tea: .* above 60 °C for \d+ min .*\[as hot as most people like it\]", flat)
    assert "Where the limits come from" in flat
    assert "Lee and O'Mahony 2002" in flat
    assert "Take care: 92 °C scalds within a second" in flat
    assert flat.endswith("no food-safety record (all of it: holdtime predict --explain).")
    assert "Half full tea" in Path("elsewhere.svg").read_text(encoding="utf-8")


def test_json_and_output(holdtime: Command) -> None:
    result = holdtime(*QUICK, "--to", "milk_for_the_passengers", "--no-interval", "--json", "--output", "all.json")
    document = json.loads(result.stdout)
    assert json.loads(Path("all.json").read_text(encoding="utf-8")) == document
    assert [entry["name"] for entry in document["scenarios"]] == ["half_full_tea", "milk_for_the_passengers"]
    first = document["scenarios"][0]
    assert [limit["until_K"] for limit in first["limits"]] == [333.15, 313.15]
    held = [hold["nominal_s"] for hold in first["prediction"]["hold_times"]]
    assert 0.0 < held[0] < held[1]
    assert document["bench"]["hold_times"][0]["until_K"] == 333.15
    assert any("Food kept cold" in line for line in document["warnings"])


def test_a_copied_scenario_can_be_changed(holdtime: Command) -> None:
    assert holdtime("carry", "--copy", "half_full_tea").exit_code == 0
    path = Path("half_full_tea.toml")
    path.write_text(path.read_text(encoding="utf-8").replace("fill_share = 0.5", "fill_share = 0.3"), encoding="utf-8")
    result = holdtime("carry", "single_wall_steel", "--to", path, "--no-interval", "--json")
    fill = json.loads(result.stdout)["scenarios"][0]["prediction"]["inputs"]["scenario"]["fill"]
    whole = holdtime(*QUICK, "--no-interval", "--json")
    half = json.loads(whole.stdout)["scenarios"][0]["prediction"]["inputs"]["scenario"]["fill"]
    volumes = [parse_quantity(text, Dimension.VOLUME) for text in (fill, half)]
    assert volumes[0] == pytest.approx(0.6 * volumes[1], rel=1e-5)


def test_readings_go_along_into_other_conditions(holdtime: Command, tmp_path: Path) -> None:
    known = calibration(tmp_path / "known.json", single_wall_steel={"exterior_emissivity": 3.0})
    quick = (*QUICK, "--no-interval")
    plain = json.loads(holdtime(*quick, "--json").stdout)
    result = holdtime(*quick, "--calibration", known, "--output", "carried.json")
    carried = json.loads(Path("carried.json").read_text(encoding="utf-8"))
    held = [d["scenarios"][0]["prediction"]["hold_times"][0]["nominal_s"] for d in (plain, carried)]
    assert held[1] < 0.97 * held[0]
    assert carried["calibration"]["container"] == "single_wall_steel"
    assert "Calibrated on galley_bench" in result.stdout


def test_list(holdtime: Command) -> None:
    result = holdtime("carry", "--list")
    assert result.exit_code == 0
    assert re.search(r"^night_watch_sips +Night watch on the bridge", result.stdout, flags=re.M)
    names = [entry["name"] for entry in json.loads(holdtime("carry", "--list", "--json").stdout)["scenarios"]]
    assert names == sorted(names)
    assert len(names) == len(result.stdout.splitlines())


def test_what_can_not_be_is_told_in_its_place(holdtime: Command) -> None:
    Path("odd.toml").write_text(
        '[scenario]\nstart = "30 C"\n[[limits]]\ntemperature = "60 C"\npurpose = "hot"\nsource = "common practice"\n'
    )
    result = holdtime(*QUICK, "--to", "odd.toml", "--no-interval")
    assert result.exit_code == 0
    assert re.search(r"odd\.toml\n  can't be: 60\.0 C can't be reached", result.stdout)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "design: give a design file"),
        (("single_wall_steel", "--to", "half_ful_tea"), "did you mean 'half_full_tea'?"),
        (("single_wall_steel", "--to", "nowhere.toml"), "nowhere.toml: there is no such file"),
        (("--copy", "half_ful_tea"), "did you mean 'half_full_tea'?"),
        (("single_wall_steel", "--fill", "9 L"), "--fill: "),
        (("single_wall_steel", "--plot", "x.doc"), "can't draw a '.doc' file"),
        (("single_wall_steel", "--until", "warm"), "--until: 'warm'"),
    ],
)
def test_refusals(holdtime: Command, arguments: tuple[str, ...], said: str) -> None:
    assert len(refused(holdtime("carry", *arguments), said)) == 1
    assert list(Path().iterdir()) == []
