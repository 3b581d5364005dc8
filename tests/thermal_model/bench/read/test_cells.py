"""Cells as spreadsheets write them; every date and number here can be checked by eye."""

from datetime import datetime

import pytest

from thermal_model.bench.read.cells import (
    Clock,
    DateOrder,
    date_order,
    parse_clock,
    parse_date,
    parse_number,
    parse_numbers,
)


@pytest.mark.parametrize(
    ("cell", "value"),
    [("20.5", 20.5), (" 20,5 ", 20.5), ("1 200.5", 1200.5), ("−3", -3.0), ("1e3", 1000.0), (".5", 0.5)],
)
def test_numbers(cell: str, value: float) -> None:
    assert parse_number(cell) == value


@pytest.mark.parametrize("cell", ["1,234,567", "1.234,5", "89.5 C", "abc", "inf", "1e999", "0x10", "1_000"])
def test_what_is_no_plain_number_is_refused(cell: str) -> None:
    with pytest.raises(ValueError, match="'"):
        parse_number(cell)


def test_columns_are_read_at_once_or_not_at_all() -> None:
    points, commas = parse_numbers(["1.5", "2"]), parse_numbers(["1,5", "2"])
    assert points is not None
    assert commas is not None
    assert (points.tolist(), commas.tolist()) == ([1.5, 2.0], [1.5, 2.0])
    assert parse_numbers(["1.5", "n/a"]) is None
    assert parse_numbers(["1.5", "nan"]) is None
    assert parse_numbers(["1.5", "1_000"]) is None


@pytest.mark.parametrize(
    ("cell", "clock", "seconds"),
    [
        ("1:30", Clock.HOURS_MINUTES, 5400.0),
        ("1:30:15", Clock.HOURS_MINUTES, 5415.0),
        ("1:30", Clock.MINUTES_SECONDS, 90.0),
        ("130:05", Clock.MINUTES_SECONDS, 7805.0),
        ("0:00:07.5", Clock.HOURS_MINUTES_SECONDS, 7.5),
    ],
)
def test_clocks(cell: str, clock: Clock, seconds: float) -> None:
    assert parse_clock(cell, clock) == seconds


@pytest.mark.parametrize(
    ("cell", "clock"),
    [
        ("90", Clock.HOURS_MINUTES),
        ("1:75", Clock.HOURS_MINUTES),
        ("1:30", Clock.HOURS_MINUTES_SECONDS),
        ("1:30:00", Clock.MINUTES_SECONDS),
        ("-1:30", Clock.HOURS_MINUTES),
    ],
)
def test_clocks_not_as_the_heading_says_are_refused(cell: str, clock: Clock) -> None:
    with pytest.raises(ValueError, match=cell.replace("-", "")):
        parse_clock(cell, clock)


APRIL = datetime(2026, 4, 3)


@pytest.mark.parametrize(
    ("cell", "order", "date"),
    [
        ("2026-04-03", None, APRIL),
        ("2026-04-03T18:05:00Z", None, datetime(2026, 4, 3, 18, 5)),
        ("3.4.2026", None, APRIL),
        ("23/4/2026", None, datetime(2026, 4, 23)),
        ("4/23/2026", None, datetime(2026, 4, 23)),
        ("4/4/2026", None, datetime(2026, 4, 4)),
        ("3/4/2026", DateOrder.DAY_FIRST, APRIL),
        ("4/3/2026 18:05", DateOrder.MONTH_FIRST, datetime(2026, 4, 3, 18, 5)),
    ],
)
def test_dates(cell: str, order: DateOrder | None, date: datetime) -> None:
    assert parse_date(cell, order) == date


def test_a_date_of_two_readings_is_never_guessed() -> None:
    with pytest.raises(ValueError, match=r"can be read in two ways; write the year first"):
        parse_date("3/4/2026", None)


@pytest.mark.parametrize("cell", ["31.2.2026", "2026-13-01", "23/23/2026", "3/4/26", "yesterday", "20260403"])
def test_what_is_no_date_is_refused(cell: str) -> None:
    with pytest.raises(ValueError, match="is no date"):
        parse_date(cell, DateOrder.DAY_FIRST)


def test_order_that_a_column_shows() -> None:
    assert date_order(["3/4/2026", "23/4/2026"]) == (DateOrder.DAY_FIRST, 1)
    assert date_order(["3/4/2026", "4/23/2026"]) == (DateOrder.MONTH_FIRST, 1)
    assert date_order(["23/4/2026", "4/23/2026"]) is None
    assert date_order(["3/4/2026", "2026-04-23", "23.4.2026"]) is None
