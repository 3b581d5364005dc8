"""`holdtime predict`: what it prints and writes, and that every option reaches the model."""

import csv
import json
import re
from pathlib import Path
from typing import Any

import pytest
from typer.testing import Result

from tests.cli.conftest import Command, run

DESIGN = "slim_neck_double_seal"
QUICK = ("predict", DESIGN, "--fill", "500mL", "--start", "90C", "--until", "60C", "--room", "20C")


@pytest.fixture(scope="module")
def sampled() -> Result:
    """One prediction with an interval, shown with its explanation."""
    return run(*QUICK, "--until", "75C", "--draws", "60", "--explain")


@pytest.fixture(scope="module")
def sampled_json() -> dict[str, Any]:
    result = run(*QUICK, "--draws", "60", "--json")
    assert result.exit_code == 0, result.output
    document: dict[str, Any] = json.loads(result.stdout)
    return document


def predicted(holdtime: Command, *options: str, design: str = DESIGN) -> dict[str, Any]:
    result = holdtime("predict", design, "--no-interval", "--json", *options)
    assert result.exit_code == 0, result.output
    document: dict[str, Any] = json.loads(result.stdout)
    return document


def hours(document: dict[str, Any]) -> float:
    return float(document["hold_times"][0]["nominal_s"]) / 3600.0


# --- what is printed ------------------------------------------------------------------------------------------


def test_table_says_how_long_and_how_sure(sampled: Result) -> None:
    assert sampled.exit_code == 0, sampled.output
    assert re.search(r"stays above 60 °C for \d+ h( \d+ min)? \(probably between .* and .*\)", sampled.stdout)
    assert re.search(r"stays above 75 °C for \d+ h", sampled.stdout)
    assert "Least certain: " in sampled.stdout
    assert "% of the spread); to narrow it: " in sampled.stdout
    assert sampled.stderr == ""


def test_shares_of_the_heat_add_up(sampled: Result) -> None:
    shares = [int(share) for share in re.findall(r"^  \S.*?(\d+) % +[\d.]+ W/K", sampled.stdout, flags=re.M)]
    assert len(shares) >= 4
    assert sum(shares) == pytest.approx(100, abs=2)
    assert shares == sorted(shares, reverse=True)


def test_explanation_names_the_dimensions(sampled: Result) -> None:
    text = " ".join(sampled.stdout.split())
    for dimension in ("44 mm wide", "45 mm long", "12 mm air pocket", "2 seals (3 mm, 36 mm", "vacuum of 4 mm"):
        assert dimension in text
    assert "Nine in ten" in text
    assert "To narrow it, the most useful first:" in text


def test_cautions_are_few_and_always_end_with_the_record(sampled: Result) -> None:
    (line,) = [line for line in sampled.stdout.splitlines() if line.startswith("Take care:")]
    assert line.startswith("Take care: 90 °C scalds within a second; ")
    assert line.endswith("no food-safety record (all of it: holdtime predict --explain).")
    block = sampled.stdout.split("Take care\n")[1].split("\n\n")[0]
    lines = [line for line in block.splitlines() if re.match(r"  \S", line)]
    assert lines[0].startswith("  Scalds: 90 °C")
    assert any(line.startswith("  Microwave: ") for line in lines)
    assert "no food-safety record" in lines[-1]


@pytest.mark.parametrize("options", [("--start", "70C", "--room", "65C", "--until", "58C")])
def test_open_contents_colder_than_their_room_lose_watts(holdtime: Command, options: tuple[str, ...]) -> None:
    """What evaporates takes heat away although the room is warmer: no coefficient, no share, but watts."""
    words = ("predict", "stoneware_cup", "--no-interval", *options)
    document = json.loads(holdtime(*words, "--json").stdout)
    assert document["heat_loss_coefficient_W_per_K"] < 0.0
    excess = document["reference_temperature_K"] - 338.15
    text = " ".join(holdtime(*words, "--explain").stdout.split())
    flow = document["heat_loss_coefficient_W_per_K"] * excess
    assert f"{-excess:.1f} K below the room: they lose {flow:.2f} W by evaporating all the same" in text
    assert f"the contents lose {flow:.2f} W by evaporating, although the room is warmer" in text
    assert "W/K" not in text
    assert not re.search(r" -\d", text)


def test_what_a_path_takes_the_other_way_is_said(holdtime: Command) -> None:
    options = ("--start", "28C", "--room", "36C", "--until", "31C", "--humidity", "5%", "--no-interval")
    assert (
        "below zero: heat goes the other way there (open mouth)"
        in holdtime("predict", "stoneware_cup", *options).stdout
    )


