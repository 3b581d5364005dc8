"""`holdtime designs` and `holdtime unknowns`."""

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from geometries.design_file import catalogue_names, catalogue_path
from tests.cli.conftest import Command, refused
from thermal_model.uncertainty import PRIORS


def test_list_has_every_design(holdtime: Command) -> None:
    lines = holdtime("designs", "list").stdout.splitlines()
    assert lines[0].split() == ["design", "mouth", "holds", "lid"]
    assert [line.split()[0] for line in lines[1:]] == catalogue_names()
    row = next(line for line in lines if line.startswith("slim_neck_double_seal"))
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
    assert Path("mine.toml").read_bytes() == catalogue_path("slim_neck_double_seal").read_bytes()
    assert holdtime("designs", "show", "mine.toml").exit_code == 0


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
