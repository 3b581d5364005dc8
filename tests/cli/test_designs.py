"""`holdtime designs` and `holdtime unknowns`."""

import json
import re
import tomllib
from pathlib import Path

import jsonschema
import pytest

from geometries.container import brim_capacity
from geometries.design_file import catalogue_names, catalogue_path, load_container
from tests.cli.conftest import Command, refused
from thermal_model.uncertainty import PRIORS


def test_list_has_every_design(holdtime: Command) -> None:
    lines = holdtime("designs", "list").stdout.splitlines()
    assert lines[0].split() == ["design", "title", "mouth", "holds", "lid"]
    assert [line.split()[0] for line in lines[1:]] == catalogue_names()
    row = next(line for line in lines if line.startswith("slim_neck_double_seal"))
    assert "Night watch bottle, two seals" in row
    assert "44 mm" in row
    assert "hollow plug 40 mm, 2 seals" in row


def test_list_as_json(holdtime: Command) -> None:
    designs = json.loads(holdtime("designs", "list", "--json").stdout)["designs"]
    assert [design["name"] for design in designs] == catalogue_names()


@pytest.mark.parametrize("name", catalogue_names())
def test_show(holdtime: Command, name: str) -> None:
    facts = json.loads(holdtime("designs", "show", name, "--json").stdout)
    assert facts["closed_capacity_m3"] <= facts["brim_capacity_m3"] * (1.0 + 1e-9)
    assert facts["wall_mass_kg"] + facts["lid_mass_kg"] <= facts["empty_mass_kg"] * (1.0 + 1e-9)
    text = holdtime("designs", "show", name).stdout
    assert f"{1e6 * facts['brim_capacity_m3']:.0f} mL" in text
    assert f"file: {catalogue_path(name)}" in text


def test_copy_keeps_comments(holdtime: Command) -> None:
    result = holdtime("designs", "copy", "slim_neck_double_seal", "mine.toml")
    assert result.exit_code == 0
    assert result.stdout == ""
    assert "holdtime predict mine.toml" in result.stderr
    text = Path("mine.toml").read_text(encoding="utf-8")
    assert "# long and thin: heat has far to go along the steel" in text
    assert "# From the bottom up." in text
    assert holdtime("designs", "show", "mine.toml").exit_code == 0


@pytest.mark.parametrize("name", catalogue_names())
def test_a_copy_is_the_same_container_and_says_nothing_of_the_other(holdtime: Command, name: str) -> None:
    assert holdtime("designs", "copy", name, "Night flask-2.toml").exit_code == 0
    text = Path("Night flask-2.toml").read_text(encoding="utf-8")
    ours, theirs = tomllib.loads(text), tomllib.loads(catalogue_path(name).read_text(encoding="utf-8"))
    assert ours["name"] == "night_flask_2"
    assert "summary" not in ours
    assert "title" not in ours
    assert theirs["summary"] not in text
    assert theirs["title"] not in text
    assert (ours["body"], ours.get("lid")) == (theirs["body"], theirs.get("lid"))


@pytest.mark.parametrize("name", ["slim_neck_double_seal", "stoneware_cup"])
def test_both_ways_of_a_diameter_stand_in_a_copy(holdtime: Command, name: str) -> None:
    """Swapped, the line that was a comment describes the same container, to the rounding of its digits."""
    assert holdtime("designs", "copy", name, "mine.toml").exit_code == 0
    own = load_container("mine.toml")
    text = Path("mine.toml").read_text(encoding="utf-8")
    for given, other in (("inside_diameter", "outside_diameter"), ("inside_depth", "outside_height")):
        given, other = (given, other) if re.search(rf"^{given} =", text, flags=re.M) else (other, given)
        assert re.search(rf"^# {other} = \".* mm\"  # or this instead: ", text, flags=re.M)
        text = re.sub(rf"^{given} =", f"# {given} =", text, flags=re.M)
        text = re.sub(rf"^# {other} =", f"{other} =", text, flags=re.M)
    Path("other.toml").write_text(text, encoding="utf-8")
    swapped = load_container("other.toml")
    assert float(brim_capacity(swapped)) == pytest.approx(float(brim_capacity(own)), rel=2e-3)


def test_show_takes_settings(holdtime: Command) -> None:
    words = ("designs", "show", "slim_neck_double_seal", "--set", "body.neck.mouth_diameter=48 mm")
    assert json.loads(holdtime(*words, "--json").stdout)["mouth_diameter_m"] == pytest.approx(0.048)
    text = holdtime(*words).stdout
    assert "48.0 mm" in text
    assert "changed by --set" in text
    assert text.startswith("Night watch bottle, two seals (slim_neck_double_seal): Slim bottle")
    refused(
        holdtime("designs", "show", "stoneware_cup", "--set", "scenario.fill=1 L"), "--set: scenario.fill: is of a run"
    )


def test_a_title_is_for_people(holdtime: Command) -> None:
    refused(holdtime("designs", "show", "stoneware_cup", "--set", "title=a\x07b"), "has a control character")
    plain = load_container("stoneware_cup").model_copy(update={"title": ""})
    assert plain.called == "Stoneware cup"
    assert load_container("stoneware_cup").called == "Galley cup"


def test_copy_does_not_overwrite_unless_forced(holdtime: Command) -> None:
    Path("mine.toml").write_text("mine", encoding="utf-8")
    refused(holdtime("designs", "copy", "stoneware_cup", "mine.toml"), "mine.toml: is there already", "--force")
    assert Path("mine.toml").read_text(encoding="utf-8") == "mine"
    assert holdtime("designs", "copy", "stoneware_cup", "mine.toml", "--force").exit_code == 0
    assert "stoneware_cup" in Path("mine.toml").read_text(encoding="utf-8")


def test_copy_refuses(holdtime: Command) -> None:
    refused(holdtime("designs", "copy", "stoneware_cub", "mine.toml"), "did you mean 'stoneware_cup'?")
    refused(holdtime("designs", "copy", "stoneware_cup", "."), ".: is a folder")
    refused(holdtime("designs", "copy", "stoneware_cup", "nowhere/mine.toml"), "there is no folder")
    refused(holdtime("designs", "show", "nothing.toml"), "there is no such file")


def test_schema_accepts_the_catalogue(holdtime: Command) -> None:
    schema = json.loads(holdtime("designs", "schema").stdout)
    for name in catalogue_names():
        jsonschema.validate(tomllib.loads(catalogue_path(name).read_text(encoding="utf-8")), schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"name": "x", "body": {"inside_diameter": 4}}, schema)


def test_unknowns_table_and_json(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    text = holdtime("unknowns").stdout
    rows = json.loads(holdtime("unknowns", "--json").stdout)["unknowns"]
    assert [row["name"] for row in rows] == list(PRIORS)
    for row in rows:
        assert row["label"] in text
        assert row["nine_in_ten"] in text


def test_unknown_ranges_in_words(holdtime: Command) -> None:
    """A lognormal factor of width s reaches exp(1.645 s): 1.22 for 0.12; a shift of 0.5 K reaches 0.82 K."""
    rows = {row["name"]: row for row in json.loads(holdtime("unknowns", "--json").stdout)["unknowns"]}
    assert (PRIORS["exterior_film"].width, PRIORS["room"].width) == (0.12, 0.5)
    assert rows["exterior_film"]["nine_in_ten"] == "-18 % to +22 %"
    assert rows["room"]["nine_in_ten"] == "± 0.82 K"
    assert rows["mouth_diameter"]["nine_in_ten"] == "± 0.66 mm"