def test_full_with_ice_has_no_vapour_and_no_lid_sucked_on(holdtime: Command) -> None:
    words = ("predict", "slim_neck_double_seal", "--ice", "300g", "--start", "4C", "--until", "10C", "--room", "25C")
    text = " ".join(holdtime(*words, "--air", "0 mm", "--no-interval", "--explain").stdout.split())
    assert "0 mm of air" not in text
    assert "The contents reach up to the lid" in text
    assert "vapour rises" not in text
    assert "as it cools" not in text


def test_what_was_assumed_is_said(holdtime: Command) -> None:
    result = holdtime("predict", DESIGN, "--no-interval")
    for assumed in (
        "full to 5 mm under the lid, 641 mL (assumed)",
        "water (assumed)",
        "start 90 °C (assumed)",
        "room 20 °C (assumed)",
        "stays above 60 °C (assumed)",
    ):
        assert assumed in result.stdout
    assert "(assumed)" not in holdtime(*QUICK, "--contents", "tea", "--no-interval").stdout


def test_temperatures_in_the_unit_that_was_typed(holdtime: Command) -> None:
    result = holdtime("predict", DESIGN, "--no-interval", "--start", "194F", "--until", "140 degF")
    assert "stays above 140 °F for" in result.stdout
    assert "start 194 °F" in result.stdout
    assert "room 68 °F (assumed)" in result.stdout
    assert "start 363.1 K" in holdtime("predict", DESIGN, "--no-interval", "--until", "333 K").stdout


def test_limit_that_is_never_reached(holdtime: Command) -> None:
    result = holdtime("predict", DESIGN, "--no-interval", "--until", "20 C")
    assert result.exit_code == 0
    assert re.search(r"stays above 20 °C for the whole 7 d followed; the best guess ends at 20\.0\d °C", result.stdout)


def test_limit_that_some_draws_never_reach(holdtime: Command) -> None:
    result = holdtime(
        "predict", "stoneware_cup", "--draws", "40", "--until", "20 C", "--start", "40C", "--room", "20.3C"
    )
    assert result.exit_code == 0
    assert re.search(r"stays above 20 °C for (at least )?\d+ (h|min)", result.stdout)


def test_cold_contents(holdtime: Command) -> None:
    result = holdtime(
        "predict", "handled_tumbler_straw", "--start", "4C", "--ice", "150g", "--fill", "16 floz", "--no-interval",
        "--explain",
    )  # fmt: skip
    assert "stays below 10 °C (assumed) for" in result.stdout
    assert "Where heat comes in" in result.stdout
    assert "150 g ice" in result.stdout
    assert "Scalds" not in result.stdout
    assert "hardly moves" in result.stdout


@pytest.mark.parametrize(
    ("design", "words"),
    [
        ("stoneware_cup", ["open mouth", "nothing covers the 82 mm mouth", "a single wall"]),
        ("foam_jug", ["polyurethane foam"]),
        ("air_gap_mug", ["of air conduct", "spout"]),
        ("open_plug", ["plug that is open to the contents"]),
        ("three_layer_wall", ["1 shield"]),
    ],
)
def test_explanation_fits_the_design(holdtime: Command, design: str, words: list[str]) -> None:
    result = holdtime("predict", design, "--no-interval", "--explain")
    assert result.exit_code == 0, result.output
    text = " ".join(result.stdout.split())
    for word in words:
        assert word in text


# --- JSON -----------------------------------------------------------------------------------------------------


def test_json_keys(sampled_json: dict[str, Any]) -> None:
    assert {
        "hold_times",
        "heat_loss_coefficient_W_per_K",
        "heat_paths_W_per_K",
        "reference_temperature_K",
        "curve",
        "energy_balance_error",
        "headspace_pressure_Pa",
        "a_millilitre",
        "contributions",
        "warnings",
        "inputs",
        "version",
    } <= sampled_json.keys()
    assert sampled_json["hold_times"][0].keys() == {
        "until_K",
        "median_s",
        "low_s",
        "high_s",
        "nominal_s",
        "share_reached",
    }
    assert sampled_json["curve"].keys() == {"time_s", "temperature_K", "low_K", "high_K"}
    assert sampled_json["inputs"].keys() == {"design", "scenario", "seed", "draws", "assumed"}


def test_json_numbers_agree_with_each_other(sampled_json: dict[str, Any]) -> None:
    hold_time, paths = sampled_json["hold_times"][0], sampled_json["heat_paths_W_per_K"]
    assert paths.keys() == {"lid", "steel_bridge", "gap_side", "base", "vent"}
    assert sum(paths.values()) == pytest.approx(sampled_json["heat_loss_coefficient_W_per_K"], rel=1e-9)
    assert hold_time["low_s"] < hold_time["median_s"] < hold_time["high_s"]
    assert sampled_json["energy_balance_error"] < 1e-9
    assert sum(c["share"] for c in sampled_json["contributions"]) == pytest.approx(1.0)
    curve = sampled_json["curve"]
    assert curve["temperature_K"][0] == pytest.approx(363.15)
    after = next(i for i, kelvin in enumerate(curve["temperature_K"]) if kelvin <= 333.15)
    assert curve["time_s"][after - 1] <= hold_time["nominal_s"] <= curve["time_s"][after]
    pairs = zip(curve["low_K"], curve["high_K"], strict=True)
    assert all(low <= high for low, high in pairs)


