"""The walks of DEVELOPERS.md lead where they say: their functions are there, and are called in that order."""

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.walk import functions_called
from thermal_model.cli.main import app

TEXT = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
SECTION = TEXT.partition("## Four walks\n")[2].partition("\n## ")[0]
WALKS = {
    title: re.findall(r"`((?:geometries|thermal_model)\.[\w.]+)`", body)
    for title, body in re.findall(r"^\*\*(.*?)\*\*(.*?)(?=^\*\*|\Z)", SECTION, flags=re.S | re.M)
}

MOUTH, READING, VARY, PRIOR = WALKS


def run(*arguments: str) -> None:
    result = CliRunner().invoke(app, [*arguments], prog_name="holdtime")
    assert result.exit_code == 0, result.output


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An invented bench, in an empty folder to work in."""
    monkeypatch.chdir(tmp_path)
    run("bench", "demo", "galley")
    return tmp_path / "galley"


def test_there_are_four_walks() -> None:
    assert len(WALKS) == 4
    assert all(len(functions) >= 7 for functions in WALKS.values())


@pytest.mark.parametrize(
    ("title", "arguments"),
    [
        (MOUTH, ("predict", "slim_neck_double_seal", "--no-interval")),
        (READING, ("calibrate", "galley", "--output", "galley.json")),
        (
            VARY,
            (
                *("sweep", "slim_neck_double_seal", "--vary", "body.neck.mouth_diameter=40..50 mm:2"),
                *("--output", "mouths.csv"),
            ),
        ),
        (PRIOR, ("predict", "slim_neck_double_seal", "--draws", "5")),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
@pytest.mark.usefixtures("bench")
def test_a_walk_is_as_it_is_written(title: str, arguments: tuple[str, ...]) -> None:
    called = functions_called(lambda: run(*arguments))
    places = {name: place for place, name in reversed([*enumerate(called)])}
    assert [name for name in WALKS[title] if name not in places] == []
    # What goes before may have followed something of its own already.
    listed = [name for name in WALKS[title] if name != "thermal_model.follow.follow"]
    assert listed == sorted(listed, key=places.__getitem__)
