"""Dimensions in words: what each is called, what more of it is called, and the step a person would change it by."""

import math
import re

from geometries.container import Container
from geometries.quantities import UNITS, Dimension

_WORDS = {
    "body.inside_diameter": ("body", "wider"),
    "body.outside_diameter": ("body", "wider"),
    "body.inside_base_diameter": ("floor", "wider"),
    "body.inside_depth": ("inside", "deeper"),
    "body.outside_height": ("body", "taller"),
    "body.capacity": ("capacity", "larger"),
    "body.neck.mouth_diameter": ("mouth", "wider"),
    "body.neck.length": ("neck", "longer"),
    "body.neck.shoulder_height": ("shoulder", "taller"),
    "body.wall.inner_thickness": ("inner wall", "thicker"),
    "body.wall.outer_thickness": ("outer wall", "thicker"),
    "body.gap.width": ("gap", "wider"),
    "body.gap.base_width": ("gap at the base", "wider"),
    "body.gap.pressure": ("pressure left in the gap", "higher"),
    "body.lip.thickness": ("lip", "thicker"),
    "body.base.recess": ("air under the base", "deeper"),
    "body.jacket.thickness": ("outer case", "thicker"),
    "body.jacket.air_space": ("air inside the outer case", "wider"),
    "body.handle.length": ("handle", "longer"),
    "body.handle.width": ("handle", "wider"),
    "body.handle.thickness": ("handle", "thicker"),
    "lid.overhang": ("overhang of the lid", "wider"),
    "lid.side_thickness": ("wall around the pockets", "thicker"),
    "lid.skirt_length": ("skirt of the lid", "longer"),
    "lid.skirt_thickness": ("skirt of the lid", "thicker"),
    "lid.plug.depth": ("plug", "longer"),
    "lid.plug.clearance": ("clearance around the plug", "wider"),
    "lid.plug.wall_thickness": ("wall of the plug", "thicker"),
    "scenario.fill": ("filled volume", "larger"),
    "scenario.start": ("start temperature", "higher"),
    "scenario.room": ("room temperature", "higher"),
    "scenario.ice": ("mass of ice", "larger"),
    "scenario.air_under_lid": ("air under the lid", "deeper"),
    "scenario.wind": ("wind", "stronger"),
    "scenario.draught": ("draught", "stronger"),
    "scenario.sunlight": ("sunlight", "stronger"),
    "scenario.relative_humidity": ("humidity", "higher"),
}
_ENTRIES = {
    ("layers", "thickness"): ("lid layer {number}", "thicker"),
    ("layers", "depth"): ("{filling} pocket of the lid (layer {number})", "deeper"),
    ("layers", "cell_size"): ("cells of lid layer {number}", "wider"),
    ("seals", "depth"): ("seal {number}", "deeper"),
    ("seals", "height"): ("seal {number}", "taller"),
    ("openings", "diameter"): ("hole {number} in the lid", "wider"),
    ("openings", "length"): ("hole {number} in the lid", "longer"),
}
_ENTRY = re.compile(r"lid\.(\w+)\.(\d+)\.(\w+)")

LARGEST_STEP = 0.1
"""Share of a dimension that a step in words takes at most."""


def dimension_words(path: str, container: Container) -> tuple[str, str]:
    """Return what a field is called, and what more of it is called, such as ("mouth", "wider").

    Entries of lists count as in a design file, from 0.
    """
    if path in _WORDS:
        return _WORDS[path]
    entry = _ENTRY.fullmatch(path)
    if entry is not None and (entry[1], entry[3]) in _ENTRIES:
        name, more = _ENTRIES[entry[1], entry[3]]
        filling = "air"
        if container.lid is not None and "{filling}" in name:
            filling = getattr(container.lid.layers[int(entry[2])], "filling", filling)
        return name.format(number=entry[2], filling=filling), more
    owner, _, field = path.removeprefix("scenario.").rpartition(".")
    of = f" of {owner.replace('.', ' ').replace('body ', '')}" if owner else ""
    return f"{field.replace('_', ' ')}{of}", "higher"


def step_of(value: float, dimension: Dimension | None) -> tuple[float, str]:
    """Return a step a person would change a number by, in SI and as text: a power of ten in its usual unit.

    Parameters
    ----------
    value : float
        Zero, and what has a unit with an offset, such as a temperature, is changed by one unit. [SI]
    dimension : Dimension or None
        None for a count, which is changed by one.

    Examples
    --------
    >>> step_of(0.044, Dimension.LENGTH)
    (0.001, '1 mm')
    """
    if dimension is None:
        return 1.0, "1"
    unit = UNITS[dimension][0]
    if value == 0.0 or float(unit.offset):
        return float(unit.factor), f"1 {unit.symbol}".strip()
    power = math.floor(math.log10(LARGEST_STEP * abs(value) / float(unit.factor)) + 1e-9)
    return 10.0**power * float(unit.factor), f"{10.0**power:g} {unit.symbol}".strip()
