"""`holdtime optimise` stopped and gone on with; the search itself is tested in `tests/thermal_model/study`."""

from pathlib import Path

import pytest

from tests.cli.conftest import Command, refused
from thermal_model.study.optimum.designs import DesignSpace

SEARCH = (
    *("optimise", "stoneware_cup", "--fill", "200mL", "--vary", "body.inside_depth=80..120 mm"),
    *("--vary", "body.inside_diameter=70..80 mm", "--at-least", "hold=10min", "--best", "mass", "--tries", "20"),
    *("--tolerance", "body.inside_depth=0.5mm", "--pieces", "16"),
)


def test_stopped_it_goes_on_and_ends_the_same(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = holdtime(*SEARCH, "--output", "whole.json")
    assert whole.exit_code == 0, whole.output
    followed, asked = DesignSpace._followed, 0

    def counted(*arguments: object) -> object:
        nonlocal asked
        asked += 1
        if asked == 6:
            raise KeyboardInterrupt
        return followed(*arguments)

    monkeypatch.setattr(DesignSpace, "_followed", counted)
    stopped = holdtime(*SEARCH, "--output", "parts.json")
    assert stopped.exit_code == 130
    assert "what is done is kept in parts.json.partial, the same command goes on there" in stopped.stderr
    assert not Path("parts.json").exists()
    refused(holdtime(*SEARCH, "--seed", "2", "--output", "parts.json"), "holds part of another search")
    gone_on = holdtime(*SEARCH, "--output", "parts.json")
    assert gone_on.exit_code == 0, gone_on.output
    assert "goes on where it was stopped" in gone_on.stderr
    assert Path("parts.json").read_bytes() == Path("whole.json").read_bytes()
    assert gone_on.stdout == whole.stdout
    assert not Path("parts.json.partial").exists()