def test_json_inputs_make_the_same_prediction_again(holdtime: Command, sampled_json: dict[str, Any]) -> None:
    inputs = sampled_json["inputs"]
    assert inputs["scenario"]["fill"] == "500 mL"
    assert inputs["design"]["body"]["neck"]["mouth_diameter"] == "44 mm"
    again = json.loads(holdtime(*QUICK, "--draws", inputs["draws"], "--seed", inputs["seed"], "--json").stdout)
    assert again == sampled_json
    other = json.loads(holdtime(*QUICK, "--draws", inputs["draws"], "--seed", "2", "--json").stdout)
    assert other["hold_times"][0]["median_s"] != sampled_json["hold_times"][0]["median_s"]
    assert other["hold_times"][0]["nominal_s"] == pytest.approx(sampled_json["hold_times"][0]["nominal_s"], abs=1.0)


def test_output_holds_what_json_prints(holdtime: Command) -> None:
    result = holdtime(*QUICK, "--no-interval", "--json", "--output", "result.json")
    assert Path("result.json").read_text(encoding="utf-8") == result.stdout
    assert [path.name for path in Path().iterdir()] == ["result.json"]


def test_vented_lid_has_no_headspace_pressure(holdtime: Command) -> None:
    assert predicted(holdtime, design="air_gap_mug")["headspace_pressure_Pa"] is None
    pressure = predicted(holdtime)["headspace_pressure_Pa"]
    assert pressure["start"] > 101325.0 > pressure["end"]


# --- files ----------------------------------------------------------------------------------------------------


def test_csv_is_the_curve(holdtime: Command) -> None:
    result = holdtime(*QUICK, "--no-interval", "--csv", "curve.csv", "--json")
    text = Path("curve.csv").read_text(encoding="utf-8")
    comments = [line for line in text.splitlines() if line.startswith("#")]
    assert "seed 1" in comments[0]
    assert '"fill": "500 mL"' in comments[2]
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    assert list(rows[0]) == ["time [min]", "temperature [C]", "low [C]", "high [C]"]
    curve = json.loads(result.stdout)["curve"]
    assert [float(row["temperature [C]"]) for row in rows] == pytest.approx(
        [kelvin - 273.15 for kelvin in curve["temperature_K"]], abs=0.002
    )
    assert float(rows[-1]["time [min]"]) == pytest.approx(curve["time_s"][-1] / 60.0, abs=0.001)


def test_a_predicted_curve_can_be_a_room(holdtime: Command) -> None:
    """A result file reads back: its headings carry units, its comments are passed over."""
    holdtime("predict", "stoneware_cup", "--start", "40 C", "--until", "30 C", "--no-interval", "--csv", "curve.csv")
    document = predicted(holdtime, "--room-file", "curve.csv", "--until", "60C")
    assert document["inputs"]["scenario"]["room_profile"]["temperatures"][0] == "40 C"


@pytest.mark.parametrize(("suffix", "magic"), [("png", b"\x89PNG"), ("svg", b"<?xml"), ("pdf", b"%PDF")])
def test_plot_formats(holdtime: Command, suffix: str, magic: bytes) -> None:
    result = holdtime(*QUICK, "--no-interval", "--plot", f"curve.{suffix}")
    assert result.exit_code == 0, result.output
    assert Path(f"curve.{suffix}").read_bytes().startswith(magic)
    assert result.stderr.splitlines() == ["", f"written: curve.{suffix}"]


# --- every option reaches the model ---------------------------------------------------------------------------

LONGER_OR_SHORTER = [
    (["--fill", "300 mL"], "shorter"),
    (["--start", "95 C"], "longer"),
    (["--until", "70 C"], "shorter"),
    (["--room", "0 C"], "shorter"),
    (["--walls", "preheated"], "longer"),
    (["--preheat", "5 min at 95 C"], "longer"),
    (["--wind", "5 m/s"], "shorter"),
    (["--sunlight", "800 W/m2"], "longer"),
    (["--open", "at 1h for 60s"], "shorter"),
    (["--open", "at 1h for 20s pour 100 mL every 1h"], "shorter"),
    (["--pin", "gap_conductance=5 W/m2K"], "shorter"),
    (["--set", "body.gap.pressure=10 Pa"], "shorter"),
    (["--set", "scenario.room=0 C"], "shorter"),
    (["--set", "body.neck.mouth_diameter=55 mm"], "shorter"),
]


