"""Files as loggers write them: recognised, shown, and read once confirmed."""

from dataclasses import replace
from datetime import datetime

import pytest

from geometries.errors import InputError
from thermal_model.bench.read.logger_file import TimeForm, decoded, likely_choice, read_logger, readings

EXPORTS = {
    "plain": ("time [min],temperature [C]\n0,90.0\n30,86.5\n60,83.0\n", 0, 1, TimeForm.MINUTES, "C"),
    "no heading": ("0\t90.0\n30\t86.5\n60\t83.0\n", 0, 1, TimeForm.MINUTES, "C"),
    "semicolons": ("Zeit (s);Temp °C\n0;90,0\n1800;86,5\n3600;83,0\n", 0, 1, TimeForm.SECONDS, "C"),
    "preface": (
        "Serial: 1234\nInterval: 30 min\n\nNo,Elapsed h,Channel 1 (°F),Channel 2 (°F)\n"
        "1,0.0,194.0,70\n2,0.5,187.7,70\n3,1.0,181.4,70\n\nEnd of file\n",
        1,
        2,
        TimeForm.HOURS,
        "F",
    ),
    "moments": (
        "Date/Time,Temp(C),Humidity\n2026-11-27 18:00,90.0,40\n2026-11-27 18:30,86.5,41\n2026-11-27 19:00,83.0,42\n",
        0,
        1,
        TimeForm.MOMENT,
        "C",
    ),
    "day apart": (
        "Datum;Uhrzeit;Temperatur\n27.11.2026;23:30:00;90,0\n28.11.2026;00:00:00;86,5\n28.11.2026;00:30:00;83,0\n",
        1,
        2,
        TimeForm.MOMENT,
        "C",
    ),
    "clock over midnight": ("clock,deg C\n23:30,90.0\n00:00,86.5\n00:30,83.0\n", 0, 1, TimeForm.CLOCK, "C"),
    "units in cells": ("t,reading\n0,90.0 C\n30,86.5 C\n60,83.0 C\n", 0, 1, TimeForm.MINUTES, "C"),
}


@pytest.mark.parametrize("name", EXPORTS)
def test_what_columns_are_is_recognised_and_read(name: str) -> None:
    text, time, heat, form, unit = EXPORTS[name]
    table = read_logger(text)
    choice = likely_choice(table)
    assert (choice.time, choice.temperature, choice.time_form, choice.unit) == (time, heat, form, unit)
    found = readings(table, choice)
    first = 23.5 * 3600.0 if form is TimeForm.CLOCK else 0.0
    assert [at - first for at, _ in found] == pytest.approx([0.0, 1800.0, 3600.0])
    assert [kelvin for _, kelvin in found] == pytest.approx([363.15, 359.65, 356.15])


def test_rows_before_the_pouring_and_lost_ones_are_left_out() -> None:
    table = read_logger(EXPORTS["moments"][0].replace("86.5", "---") + "2026-11-27 19:30,80.0,42\n")
    choice = replace(likely_choice(table), poured=datetime(2026, 11, 27, 18, 10))
    found = readings(table, choice)
    assert [at for at, _ in found] == [50 * 60.0, 80 * 60.0]


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"], ids=["plain", "marked", "wide", "western"]
)
def test_any_encoding(encoding: str) -> None:
    text = EXPORTS["semicolons"][0]
    assert decoded(text.encode(encoding)) == text


@pytest.mark.parametrize("text", ["", "\n\n", "hello", "a,b\nc,d\n", "1\n2\n3\n", "\x00\x01\x02", "x" * 100_000])
def test_what_is_no_table_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_logger(text)


def test_a_wrong_choice_is_refused() -> None:
    table = read_logger(EXPORTS["preface"][0])
    for wrong in ({"time": 2}, {"time_form": TimeForm.CLOCK}, {"time_form": TimeForm.MOMENT}):
        with pytest.raises(InputError):
            readings(table, replace(likely_choice(table), **wrong))
