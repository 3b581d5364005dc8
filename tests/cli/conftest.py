"""The command in this process: quick, and with its streams apart."""

from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from thermal_model.cli.main import app

Command = Callable[..., Result]


@pytest.fixture
def holdtime(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Command:
    """Run the command in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    return run


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments], prog_name="holdtime")


def refused(result: Result, *fragments: str) -> list[str]:
    """Lines of a refusal: exit code 2, nothing on standard output, no traceback, every fragment there."""
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    for fragment in fragments:
        assert fragment in result.stderr
    lines = result.stderr.splitlines()
    assert all(line.startswith("holdtime: ") for line in lines)
    return lines
