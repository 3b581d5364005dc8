"""Solids and surfaces that a design describes itself, or takes from a file beside it."""

import copy
import pickle
from pathlib import Path

import numpy as np
import pytest

from geometries.container import Container, wall_mass
from geometries.design_file import (
    catalogue_path,
    container_text,
    load_container,
    parse_container,
)
from geometries.errors import InputError
from geometries.materials import conductivity, material, materials, surface
from geometries.overrides import with_overrides
from thermal_model.api.records import from_json, to_json
from thermal_model.prediction import predict
from thermal_model.reasons.parts import taken_apart
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import draw_sample

STARTER = catalogue_path("slim_neck_double_seal").read_text(encoding="utf-8")
OURS = """
[materials.our_titanium]
like = "titanium"
conductivity_at = { "20 C" = "16.1 W/(m K)", "90 C" = "16.9 W/(m K)" }
density = "4500 kg/m3"
emissivity = 0.2
source = "the mill's certificate"

[surfaces.our_enamel]
emissivity = 0.8
"""


def with_ours(tables: str = OURS) -> str:
    text = STARTER.replace("stainless_304", "our_titanium").replace("stainless_electropolished", "our_titanium")
    return text.replace("powder_coat", "our_enamel") + tables


@pytest.fixture(scope="module")
def ours() -> Container:
    return parse_container(with_ours())


def test_what_is_left_out_is_as_in_what_it_is_like(ours: Container) -> None:
    solid, given = material(ours.body.wall.material), material("titanium")
    assert (solid.density, solid.heat_capacity) == (4500.0, given.heat_capacity)
    assert conductivity(solid, np.array([293.15, 363.15])) == pytest.approx([16.1, 16.9])
    assert surface(ours.body.gap.inner_surface).emissivity == 0.2
    assert surface(ours.body.exterior.surface).emissivity == 0.8


def test_the_mass_of_the_walls_goes_with_the_density(ours: Container) -> None:
    steel = wall_mass(parse_container(STARTER))
    assert wall_mass(ours) == pytest.approx(steel * 4500.0 / material("stainless_304").density)


def test_a_description_that_repeats_a_given_one_changes_nothing() -> None:
    given, glaze = material("stainless_304"), surface("powder_coat").emissivity
    points = {f"{t} C": f"{float(conductivity(given, t + 273.15))!r} W/(m K)" for t in (10.0, 90.0)}
    tables = f"""
[materials.our_titanium]
conductivity_at = {{ {", ".join(f"'{t}' = '{k}'" for t, k in points.items())} }}
density = "{given.density} kg/m3"
heat_capacity = "{given.heat_capacity} J/(kg K)"
emissivity = {surface("stainless_electropolished").emissivity}
[surfaces.our_enamel]
emissivity = {glaze}
"""
    texts = (with_ours(tables), STARTER)
    times = [predict(parse_container(t), Scenario(), [333.15], draws=0).hold_times[0].nominal for t in texts]
    assert times[0] == pytest.approx(times[1], rel=1e-9)


def test_it_reads_back_from_every_form(ours: Container, tmp_path: Path) -> None:
    assert parse_container(container_text(ours)) == ours
    assert from_json(to_json(ours)) == ours
    assert pickle.loads(pickle.dumps(ours)) == copy.deepcopy(ours) == ours
    assert hash(ours) == hash(copy.deepcopy(ours))
    wider = with_overrides(ours, {"body.neck.mouth_diameter": "50 mm", "materials.our_titanium.density": "5 g/cm3"})
    assert material(wider.body.wall.material).density == pytest.approx(5000.0)


def test_two_of_one_name_that_mean_different_things_are_not_the_same_part(ours: Container) -> None:
    other = with_overrides(ours, {"materials.our_titanium.density": "5 g/cm3"})
    assert ours.body.wall.material != other.body.wall.material
    assert taken_apart(ours) != taken_apart(other)
    assert ours.body.wall.material == "our_titanium"


def test_a_spread_of_its_own_widens_what_is_drawn(ours: Container) -> None:
    from thermal_model.assemble.setup import widened

    wide = with_overrides(ours, {"materials.our_titanium.spread": 0.2})
    factor = draw_sample(wide, Scenario(), 20, 0).unknowns.wall_conductivity
    drawn = [widened(factor, material(of.body.wall.material), "wall_conductivity") for of in (ours, wide)]
    np.testing.assert_array_equal(drawn[0], factor)
    assert np.log(drawn[1]) == pytest.approx(5.0 * np.log(factor))  # 0.2 over the usual 0.04


