"""A few hundred of the damaged inputs that `tests.benchmarks.fuzz_inputs` makes."""

import random

import pytest

from geometries.errors import InputError
from geometries.files import parse_toml
from tests.benchmarks.fuzz_inputs import damaged, fuzz


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
