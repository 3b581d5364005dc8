"""The room over time, from a CSV: read, or refused by line."""

from pathlib import Path

import pytest

from geometries.errors import InputError
from geometries.validation import validated
from thermal_model import csv_columns
from thermal_model.room_file import read_room_file
from thermal_model.scenario import MOST_STEPS, RoomProfile, Scenario

HEADING = "time [min],temperature [C]\n"


def refusal(path: Path, rows: str) -> list[str]:
    path.write_text(HEADING + rows)
    with pytest.raises(InputError) as caught:
        read_room_file(path, in_steps=False)
    return [str(problem).removeprefix(f"{path}: ") for problem in caught.value.problems]


def test_every_line_that_is_wrong_is_told(tmp_path: Path) -> None:
    assert refusal(tmp_path / "room.csv", "0,20\n1,-80\n-2,20\n3,\n4,20\n") == [
        "line 3, temperature: '-80 C' is not allowed; it must be at least -40 C and at most 100 C",
        "line 4, time: '-2 min' is not allowed; it must be at least zero",
        "line 5, temperature: is empty; give a number, or leave the whole row out",
    ]


def test_more_rows_than_can_be_read_are_told_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csv_columns, "MOST_ROWS", 2)
    assert refusal(tmp_path / "room.csv", "0,20\n1,20\n2,20\n") == ["has 3 rows; at most 2 are read: keep one in 2"]


def test_more_steps_than_can_be_followed() -> None:
    times = tuple(float(k) for k in range(MOST_STEPS + 1))
    document = {"times": times, "temperatures": (293.15,) * len(times), "in_steps": True}
    with pytest.raises(InputError, match="401 steps are more than 400; keep one in 2, or let the room slope"):
        validated(RoomProfile, document, needs_unit=False)
    assert len(validated(RoomProfile, document | {"in_steps": False}, needs_unit=False).times) == MOST_STEPS + 1


def test_a_shift_that_moves_the_room_too_far() -> None:
    profile = {"times": ["0 s"], "temperatures": ["-30 C"], "shift": "-11 K"}
    with pytest.raises(InputError, match=r"room_profile\.shift: moves the room beyond -40 to 100 C"):
        validated(Scenario, {"room_profile": profile})
