"""Design files: the catalogue, round trips, comments, JSON Schema, and every bad file told in plain lines."""

import os
import tomllib

import pytest
import tomlkit
from jsonschema import Draft202012Validator

from geometries.checks import fill_problems
from geometries.container import brim_capacity, closed_capacity, empty_mass, total_height
from geometries.design_file import (
    catalogue_names,
    catalogue_path,
    container_text,
    load_container,
    parse_container,
    save_container,
)
from geometries.errors import InputError
from geometries.schema import container_schema

EXPECTED = {
    "slim_neck_double_seal",
    "single_seal_plug",
    "thin_disc_lid",
    "air_pocket_lid",
    "honeycomb_insert",
    "open_plug",
    "wide_mouth_disc",
    "handled_tumbler_straw",
    "single_wall_steel",
    "glass_refill_flask",
    "foam_jug",
    "three_layer_wall",
    "clearance_insert",
    "night_watch_can_two_litre",
    "stoneware_cup",
    "air_gap_mug",
    "cork_stopper_bottle",
}


def test_the_catalogue_is_whole():
    assert set(catalogue_names()) == EXPECTED


@pytest.mark.parametrize("name", catalogue_names())
class TestCatalogue:
    def test_loads_under_its_own_name_with_a_summary_and_comments(self, name):
        container = load_container(name)
        assert container.name == name
        assert len(container.summary) > 20
        assert catalogue_path(name).read_text(encoding="utf-8").startswith("# ")

    def test_has_plausible_dimensions(self, name):
        # Common practice, no source: cups from 0.3 L to jugs of 2.5 L, weighing 0.2 to 0.9 of their capacity.
        container = load_container(name)
        litres = 1000.0 * closed_capacity(container)
        assert 0.3 < litres < 2.5
        assert 0.85 * brim_capacity(container) < closed_capacity(container) <= brim_capacity(container)
        assert 0.2 < empty_mass(container) / litres < 0.9
        assert 0.08 < total_height(container) < 0.33
        assert fill_problems(container, closed_capacity(container)) == []

    def test_reads_back_the_same_when_written_anew(self, name):
        container = load_container(name)
        again = parse_container(container_text(container))
        assert again == container
        assert again.model_fields_set == container.model_fields_set

    def test_obeys_the_json_schema(self, name):
        schema = container_schema()
        Draft202012Validator.check_schema(schema)
        document = tomllib.loads(catalogue_path(name).read_text(encoding="utf-8"))
        assert list(Draft202012Validator(schema).iter_errors(document)) == []

    def test_every_number_in_the_file_arrives(self, name):
        """Each quantity of the file appears in the written text with the same unit and digits."""
        document = tomllib.loads(catalogue_path(name).read_text(encoding="utf-8"))
        assert tomllib.loads(container_text(load_container(name))) == document


def test_the_schema_refuses_what_the_model_refuses():
    validator = Draft202012Validator(container_schema())
    good = tomllib.loads(catalogue_path("thin_disc_lid").read_text(encoding="utf-8"))
    for path, bad in [
        (("body", "inside_diameter"), 66),
        (("body", "inside_diameter"), "66"),
        (("body", "gap", "kind"), "wool"),
        (("body", "gap", "shields"), 6),
        (("body", "wall"), {"material": "Mithril 1"}),  # "mithril" may be described beside the design
        (("body", "depht"), "3 mm"),
        (("name",), "No Name"),
        (("lid", "layers"), []),
    ]:
        document = tomlkit.parse(tomlkit.dumps(good)).unwrap()
        place = document
        for key in path[:-1]:
            place = place[key]
        place[path[-1]] = bad
        assert list(validator.iter_errors(document)), path
        with pytest.raises(InputError):
            parse_container(tomlkit.dumps(document))


def test_the_schema_shows_defaults_as_a_file_would():
    properties = container_schema()["$defs"]["Wall"]["properties"]
    assert properties["inner_thickness"]["default"] == "0.4 mm"
    assert properties["inner_thickness"]["description"]


GOOD = catalogue_path("thin_disc_lid").read_bytes()

