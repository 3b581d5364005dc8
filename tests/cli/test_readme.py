"""The commands of the README run as they stand there, one after the other."""

import re
import shlex
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import thermal_model
from tests.cli.conftest import Command
from tests.notebooks import agree

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```sh\n(.*?)```", README, flags=re.S)


def commands() -> list[str]:
    """Command lines of `holdtime` in file order; of the line that also sets up, the last command."""
    lines = [line.rpartition("&& ")[2].removeprefix(".venv/bin/") for block in BLOCKS for line in block.splitlines()]
    return [line for line in lines if line.startswith("holdtime ")]


def scripts() -> list[str]:
    """The blocks of Python."""
    return re.findall(r"```python\n(.*?)```", README, flags=re.S)


def assert_same_picture(fresh: Path, kept: Path) -> None:
    """Hold a picture to the one in the repository; the edges of letters may differ by the library that draws them."""
    pictures = [np.asarray(Image.open(path).convert("L"), dtype=float) for path in (fresh, kept)]
    assert pictures[0].shape == pictures[1].shape
    differ = np.abs(pictures[0] - pictures[1]) > 64.0
    assert differ.mean() < 2e-3, f"{100.0 * differ.mean():.2f} % of it differs; holdtime compare ... --plot {kept}"


def test_output_in_the_readme_is_that_of_the_command(holdtime: Command) -> None:
    (shown,) = re.findall(r"```text\n(.*?)```", README, flags=re.S)
    printed = holdtime(*shlex.split(commands()[0])[1:]).stdout
    assert agree(shown, printed[: len(shown)])


def test_commands_of_the_readme_run(holdtime: Command) -> None:
    assert len(commands()) >= 6
    for line in commands():
        result = holdtime(*shlex.split(line)[1:])
        assert result.exit_code == 0, f"{line}\n{result.output}"
    assert Path("curve.png").exists()
    assert_same_picture(Path("ranking.png"), ROOT / "notebooks" / "ranking.png")
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
