"""`holdtime new`: a design from questions, in a terminal or from options."""

from pathlib import Path

import pytest
from typer.testing import CliRunner

from geometries.container import outside_diameter
from geometries.design_file import load_container
from tests.cli.conftest import Command, refused
from thermal_model.cli.main import app

KNOWN = ["mouth=44 mm", "outside=75 mm", "capacity=600 mL", "depth=?", "neck=3 cm"]
REST = [
    "walls=?",
    "material=?",
    "shape=?",
    "lid=hollow",
    "lid_height=14 mm",
    "plug=none",
    "seals=1",
    "hole=none",
    "finish=bare",
]


def options(answers: list[str]) -> list[str]:
    return [word for answer in answers for word in ("--answer", answer)]


def test_all_answers_as_options(holdtime: Command) -> None:
    done = holdtime("new", "mine.toml", *options([*KNOWN, *REST]), "--plot", "mine.svg")
    assert done.exit_code == 0, done.output
    assert "stays above 60" in done.stdout
    assert Path("mine.svg").exists()
    assert '"body.gap.width" = "2.5..6.5 mm"' in Path("mine.toml").read_text()
    assert holdtime("designs", "show", "mine.toml").exit_code == 0
    refused(holdtime("new", "mine.toml", *options([*KNOWN, *REST])), "mine.toml: is there already", "--force")


def test_wrong_answers_are_told_at_once(holdtime: Command) -> None:
    wrong = options(["mouth=44", "mouht=44 mm", "seals=seven"])
    lines = refused(holdtime("new", "mine.toml", *wrong), "mouth", "did you mean 'mouth'?", "is none of the answers")
    assert len(lines) == 3
    assert not Path("mine.toml").exists()


def test_answers_that_contradict_each_other(holdtime: Command) -> None:
    wrong = ["shape=straight", "mouth=90 mm", "outside=80 mm", "foot=?", *KNOWN[2:4], *REST[:2], *REST[3:]]
    refused(holdtime("new", "mine.toml", *options(wrong)), "outside")
    assert not Path("mine.toml").exists()


def test_control_characters_typed_are_not_sent_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    typed = "\n".join(["vacuum", "steel", "1", "4\x1b[2J4", "44 mm"])
    done = CliRunner().invoke(app, ["new", "mine.toml"], input=typed, prog_name="holdtime", color=True)
    assert "'4\\x1b[2J4': " in done.stderr
    assert all(line.isprintable() for line in done.stderr.splitlines())


def test_asked_in_a_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    typed = "\n".join(["vacuum", "steel", "1", "44", "44 mm", "back", "45 mm", "75 mm", "600 mL", "?", "30 mm", "2"])
    done = CliRunner().invoke(app, ["new", "mine.toml"], input=typed, prog_name="holdtime")
    assert done.exit_code == 0, done.output
    assert "'44' has no unit" in done.stderr
    text = Path("mine.toml").read_text()
    assert 'mouth_diameter = "45 mm"' in text
    # What was not asked any more counts as not known.
    assert '"lid.layers.0.thickness" = "6..30 mm"' in text


def test_a_file_without_a_name(holdtime: Command) -> None:
    refused(holdtime("new", "1.toml"), "must begin with a letter")


def test_what_is_unlikely_is_said_in_a_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    typed = "\n".join(["", "", "", "46 cm", *[""] * 30])
    done = CliRunner().invoke(app, ["new", "wide.toml"], input=typed)
    assert "Sure? most are between 15 mm and 130 mm" in done.output


def test_answers_that_do_not_fit_are_asked_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    known = [*KNOWN[2:4], *(answer for answer in REST if not answer.startswith("shape"))]
    # The first answer is none, "back" forgets the last one that was given, --answer finish=bare.
    typed = "\n".join(["bottle", "back", "straight", "90 mm", "80 mm", "?", "bare", "100 mm", ""])
    done = CliRunner().invoke(app, ["new", "mine.toml", *options(known)], input=typed, prog_name="holdtime")
    assert done.exit_code == 0, done.stderr
    _, _, asked_again = done.stderr.partition("The answers do not fit together:")
    assert "outside = '80 mm': the mouth, 90 mm inside, must be narrower than the outside" in asked_again
    assert asked_again.count("How wide is the body, outside?") == 1
    assert "How wide is the mouth" not in asked_again
    assert float(outside_diameter(load_container("mine.toml"))) == pytest.approx(0.1)