BAD_FILES = {
    "empty.toml": (b"", "empty.toml: is empty"),
    "blank.toml": (b" \n\n", "blank.toml: is empty"),
    "binary.toml": (bytes(range(256)), "binary.toml: is not UTF-8 text (line 2)"),
    "null.toml": (b"name = 'a'\0", "null.toml: is not a text file"),
    "latin.toml": (
        "# a\nsummary = 'thé'".encode("latin-1"),
        "latin.toml: is not UTF-8 text (line 2); save it as UTF-8",
    ),
    "utf16.toml": (GOOD.decode().encode("utf-16"), "utf16.toml: is not UTF-8 text"),
    "large.toml": (b"[" * 10_000_000, "large.toml: is larger than 1 MB"),
    "nested.toml": (b"a = " + b"[" * 900_000, "nested.toml: its brackets are nested too deeply"),
    "twice.toml": (b"name = 'a'\nname = 'b'\n", "twice.toml: is not valid TOML: Cannot overwrite a value (at line 2"),
    "broken.toml": (b"name = 'a'\n[body\n", "broken.toml: is not valid TOML: Expected ']' at the end of a table"),
    "bare.toml": (GOOD.replace(b'"66 mm"', b"66"), "body.inside_diameter: 66 has no unit; give the unit, for example"),
    "inf.toml": (GOOD.replace(b'"66 mm"', b"inf"), "body.inside_diameter: inf has no unit"),
    "date.toml": (GOOD.replace(b'"66 mm"', b"2024-01-01"), "body.inside_diameter: 2024-01-01 is not a length"),
    "key.toml": (
        GOOD.replace(b"mouth_diameter", b"mouth_diamter"),
        "body.neck.mouth_diamter: unknown key; did you mean 'mouth_diameter'? allowed: mouth_diameter, length",
    ),
    "missing.toml": (GOOD.replace(b'width = "4 mm"\n', b""), "body.gap.width: is missing; add it"),
    "kind.toml": (
        GOOD.replace(b'kind = "solid"', b'kind = "sold"'),
        "lid.layers.0.kind = 'sold': did you mean 'solid'?",
    ),
    "no_kind.toml": (GOOD.replace(b'kind = "solid"\n', b""), "lid.layers.0.kind: must be one of 'solid', 'pocket'"),
    "table.toml": (b"name = 'a'\nbody = 3\n", "body = 3: must be a table of fields"),
    "list.toml": (GOOD.replace(b"[[lid.layers]]", b"[lid.layers]"), "lid.layers = {'kind': 'solid'"),
    "name.toml": (GOOD.replace(b'"thin_disc_lid"', b'"Thin Disc"'), "name = 'Thin Disc': must be lower case letters"),
    "wall.toml": (
        GOOD.replace(b"[body.gap]", b'[body.wall]\nkind = "single"\n[body.gap]'),
        "body.gap: a single wall has no",
    ),
    "both.toml": (GOOD.replace(b"[body]", b'[body]\noutside_height = "1 m"'), "body.inside_depth: give exactly one of"),
    "foam.toml": (
        GOOD.replace(b'kind = "vacuum"', b'kind = "foam"\nshields = 1'),
        "body.gap.shields: has no meaning in a gap",
    ),
    "gas.toml": (
        GOOD.replace(b'kind = "vacuum"', b'gas = "neon"'),
        "body.gap.gas = 'neon': did you mean 'xenon'? allowed: air",
    ),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_bad_file_is_told_in_plain_lines(name, tmp_path):
    data, message = BAD_FILES[name]
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(InputError) as caught:
        load_container(path)
    lines = str(caught.value).splitlines()
    assert any(message in line for line in lines), lines
    for line in lines:
        assert line.startswith(str(path) + ": ")
        assert len(line) < 400 + len(str(path))
        assert "Traceback" not in line


def test_all_bad_fields_are_told_at_once(tmp_path):
    path = tmp_path / "many.toml"
    text = GOOD.decode().replace('"66 mm"', '"6,6 cm"').replace('"44 mm"', '"44"').replace('"paint"', '"pant"')
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_container(path)
    assert {p.field for p in caught.value.problems} == {
        "body.inside_diameter",
        "body.neck.mouth_diameter",
        "body.exterior.surface",
    }
    assert len(str(caught.value).splitlines()) == 3


@pytest.mark.parametrize("data", [b"\xef\xbb\xbf" + GOOD, GOOD.replace(b"\n", b"\r\n")], ids=["mark", "crlf"])
def test_byte_order_mark_and_foreign_line_ends_are_read(data, tmp_path):
    path = tmp_path / "design.toml"
    path.write_bytes(data)
    assert load_container(path) == load_container("thin_disc_lid")


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (
            "thin_disk_lid",
            "design = 'thin_disk_lid': neither a file nor in the catalogue; did you mean 'thin_disc_lid'?",
        ),
        ("nowhere.toml", "nowhere.toml: there is no such file; check the path"),
        ("no/where", "no/where: there is no such file"),
        (".", ".: is a folder; give a file in it"),
        ("\0", "neither a file nor in the catalogue"),
        ("x" * 5000, "xxx...: neither a file nor in the catalogue"),
        ("x" * 5000 + ".toml", "can't be read: File name too long"),
    ],
)
def test_a_file_that_is_not_there(given, message, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError) as caught:
        load_container(given)
    assert message in str(caught.value)


def test_a_file_comes_before_the_catalogue_but_a_folder_does_not(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "foam_jug").mkdir()
    assert load_container("foam_jug").name == "foam_jug"
    (tmp_path / "stoneware_cup").write_bytes(GOOD)
    assert load_container("stoneware_cup").name == "thin_disc_lid"


def test_saving_writes_a_file_that_loads(tmp_path):
    container, path = load_container("foam_jug"), tmp_path / "mine.toml"
    save_container(container, path)
    assert load_container(path) == container
    assert os.listdir(tmp_path) == ["mine.toml"]


def test_a_write_that_fails_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "mine.toml"
    path.write_bytes(GOOD)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(InputError, match=r"mine\.toml: can't be written: No space left on device"):
        save_container(load_container("foam_jug"), path)
    assert path.read_bytes() == GOOD
    assert os.listdir(tmp_path) == ["mine.toml"]


def test_saving_over_a_file_keeps_its_permissions(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(GOOD)
    path.chmod(0o640)
    save_container(load_container("foam_jug"), path)
    assert path.stat().st_mode & 0o777 == 0o640
    assert load_container(path).name == "foam_jug"