@pytest.fixture(scope="module")
def plain() -> float:
    return hours(predicted(run, "--fill", "500mL"))


@pytest.mark.parametrize(
    ("options", "expected"), LONGER_OR_SHORTER, ids=[" ".join(options) for options, _ in LONGER_OR_SHORTER]
)
def test_option_moves_the_hold_time_the_right_way(
    holdtime: Command, plain: float, options: list[str], expected: str
) -> None:
    factor = hours(predicted(holdtime, "--fill", "500mL", *options)) / plain
    assert (factor > 1.0005) if expected == "longer" else (factor < 0.9995)


@pytest.mark.parametrize(
    ("options", "path", "value"),
    [
        (["--contents", "broth"], ("contents",), "broth"),
        (["--ice", "5 oz", "--start", "4 C", "--fill", "300 mL"], ("ice",), "5 oz"),
        (["--humidity", "80 %"], ("relative_humidity",), 0.8),
        (["--stands-on", "steel"], ("stands_on",), "steel"),
        (["--inverted"], ("orientation",), "inverted"),
        (["--open", "every 3h pour 50 mL"], ("openings", 0, "at"), "180 min"),
    ],
)
def test_option_is_recorded(holdtime: Command, options: list[str], path: tuple[Any, ...], value: object) -> None:
    found: Any = predicted(holdtime, *options)["inputs"]["scenario"]
    for key in path:
        found = found[key]
    assert found == value


def test_options_win_over_the_scenario_file(holdtime: Command) -> None:
    Path("watch.toml").write_text('contents = "tea"\nroom = "5 C"\nwind = "2 m/s"\n', encoding="utf-8")
    scenario = predicted(holdtime, "--scenario", "watch.toml", "--room", "8 C")["inputs"]["scenario"]
    assert (scenario["contents"], scenario["room"], scenario["wind"]) == ("tea", "8 C", "2 m/s")


@pytest.mark.parametrize(
    "text",
    [
        "time [min],temperature [C]\n0,20\n60,5\n",
        "\ufefftime [h];temperature [°F]\n0;68\n1;41,0\n",
        "# a log of the galley\ntime [s]\ttemperature [K]\n0\t293.15\n3600\t278.15\n",
    ],
)
def test_room_file_in_many_spellings(holdtime: Command, text: str) -> None:
    Path("room.csv").write_text(text, encoding="utf-8")
    profile = predicted(holdtime, "--room-file", "room.csv")["inputs"]["scenario"]["room_profile"]
    assert profile["temperatures"] == ["20 C", "5 C"]
    assert profile["times"][1] in ("60 min", "1 h")
    assert hours(predicted(holdtime, "--room-file", "room.csv")) < hours(predicted(holdtime))


def test_room_steps_hold_each_temperature(holdtime: Command) -> None:
    Path("room.csv").write_text("time [h],temperature [C]\n0,20\n6,0\n", encoding="utf-8")
    sloping = predicted(holdtime, "--room-file", "room.csv")
    in_steps = predicted(holdtime, "--room-file", "room.csv", "--room-steps")
    assert hours(in_steps) > hours(sloping)


def test_repeated_pours_end_with_the_contents(holdtime: Command) -> None:
    result = holdtime(
        "predict", DESIGN, "--no-interval", "--fill", "350mL", "--until", "30C", "--open", "every 1h pour 100mL"
    )
    assert result.exit_code == 0, result.output
    assert "opened every 1 h from 1 h to pour 100 mL" in result.stdout
    assert "The last opening is after 3 h, 300 mL poured: then too little is left" in " ".join(result.stdout.split())


def test_correlations_beyond_their_source_are_named(holdtime: Command) -> None:
    """A small lid top has a Rayleigh number below the range of the plate formulas (1e4 up, 1e5 down)."""
    named = [line for line in predicted(holdtime)["warnings"] if line.startswith("Outside the range of its source: ")]
    shown = holdtime("predict", DESIGN, "--no-interval").stdout
    assert named
    assert all("rayleigh" in line for line in named)
    assert f"Note\n  {len(named)} formula" in shown
    assert "rayleigh" not in shown


def test_too_few_samples_say_so(holdtime: Command) -> None:
    few = holdtime("predict", "single_wall_steel", "--draws", "20").stdout
    assert "Least certain: 20 samples are too few to tell; 46 are enough (--draws 46)" in few
    enough = holdtime("predict", "single_wall_steel", "--draws", "46").stdout
    assert "too few" not in enough
    assert "Least certain: " in enough
