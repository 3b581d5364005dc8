"""A few hundred of the damaged inputs that `tests.benchmarks.fuzz_inputs` makes."""

import random
from pathlib import Path

import pytest

from geometries.errors import InputError
from geometries.files import parse_toml
from tests.benchmarks.fuzz_inputs import damaged, fuzz
from tests.cli.calibration_files import calibration
from tests.cli.conftest import Command
from thermal_model.api.records import from_json
from thermal_model.bench.calibration.calibration_file import read_calibration


def test_damaged_files_end_in_plain_lines() -> None:
    tally = fuzz(cases=400, seed=11, command_share=0)
    assert not tally.failures
    assert tally.ends["refused"] > 200
    assert tally.ends["read"] > 10


def test_damaged_command_lines_end_in_plain_lines() -> None:
    tally = fuzz(cases=40, seed=12, command_share=1)
    assert not tally.failures
    assert tally.ends["refused by the command"] > 10


def test_damage_changes_most_texts() -> None:
    text = 'a = "1 mm"\n[b]\nc = 2\n'
    draw = random.Random(0)
    assert sum(damaged(text, draw) != text.encode() for _ in range(200)) > 150


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a = " + "9" * 10_000, "too many digits"),
        ("a = " + "[" * 5000, "nested too deeply"),
        ("a" + ".a" * 20_000 + " = 1", "more than 100 dots"),
        ('a = "\x1b[2J"', "is not valid TOML"),
    ],
)
def test_toml_that_no_one_writes(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        parse_toml(text, "mine.toml")
    assert str(caught.value).startswith("mine.toml: ")
    assert str(caught.value).isprintable()


@pytest.mark.parametrize("text", ['{"record": "Scenario", "data": ' + "9" * 10_000 + "}", "[" * 100_000])
def test_records_that_no_one_writes(text: str) -> None:
    with pytest.raises(InputError, match="is no record"):
        from_json(text)


def test_a_calibration_with_a_number_too_large(tmp_path: Path) -> None:
    path = calibration(tmp_path / "known.json", flask={})
    path.write_text(path.read_text().replace("0.01", "1" + "0" * 400, 1))
    with pytest.raises(InputError, match="is damaged"):
        read_calibration(path)


def test_no_cell_of_a_schedule_is_a_formula(holdtime: Command) -> None:
    result = holdtime("plan", "schedule", "=1+1", "tea", "--probe", "@SUM(A1)", "--probe", "pen", "--csv", "s.csv")
    assert result.exit_code == 0, result.stderr
    cells = {cell for line in Path("s.csv").read_text().splitlines()[1:] for cell in line.split(",")}
    assert {"'=1+1", "'@SUM(A1)", "tea", "pen"} <= cells
