"""`holdtime check`: verdicts on claims and standards, in the model and from readings; what it asks back."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calibration_files import calibration
from tests.cli.conftest import Command, refused
from tests.thermal_model.report.pictures.boxes import faults
from thermal_model.report.pictures.draw import figure_of
from thermal_model.report.pictures.look import PLAIN
from thermal_model.report.pictures.record import Curves, Picture

CUP = ("check", "stoneware_cup", "--fill", "200mL")
JIS = ("check", "slim_neck_double_seal", "--standard", "jis-s-2006", "--vessel", "stoppered")
CONDITIONS = ("--start", "85C", "--room", "20C", "--draws", "40")


def answer(holdtime: Command, *words: str) -> dict[str, Any]:
    result = holdtime(*words, "--json")
    assert result.exit_code == 0, result.output
    document: dict[str, Any] = json.loads(result.stdout)
    return document


# --- claims -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("claim", "verdict"), [("hot for 1 min", "pass"), ("hot for 3 h", "fail")])
def test_verdict_on_a_claim(holdtime: Command, claim: str, verdict: str) -> None:
    words = (*CUP, *CONDITIONS, "--claim", claim, "--above", "60C")
    document = answer(holdtime, *words)
    assert document["verdict"] == verdict
    assert (document["probability"] >= 0.95) == (verdict == "pass")
    panel = document["picture"]["panels"][0]
    mark, line = panel["rows"][0]["tracks"][0][0], panel["tracks"][0]["line"]
    assert mark["low"] >= line if verdict == "pass" else mark["high"] < line
    text = holdtime(*words, "--plot", "claim.svg").stdout
    assert Path("claim.svg").exists()
    assert f"{verdict.upper()}: stays above 60 °C" in text
    assert "pass from a probability of 95 %, fail up to 5 %" in text
    assert "no food-safety record" in text


def test_a_claim_of_cold(holdtime: Command) -> None:
    words = ("--start", "4C", "--room", "25C", "--claim", "cold for 2 min", "--below", "10C", "--draws", "20")
    assert answer(holdtime, *CUP, *words)["verdict"] == "pass"


def test_it_asks_back_in_one_line(holdtime: Command) -> None:
    asks = ("above which temperature (--above 60C)", "from which start (--start 95C)", "(--room 20C)")
    lines = refused(holdtime(*CUP, "--claim", "hot for 12 h"), *asks)
    assert len(lines) == 1
    refused(holdtime(*CUP, "--claim", "cold for 12 h", "--start", "4C"), "below which temperature (--below 10C)")


def test_the_scenario_file_may_say_it(holdtime: Command) -> None:
    Path("night.toml").write_text('start = "85 C"\nroom = "8 C"\n', encoding="utf-8")
    words = ("--claim", "hot for 1 min", "--above", "60C", "--scenario", "night.toml", "--draws", "20")
    assert answer(holdtime, *CUP, *words)["inputs"]["scenario"]["room"] == "8 C"


# --- standards --------------------------------------------------------------------------------------------------


def test_jis_in_the_model(holdtime: Command) -> None:
    words = (*JIS, "--draws", "20")
    document = answer(holdtime, *words)
    hot, cold = document["results"]
    assert hot["minimum_K"] == pytest.approx(345.15)
    assert hot["verdict"] in ("pass", "fail", "undecided")
    assert hot["low_K"] < hot["median_K"] < hot["high_K"]
    assert (cold["verdict"], cold["minimum_K"]) == ("no limit known", None)
    assert "second-hand" in hot["source"]
    warm, iced = (row["tracks"][0] for row in document["picture"]["panels"][0]["rows"])
    assert [mark["at"] for mark in warm] == pytest.approx([hot["median_K"] - 273.15, 72.0])
    assert len(iced) == 1


def test_a_direct_drink_vessel_is_not_judged_by_the_table_of_the_stoppered(holdtime: Command) -> None:
    words = ("check", "slim_neck_double_seal", "--standard", "jis-s-2006", "--vessel", "direct-drink", "--draws", "20")
    hot = answer(holdtime, *words)["results"][0]
    assert (hot["verdict"], hot["minimum_K"], hot["probability"]) == ("no limit known", None, None)
    assert "No table of limits is known to us for vessels of the class 'direct-drink'" in hot["notes"][0]
    assert "Rule: pass" not in holdtime(*words).stdout


def test_en_has_no_limit(holdtime: Command) -> None:
    text = holdtime("check", "stoneware_cup", "--standard", "en-12546-1", "--draws", "20").stdout
    assert "no limit known, so no verdict" in text
    assert re.search(r"after 6 h .* °C, probably between", text)


def test_jis_from_a_csv(holdtime: Command) -> None:
    rows = "0,95.2\n180,84\n355,74.6\n365,74.1\n"
    Path("r.csv").write_text(f"time [min],temperature [C]\n{rows}", encoding="utf-8")
    words = (
        "check",
        "slim_neck_double_seal",
        "--standard",
        "jis-s-2006",
        "--vessel",
        "stoppered",
        "--readings",
        "r.csv",
    )
    result = answer(holdtime, *words, "--room", "20.5C")["results"][0]
    assert (result["verdict"], result["departures"]) == ("pass", [])
    assert result["median_K"] == pytest.approx(347.50, abs=0.005)
    result = answer(holdtime, *words)["results"][0]
    assert (result["verdict"], result["departures"]) == ("undecided", ["nobody measured the room"])


def test_jis_from_a_bench_folder(holdtime: Command) -> None:
    assert holdtime("bench", "demo", "galley").exit_code == 0
    words = (
        "check",
        "slim_neck_double_seal",
        "--standard",
        "jis-s-2006",
        "--vessel",
        "stoppered",
        "--readings",
        "galley",
    )
    text = holdtime(*words, "--run", "slim-1").stdout
    assert "UNDECIDED since it was not the procedure" in text
    assert "started at 92.0 °C" in text
    assert "filled with 500 mL" in text
    refused(holdtime(*words), "--run", "give one of: slim-1")
    refused(holdtime(*words, "--run", "wide-1"), "is a run of wide_mouth_disc")


def test_a_claim_from_ones_own_readings(holdtime: Command) -> None:
    assert holdtime("bench", "demo", "galley").exit_code == 0
    words = ("check", "slim_neck_double_seal", "--above", "70C", "--readings", "galley", "--run", "slim-1")
    short, long = (answer(holdtime, *words, "--claim", f"hot for {h} h") for h in (1, 40))
    assert (short["verdict"], long["verdict"]) == ("pass", "fail")
    assert short["measured_s"] == long["measured_s"]
    assert short["measured_s"]["low"] > 3600.0
    assert short["basis"] == "measured in slim-1"
    drawn = Picture.model_validate(long["picture"])
    (curves,) = drawn.panels
    assert isinstance(curves, Curves)
    readings, claimed = curves.lines
    assert claimed.x == (0.0, 40.0)
    assert max(y for y in readings.y if y is not None) > 85.0
    assert curves.levels[0].at == pytest.approx(long["measured_s"]["time"] / 3600.0, rel=2e-6)
    with PLAIN.style():
        assert faults(figure_of(drawn)) == []
    asked = ("--claim", "hot for 40 h", "--start", "95C", "--room", "20C", "--fill", "500 mL")
    other = answer(holdtime, *words, *asked)
    assert other["verdict"] == "undecided"
    assert other["departures"][0]["words"].startswith("started at 92.0 °C, asked are 95.0 °C")
    text = holdtime(*words, *asked).stdout
    assert "UNDECIDED since the run was not made as asked: stays above 70 °C for 40 h" in text
    assert "No model has a part in this verdict." in text
    refused(holdtime(*words, "--claim", "hot for 1 h", "--wind", "3 m/s"), "--wind", "conditions of their own")
    refused(holdtime(*words, "--claim", "cold for 1 h", "--below", "10C"), "--above")


def test_a_claim_from_a_csv(holdtime: Command) -> None:
    rows = "0,95.2\n180,84\n355,74.6\n365,74.1\n"
    Path("r.csv").write_text(f"time [min],temperature [C]\n{rows}", encoding="utf-8")
    words = ("check", "slim_neck_double_seal", "--above", "74.3C", "--readings", "r.csv", "--room", "20C")
    assert answer(holdtime, *words, "--claim", "hot for 4 h")["verdict"] == "pass"
    assert answer(holdtime, *words, "--claim", "hot for 9 h")["verdict"] == "fail"
    assert answer(holdtime, *words, "--claim", "hot for 6 h")["verdict"] == "undecided"


def test_food_holding_is_information(holdtime: Command) -> None:
    words = (*CUP, *CONDITIONS, "--standard", "food-holding", "--contents", "broth")
    document = answer(holdtime, *words)
    assert [limit["kind"] for limit in document["limits"]] == ["hot", "hot"]
    assert len(document["picture"]["panels"][0]["rows"]) == 2
    text = holdtime(*words).stdout
    assert "For information only: local codes" in text
    assert "US FDA Food Code 3-501.16" in text


# --- refusals ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "fragments"),
    [
        ((), ["give one of --claim"]),
        (("--claim", "hot for 6 h", "--standard", "jis-s-2006"), ["give one of --claim"]),
        (("--claim", "tasty"), ["--claim", "neither hot nor cold"]),
        (("--claim", "cold for 3h", "--above", "5C", "--start", "4C", "--room", "20C"), ["--above", "write --below"]),
        (("--claim", "hot for 3h", "--above", "99C", "--start", "95C", "--room", "20C"), ["--above"]),
        (("--claim", "hot for 3h", "--above", "60C", "--draws", "5"), ["--draws", "a sample of 20 or more"]),
        (
            ("--standard", "jis-s-2006", "--vessel", "other", "--start", "90C"),
            ["--start: is prescribed", "--fill: is prescribed"],
        ),
        (("--standard", "jis-s-2006"), ["--vessel: jis-s-2006 has limits of its own for each class", "direct-drink"]),
        (("--standard", "en-12546-1", "--vessel", "stoppered"), ["--vessel: goes with --standard jis-s-2006"]),
        (("--standard", "iso"), ["--standard"]),
        (("--standard", "food-holding"), ["from which start"]),
        (("--above", "60C", "--standard", "en-12546-1"), ["goes with --claim"]),
        (("--claim", "hot for 3h", "--readings", "x"), ["above which temperature"]),
        (
            ("--standard", "en-12546-1", "--readings", "x", "--plot", "x.svg"),
            ["--plot: a standard's test by readings is one number"],
        ),
        (("--standard", "food-holding", "--readings", "x"), ["--readings: goes with --claim"]),
        (("--standard", "food-holding", "--start", "30C", "--room", "20C"), ["no limit for holding food"]),
    ],
)
def test_refusals(holdtime: Command, words: tuple[str, ...], fragments: list[str]) -> None:
    refused(holdtime(*CUP, *words), *fragments)


# --- a calibration ----------------------------------------------------------------------------------------------


def test_a_calibration_narrows_the_verdict(holdtime: Command, tmp_path: Path) -> None:
    file = str(calibration(tmp_path / "cal.json", stoneware_cup={"exterior_film": 2.0}))
    words = (*CUP, *CONDITIONS, "--claim", "hot for 6 min", "--above", "60C")
    known, unknown = answer(holdtime, *words, "--calibration", file), answer(holdtime, *words)
    assert known["high_s"] / known["low_s"] < unknown["high_s"] / unknown["low_s"]
    assert known["inputs"]["calibration"]["container"] == "stoneware_cup"
    assert "as stoneware_cup." in holdtime(*words, "--calibration", file).stdout
    words = ("--standard", "jis-s-2006", "--vessel", "stoppered", "--readings", "r.csv", "--calibration", file)  # type: ignore[assignment]
    refused(holdtime("check", "stoneware_cup", *words), "--calibration", "has no part in what readings say")
