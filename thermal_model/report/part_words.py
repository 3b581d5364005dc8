"""A part of a container in a few words, to set two of them side by side."""

from geometries.body import Gap
from geometries.container import Container, closed_capacity
from geometries.lid import Lid
from geometries.materials import surface_emissivity
from thermal_model.reasons.parts import Group
from thermal_model.report.explanation import layers_text, mm
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import Scale, percent, quantity_text


def part_text(group: Group, container: Container, scenario: Scenario) -> str:
    """Return what a container, or its scenario, has as a part."""
    if group is Group.FILL:
        return _fill_text(scenario)
    if group is Group.CONDITIONS:
        return _conditions_text(scenario)
    return _TEXTS[group](container)


def _mouth_text(container: Container) -> str:
    return f"{mm(2.0 * container.body.mouth_radius)} wide"


def _lid_text(container: Container) -> str:
    lid = container.lid
    if lid is None:
        return "no lid"
    holes = [hole.kind.replace("_", " ") for hole in lid.openings if not hole.closed]
    return layers_text(lid) + (f", open {' and '.join(holes)}" if holes else "")


def _closing_text(container: Container) -> str:
    lid = container.lid
    if lid is None or (lid.plug is None and not lid.seals):
        return "no plug and no seal"
    seals = _seals_text(lid)
    if lid.plug is None:
        return f"no plug, {seals}"
    return f"{lid.plug.kind} plug {mm(lid.plug.depth)} deep with {mm(lid.plug.clearance)} clearance, {seals}"


def _seals_text(lid: Lid) -> str:
    if not lid.seals:
        return "no seal"
    places = ["on the rim" if seal.depth == 0.0 else f"at {mm(seal.depth)}" for seal in lid.seals]
    return f"{'a seal' if len(places) == 1 else f'{len(places)} seals'} {' and '.join(places)}"


def _neck_text(container: Container) -> str:
    neck = container.body.neck
    if neck is None:
        return "no neck"
    shoulder = f", shoulder {mm(neck.shoulder_height)} tall" if neck.shoulder_height else ", flat shoulder"
    return f"{mm(neck.length)} long{shoulder}"


def _wall_text(container: Container) -> str:
    body = container.body
    material = body.wall.material.replace("_", " ")
    case = ", in a case" if body.jacket is not None else ""
    if body.gap is None:
        return f"single wall, {mm(body.wall.inner_thickness)} {material}{case}"
    return f"{_gap_text(body.gap)} between walls of {mm(body.wall.inner_thickness)} {material}{case}"


def _gap_text(gap: Gap) -> str:
    if gap.kind == "foam":
        return f"{mm(gap.width)} {gap.foam_material.replace('_', ' ')}"
    inner = surface_emissivity(gap.inner_surface, gap.inner_emissivity)
    outer = surface_emissivity(gap.outer_surface, gap.outer_emissivity)
    shields = f", {gap.shields} foil{'s' if gap.shields > 1 else ''}" if gap.shields else ""
    vacuum = f"{mm(gap.width)} vacuum of {quantity_text(gap.pressure, 'Pa', 3)}"
    what = vacuum if gap.kind == "vacuum" else f"{mm(gap.width)} of {gap.gas}"
    shine = f"its faces send out {percent(float(inner))} and {percent(float(outer))} of what black ones would"
    return f"{what} ({shine}{shields})"


def _base_text(container: Container) -> str:
    body = container.body
    gap = f"{mm(body.base_gap_width)} gap under the floor, " if body.gap is not None else ""
    return f"{gap}{mm(body.base.recess)} of air under the base"


def _capacity_text(container: Container) -> str:
    body = container.body
    return f"{mm(2.0 * body.radius)} wide inside, {closed_capacity(container) * 1e6:.0f} mL under the lid"


def _fill_text(scenario: Scenario) -> str:
    return "full to the lid" if scenario.fill is None else quantity_text(scenario.fill, "mL", 4)


def _conditions_text(scenario: Scenario) -> str:
    """Return contents, start and room, and what else is unlike a closed container in a quiet room."""
    room = Scale.CELSIUS.text(scenario.room) if scenario.room_profile is None else "from a table"
    usual = Scenario()
    others = [field.replace("_", " ") for field in _SELDOM if getattr(scenario, field) != getattr(usual, field)]
    texts = [scenario.contents.replace("_", " "), f"start {Scale.CELSIUS.text(scenario.start)}", f"room {room}"]
    return ", ".join([*texts, *([f"with {' and '.join(others)} given"] if others else [])])


_SELDOM = (
    "ice",
    "walls",
    "preheat",
    "orientation",
    "wind",
    "sunlight",
    "relative_humidity",
    "stands_on",
    "openings",
    "pins",
)

_TEXTS = {
    Group.MOUTH: _mouth_text,
    Group.LID_LAYERS: _lid_text,
    Group.PLUG_AND_SEALS: _closing_text,
    Group.NECK: _neck_text,
    Group.WALL_AND_GAP: _wall_text,
    Group.BASE: _base_text,
    Group.CAPACITY: _capacity_text,
}
