"""`holdtime plan`: what its five questions print and write, and what they refuse."""

import csv
import json
import math
import re
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar

from tests.cli.calibration_files import calibration
from tests.cli.conftest import Command, refused
from thermal_model.plan.repeatability import LID_SEATING

CUP = ("stoneware_cup", "--fill", "200mL")


def answer(holdtime: Command, *words: object) -> dict[str, Any]:
    result = holdtime(*words, "--json")
    assert result.exit_code == 0, result.output
    document: dict[str, Any] = json.loads(result.stdout)
    return document


# --- run and soak -----------------------------------------------------------------------------------------------


def test_run_names_a_length_for_all(holdtime: Command) -> None:
    words = ("plan", "run", "single_wall_steel", *CUP, "--until", "60C", "--draws", "12")
    document = answer(holdtime, *words)
    lengths = [run["length_s"] for run in document["runs"]]
    assert document["length_of_all_s"] == max(lengths)
    assert document["reading_times_s"][-1] == max(lengths)
    text = holdtime(*words).stdout
    assert "Runs that see 60 °C passed" in text
    assert re.search(r"Side by side: .* does for all of them", text)
    assert "no food-safety record" in text


def test_soak_with_lid_on_and_off(holdtime: Command) -> None:
    document = answer(holdtime, "plan", "soak", "single_wall_steel", "--draws", "4", "--within", "1 K")
    entry = document["soaks"][0]
    assert entry["lid_off"]["median_s"] < entry["lid_on"]["median_s"]
    assert document["tolerance_K"] == 1.0
    text = holdtime("plan", "soak", "stoneware_cup", "--draws", "4").stdout
    assert "has no lid" in text
    assert "back within 0.5 K of the room" in text


# --- repeats ----------------------------------------------------------------------------------------------------


def test_repeats_from_given_figures(holdtime: Command) -> None:
    document = answer(holdtime, "plan", "repeats", "--difference", "5%", "--repeatability", "3%", "--days", "2%")
    assert [entry["comparison"] for entry in document["repeats"]] == ["unpaired", "paired", "crossover"]
    assert [entry["repeats"] for entry in document["repeats"]] == [10, 9, 10]
    assert all(entry["power"] >= 0.8 for entry in document["repeats"])


def test_repeats_of_two_designs_take_their_own_difference_and_scatter(holdtime: Command) -> None:
    words = ("plan", "repeats", "stoneware_cup", "single_wall_steel", "--fill", "200mL", "--until", "50C")
    document = answer(holdtime, *words)
    assert document["log_ratio"] < 0.0
    assert document["within_day"] > 0.02
    assert document["between_days"] > 0.0
    assert "as predicted of these two" in holdtime(*words).stdout


def test_how_lids_sat_on_a_bench_says_how_runs_scatter(holdtime: Command, tmp_path: Path) -> None:
    """A lid that always seats alike scatters less than was judged; jug, thermometer and room stay."""
    words = ("plan", "repeats", "stoneware_cup", "single_wall_steel", "--fill", "200mL", "--until", "50C")
    known = calibration(tmp_path / "known.json", single_wall_steel={})
    judged, seen = (answer(holdtime, *words, *more) for more in ((), ("--calibration", known)))
    assert seen["within_day"] == pytest.approx(math.sqrt(judged["within_day"] ** 2 - LID_SEATING**2), rel=1e-3)
    assert seen["between_days"] == pytest.approx(judged["between_days"], rel=1e-6)
    assert "galley_bench" in seen["source"]


def test_which_difference_a_number_of_runs_finds(holdtime: Command) -> None:
    few = answer(holdtime, "plan", "repeats", "--repeatability", "3%", "--repeats", "2")
    assert few["differences"][2] == {"comparison": "crossover", "log_ratio": None}
    more = answer(holdtime, "plan", "repeats", "--repeatability", "3%", "--repeats", "20")
    assert more["differences"][0]["log_ratio"] < few["differences"][0]["log_ratio"]


# --- schedule ---------------------------------------------------------------------------------------------------


