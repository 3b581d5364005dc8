"""The commands of the README run as they stand there, one after the other."""

import re
import shlex
from pathlib import Path

import pytest

import thermal_model
from tests.cli.conftest import Command

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```sh\n(.*?)```", README, flags=re.S)


def commands() -> list[str]:
    """Command lines of `holdtime` in file order; of the line that also sets up, the last command."""
    lines = [line.rpartition("&& ")[2].removeprefix(".venv/bin/") for block in BLOCKS for line in block.splitlines()]
    return [line for line in lines if line.startswith("holdtime ")]


def scripts() -> list[str]:
    """The blocks of Python."""
    return re.findall(r"```python\n(.*?)```", README, flags=re.S)


def test_commands_of_the_readme_run(holdtime: Command) -> None:
    assert len(commands()) >= 6
    for line in commands():
        result = holdtime(*shlex.split(line)[1:])
        assert result.exit_code == 0, f"{line}\n{result.output}"
    assert Path("curve.png").exists()
    # Then its script, beside the bench that the commands have made.
    assert len(scripts()) == 1
    assert len(scripts()[0].splitlines()) <= 12
    names: dict[str, object] = {}
    exec(compile(scripts()[0], "README.md", "exec"), names)
    assert thermal_model.from_json(str(names["text"])) == names["tea"]


@pytest.mark.parametrize("field", re.findall(r"`((?:body|lid)\.[a-z_.]+)`", README))
def test_fields_of_the_readme_are_in_a_design(holdtime: Command, field: str) -> None:
    from geometries.design_file import load_container
    from geometries.overrides import with_values

    container = load_container("single_seal_plug")
    assert with_values(container, {field: 1.0}) != container