@pytest.mark.parametrize(
    ("tables", "message"),
    [
        (
            "[materials.x]\ndensity = '900 kg/m3'",
            "materials.x.conductivity: is missing; add it, or say what it is like",
        ),
        (
            "[materials.x]\nconductivity = '2 W/(m K)'\ndensity = '900 kg/m3'",
            "materials.x.heat_capacity: is missing; add it, or say what it is like",
        ),
        ("[surfaces.x]\nsource = 'a guess'", "surfaces.x.emissivity: is missing; add it, or say what it is like"),
        (
            "[materials.x]\nlike = 'y'\n[materials.y]\nlike = 'x'",
            "materials.y.like: goes in a circle: x is like y is like x; give one of them its own numbers",
        ),
        ("[materials.x]\nlike = 'x'", "materials.x.like: goes in a circle: x is like x; give one"),
        ("[materials.copper]\nlike = 'silver'", "materials.copper: is the name of a given one; take another"),
        (
            "[materials.paint]\nlike = 'cork'\nemissivity = 0.9",
            "materials.paint.emissivity: is a surface already; leave its emissivity out, or take another name",
        ),
        ("[materials.x]\nlike = 'corck'", "materials.x.like = 'corck': is not known; did you mean 'cork'? allowed: "),
        (
            "[materials.x]\nlike = 'cork'\nconductivty = '2 W/(m K)'",
            "materials.x.conductivty: unknown key; did you mean 'conductivity'? allowed: like, conductivity, ",
        ),
        (
            "[materials.x]\nlike = 'cork'\ndensity = '-1 kg/m3'",
            "materials.x.density: '-1 kg/m3' is not allowed; it must",
        ),
        ("[materials.x]\nlike = 'cork'\nconductivity = '2 W/m2K'", "materials.x.conductivity: '2 W/m2K'"),
        (
            "[materials.x]\nlike = 'cork'\nconductivity_at = { '20 C' = '2 W/(m K)' }",
            "materials.x.conductivity_at: needs two temperatures or more, each once; for one value write conductivity",
        ),
        (
            "[materials.x]\nlike = 'cork'\nconductivity_at = { '0 C' = '1 W/(m K)', '20 C' = '2 W/(m K)', "
            "'40 C' = '1 W/(m K)' }",
            "materials.x.conductivity_at: does not lie within 5% of a straight line that stays above zero",
        ),
        ("[materials.X1]\nlike = 'cork'", "materials.X1: a name has lower case letters, digits and underscores"),
        ("[surfaces.x]\nemissivity = 1.2", "surfaces.x.emissivity: 1.2 is not allowed; it must be above zero and at"),
        ("[materials.x]\nlike = 'cork'\n[materials.x]\nlike = 'cork'", "is not valid TOML: "),
        ("[lid.handle]\nmaterial = 'x'", "lid.handle: unknown key"),
    ],
)
def test_a_bad_description_is_told_in_one_line(tables: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_container(STARTER + "\n" + tables, "d.toml")
    assert len(caught.value.problems) == 1
    assert message in str(caught.value)


def test_an_unknown_material_says_how_to_describe_it() -> None:
    with pytest.raises(InputError, match=r"'titan' is not a known material; .*describe it under \[materials\.titan\]"):
        parse_container(STARTER.replace("stainless_304", "titan"))


class TestFileBeside:
    @pytest.fixture
    def design(self, tmp_path: Path) -> Path:
        (tmp_path / "ours.toml").write_text(OURS, encoding="utf-8")
        text = with_ours("").replace("[body]\n", 'materials_from = "ours.toml"\n\n[body]\n', 1)
        (tmp_path / "design.toml").write_text(text, encoding="utf-8")
        return tmp_path / "design.toml"

    def test_it_is_the_same_as_in_the_design(self, design: Path, ours: Container) -> None:
        assert load_container(design) == ours

    @pytest.mark.parametrize(
        ("named", "inside", "message"),
        [
            ("gone.toml", OURS, "gone.toml: there is no such file"),
            ("ours.toml", OURS + "\n[body]\nx = 1", "body: a file of materials has materials and surfaces"),
            ("ours.toml", "materials = 3", "materials: a file of materials has materials and surfaces"),
        ],
    )
    def test_what_is_wrong_with_it_is_told(self, design: Path, named: str, inside: str, message: str) -> None:
        (design.parent / "ours.toml").write_text(inside, encoding="utf-8")
        design.write_text(design.read_text(encoding="utf-8").replace("ours.toml", named), encoding="utf-8")
        with pytest.raises(InputError) as caught:
            load_container(design)
        assert message in str(caught.value)

    def test_it_is_a_name_and_is_looked_for_beside_a_file(self, design: Path) -> None:
        text = design.read_text(encoding="utf-8")
        with pytest.raises(InputError, match="materials_from = 3: must be the name of a file, in quotes"):
            parse_container(text.replace('"ours.toml"', "3"), "design.toml", design.parent)
        with pytest.raises(InputError, match="can't be looked for; read the design from its file, or put the tables"):
            parse_container(text, "design.toml")

    def test_a_name_in_both_is_refused(self, design: Path) -> None:
        design.write_text(design.read_text(encoding="utf-8") + "\n[surfaces.our_enamel]\nemissivity = 0.7\n")
        with pytest.raises(InputError, match=r"surfaces.our_enamel: stands twice, here and in ours.toml; take one"):
            load_container(design)


@pytest.mark.parametrize("name", ["titanium", "aluminium", "bamboo", "silicone_rubber", "cork"])
def test_the_trade_finds_its_materials(name: str) -> None:
    assert materials()[name].source