def test_schedule_as_table_csv_and_calendar(holdtime: Command) -> None:
    when = ("--start-date", "2027-03-01", "--at", "09:30", "--length", "6h", "--pause", "1h")
    files = ("--csv", "plan.csv", "--calendar", "plan.ics")
    result = holdtime("plan", "schedule", "--count", "30", "--per-day", "4", *when, *files)
    assert result.exit_code == 0, result.output
    assert "30 containers, 2 probes, 60 runs on 15 days" in result.stdout
    assert re.search(r"runs of a container with each probe +1$", result.stdout, flags=re.M)
    lines = [line for line in Path("plan.csv").read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    assert len({(row["container"], row["probe"]) for row in rows}) == len(rows) == 60
    events = read_calendar(Path("plan.ics"))
    assert events == {(datetime.fromisoformat(row["date"]), f"{row['container']}, {row['probe']}") for row in rows}


def read_calendar(path: Path) -> set[tuple[datetime, str]]:
    """Starts and titles, after what RFC 5545 asks of the file: CRLF, folded lines, unique names, six hours each."""
    data = path.read_bytes()
    assert data.startswith(b"BEGIN:VCALENDAR\r\n")
    assert data.endswith(b"END:VCALENDAR\r\n")
    assert all(len(line) <= 75 for line in data.split(b"\r\n"))
    assert b"\n" not in data.replace(b"\r\n", b"")
    calendar = Calendar.from_ical(data)
    assert calendar.errors == []
    events = calendar.walk("VEVENT")
    assert len({str(event["uid"]) for event in events}) == len(events)
    assert all((event.decoded("dtend") - event.decoded("dtstart")).total_seconds() == 6 * 3600.0 for event in events)
    assert all("dtstamp" in event for event in events)
    return {(event.decoded("dtstart"), str(event["summary"])) for event in events}


def test_calendar_folds_long_names_and_keeps_their_letters(holdtime: Command) -> None:
    name = "kettle, big; the one with the dented côté " + "x" * 60
    options = ("--start-date", "2027-03-01", "--length", "6h", "--calendar", "plan.ics", "--probes", "1")
    assert holdtime("plan", "schedule", name, "cup", *options).exit_code == 0
    titles = {title for _, title in read_calendar(Path("plan.ics"))}
    assert titles == {f"{name}, probe_1", "cup, probe_1"}


def test_schedule_of_a_bench_folder(holdtime: Command) -> None:
    assert holdtime("bench", "demo", "galley").exit_code == 0
    document = answer(holdtime, "plan", "schedule", "--bench", "galley")
    assert set(document["probes"]) == {"pen", "wireless"}
    assert "slim_neck_double_seal" in document["containers"]
    assert document["balance"]["with_each_probe"] == [1, 1]


# --- next -------------------------------------------------------------------------------------------------------


def test_next_run_in_words_and_as_json(holdtime: Command) -> None:
    words = ("plan", "next", *CUP, "--until", "50C", "--length", "1h")
    document = answer(holdtime, *words)
    spreads = [entry["log_spread_after"] for entry in document["candidates"]]
    assert spreads == sorted(spreads)
    assert spreads[0] < document["log_spread"]
    text = holdtime(*words).stdout
    assert f"Next: {document['candidates'][0]['name']}" in text
    assert "Take care: 90 °C scalds within a second" in text


# --- refusals ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "fragments"),
    [
        (("run", "no_such_design"), ["no_such_design"]),
        (("run", "stoneware_cup", "--until", "95C"), ["--until"]),
        (("run", "stoneware_cup", "--margin", "150%"), ["--margin"]),
        (("soak", "stoneware_cup", "--within", "0 K"), ["--within", "must be above 0 K, at most 10 K"]),
        (("repeats",), ["--repeatability '2 %'", "--difference '5 %'"]),
        (("repeats", "--repeatability", "2%", "--difference", "5"), ["--difference", "0 and 100 %"]),
        (("repeats", "a", "b", "c"), ["two designs at most"]),
        (("repeats", "--repeatability", "2%", "--repeats", "3", "--calibration", "x"), ["--calibration", "design"]),
        (("repeats", "--repeatability", "2%", "--difference", "5%", "--repeats", "3"), ["not both"]),
        (("schedule",), ["give the containers once"]),
        (("schedule", "x", "--count", "3"), ["give the containers once"]),
        (("schedule", "--count", "3", "--calendar", "a.ics"), ["--calendar", "needs --start-date"]),
        (("schedule", "--count", "3", "--start-date", "1.3.2027"), ["--start-date", "2027-03-01"]),
        (("schedule", "--count", "3", "--start-date", "0000-01-01"), ["--start-date: '0000-01-01' is not understood"]),
        (("schedule", "--count", "3", "--start-date", "10000-01-01"), ["--start-date: '10000-01-01'"]),
        (("schedule", "--count", "3", "--start-date", "9999-12-30"), ["--start-date: ", "after the year 9999"]),
        (
            ("schedule", "--count", "8", "--per-day", "8", "--start-date", "2027-03-01"),
            ["--per-day", "more than a day"],
        ),
        (("schedule", "--count", "8", "--per-day", "3"), ["multiple of 2"]),
        (("schedule", "--bench", "nowhere"), ["nowhere"]),
        (("next", "stoneware_cup", "--length", "0h"), ["--length"]),
    ],
)
def test_refusals(holdtime: Command, words: tuple[str, ...], fragments: list[str]) -> None:
    refused(holdtime("plan", *words), *fragments)


def test_the_last_day_of_the_calendar(holdtime: Command) -> None:
    """The last run starts before its end, and ends after it: neither file is begun."""
    last = (
        "schedule",
        "--count",
        "1",
        "--probes",
        "1",
        "--start-date",
        "9999-12-31",
        "--at",
        "20:00",
        "--csv",
        "a.csv",
    )
    (line,) = refused(holdtime("plan", *last, "--calendar", "a.ics"), "--start-date", "after the year 9999")
    assert line.endswith("take an earlier date")
    assert list(Path().iterdir()) == []
    assert holdtime("plan", *last).exit_code == 0


# --- a calibration ----------------------------------------------------------------------------------------------


def test_a_calibration_moves_the_length_and_is_named(holdtime: Command, tmp_path: Path) -> None:
    file = str(calibration(tmp_path / "cal.json", stoneware_cup={"exterior_film": 2.0}))
    words = ("plan", "run", *CUP, "--until", "60C", "--draws", "12")
    known, unknown = answer(holdtime, *words, "--calibration", file), answer(holdtime, *words)
    assert known["runs"][0]["median_s"] < unknown["runs"][0]["median_s"]
    assert "as stoneware_cup." in holdtime(*words, "--calibration", file).stdout
    words = ("plan", "next", *CUP, "--until", "60C", "--length", "1h")
    assert answer(holdtime, *words, "--calibration", file)["log_spread"] < answer(holdtime, *words)["log_spread"]
