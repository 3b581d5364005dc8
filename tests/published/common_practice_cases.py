"""What testers of insulated containers find again and again, put to the model over the whole catalogue.

Every statement is common practice, no source. A case is a design of the catalogue, or a variant of it, beside the
one it is compared with; all figures come from the model's best guess, without a sample.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from scipy.optimize import brentq

from geometries.container import Container, closed_capacity
from geometries.design_file import catalogue_names, load_container
from geometries.errors import InputError
from geometries.materials import surface_emissivity
from geometries.numeric import Array
from tests.published.design_batches import changed, final_temperatures, heat_paths, hold_times, metres
from thermal_model.assemble.annulus import ANNULUS_STIRRING
from thermal_model.assemble.inside import WATER_EMISSIVITY
from thermal_model.assemble.walls import gas_parameters
from thermal_model.physics import radiation
from thermal_model.physics.constants import STANDARD_PRESSURE
from thermal_model.solver import laws
from thermal_model.unknowns import Unknowns

STATUS = "common practice, no source"

HOT = {"start": "90 C", "room": "20 C"}
HOT_LIMIT = 333.15
COLD = {"start": "4 C", "room": "20 C"}
COLD_LIMIT = 283.15
HALFWAY = 348.15
"""Contents between start and limit of the hot run, for heat paths. [K]"""

HOUR = 3600.0


@cache
def catalogue() -> tuple[Container, ...]:
    """Every starter design."""
    return tuple(load_container(name) for name in catalogue_names())


def vacuum_designs() -> list[Container]:
    """Designs with a vacuum between two walls."""
    return [d for d in catalogue() if d.body.gap is not None and d.body.gap.kind == "vacuum"]


def necked_vacuum_designs() -> list[Container]:
    """Those of them with a neck."""
    return [d for d in vacuum_designs() if d.body.neck is not None]


def distinct_bodies(designs: Sequence[Container]) -> list[Container]:
    """One design for each body: what is asked here replaces the lid, and several designs differ in nothing else."""
    bodies: list[Container] = []
    for design in designs:
        if all(design.body != other.body for other in bodies):
            bodies.append(design)
    return bodies


def hot_hold_times(designs: Sequence[Container], fills: Sequence[float] | Array) -> Array:
    """Time from 90 to 60 C in a room of 20 C. [s]"""
    return hold_times(designs, fills, HOT_LIMIT, **HOT)


def capacities(designs: Sequence[Container]) -> Array:
    """Volume that fits under each lid. [m3]"""
    return np.array([closed_capacity(design) for design in designs])


# --- the mouth ----------------------------------------------------------------------------------------------

NARROWEST_MOUTH = 0.024
MOUTHS = 8

FILL_SHARE = 0.9
"""Of the least capacity in a comparison: nobody fills until the contents touch the lid. [-]"""


@dataclass(frozen=True)
class MouthSweep:
    """One design with mouths from narrow to as wide as its body, all with the same fill. [m, m3, s]"""

    design: Container
    mouths: Array
    fill: float
    hold_times: Array


@cache
def mouth_sweeps() -> tuple[MouthSweep, ...]:
    """Hold times over the mouth's range, of every design with a lid."""
    designs = [design for design in catalogue() if design.lid is not None]
    mouths, variants = zip(*(_with_mouths(design) for design in designs), strict=True)
    fills = shared_fills(variants)
    times = hot_hold_times([variant for row in variants for variant in row], fills)
    ends = np.cumsum([len(row) for row in variants])[:-1]
    return tuple(
        MouthSweep(design, widths, fill[0], pieces)
        for design, widths, fill, pieces in zip(
            designs, mouths, np.split(fills, ends), np.split(times, ends), strict=True
        )
    )


def _with_mouths(design: Container) -> tuple[Array, list[Container]]:
    """Variants of a design over its mouth's valid range; one without a neck gets a short one."""
    widest = 2.0 * design.body.radius
    mouths, variants = [], []
    for mouth in np.linspace(NARROWEST_MOUTH, widest, MOUTHS):
        try:
            variants.append(changed(design, _mouth_fields(design, mouth)))
        except InputError:
            continue  # the design's own plug or hole does not go into so narrow a mouth
        mouths.append(mouth)
    return np.array(mouths), variants


def _mouth_fields(design: Container, mouth: float) -> dict[str, object]:
    if design.body.neck is not None:
        return {"body.neck.mouth_diameter": metres(mouth)}
    return {"body.neck": {"mouth_diameter": metres(mouth), "length": "40 mm", "shoulder_height": "5 mm"}}


# --- a plain thin lid ---------------------------------------------------------------------------------------

THIN = ("2 mm", "3 mm")


def with_lid(design: Container, lid: dict[str, Any]) -> Container:
    """The design under another lid."""
    return changed(design, {"lid": lid})


def disc(thickness: str) -> dict[str, Any]:
    """A plain disc with a gasket on the rim."""
    return {"layers": [{"kind": "solid", "thickness": thickness}], "seals": [{"depth": "0 mm"}]}


@dataclass(frozen=True)
class ThinLid:
    """Heat paths of a design under a plain disc. [W K-1]"""

    design: Container
    thickness: str
    lid: float
    neck: float
    wall: float


@cache
def thin_lids() -> tuple[ThinLid, ...]:
    """Every vacuum design under a plain disc."""
    cases = [(design, thickness) for design in distinct_bodies(vacuum_designs()) for thickness in THIN]
    variants = [with_lid(design, disc(thickness)) for design, thickness in cases]
    paths = heat_paths(variants, FILL_SHARE * capacities(variants), HALFWAY, **HOT)
    wall = paths["gap_side"] + paths["base"]
    return tuple(
        ThinLid(*case, *values) for case, *values in zip(cases, paths["lid"], paths["steel_bridge"], wall, strict=True)
    )


# --- a second seal ------------------------------------------------------------------------------------------

SEAL_DEPTHS = (0.025, 0.05)
CLEARANCES = (0.002, 0.003)
PLUG_BELOW_SEAL = 0.002
NECK_BEYOND_SEAL = 0.012


def stopper(
    depth: float, clearance: float = 0.0025, kind: str = "hollow", lower_seal: bool = False, pocket: str = "12 mm"
) -> dict[str, Any]:
    """A plug of a depth [m] under a pocketed cap, sealed at the rim and, if so wanted, at its foot."""
    seals = [{"depth": "1.5 mm"}]
    if lower_seal:
        seals.append({"depth": metres(depth - PLUG_BELOW_SEAL)})
    return {
        "overhang": "3 mm",
        "skirt_length": "12 mm",
        "layers": [
            {"kind": "solid", "thickness": "2 mm"},
            {"kind": "pocket", "depth": pocket},
            {"kind": "solid", "thickness": "2.5 mm"},
        ],
        "plug": {"kind": kind, "depth": metres(depth), "clearance": metres(clearance)},
        "seals": seals,
    }


SECOND_SEAL = "second seal"
EXTRA = [{"kind": "pocket", "depth": "12 mm"}, {"kind": "solid", "thickness": "2.5 mm"}]


def lid_changes(depth: float, clearance: float) -> dict[str, dict[str, Any]]:
    """A stopper with one seal, and every single change of it."""
    plain = stopper(depth, clearance)
    lower, pocket, upper = plain["layers"]

    def layers(*new: dict[str, Any]) -> dict[str, Any]:
        return plain | {"layers": list(new)}

    def plug(**new: Any) -> dict[str, Any]:
        return plain | {"plug": plain["plug"] | new}

    return {
        "one seal": plain,
        SECOND_SEAL: stopper(depth, clearance, lower_seal=True),
        "layers twice as thick": layers(lower | {"thickness": "4 mm"}, pocket, upper | {"thickness": "5 mm"}),
        "pocket twice as deep": layers(lower, pocket | {"depth": "24 mm"}, upper),
        "honeycomb in the pocket": layers(lower, pocket | {"filling": "honeycomb", "cell_size": "5 mm"}, upper),
        "foam in the pocket": layers(lower, pocket | {"filling": "foam"}, upper),
        "foil in the pocket": layers(
            lower, pocket | {"lower_surface": "aluminium_foil", "upper_surface": "aluminium_foil"}, upper
        ),
        "a further pocket and layer": layers(lower, pocket, upper, *EXTRA),
        "foam in the plug": plug(kind="foam"),
        "solid plug": plug(kind="solid"),
        "plug wall half as thick": plug(wall_thickness="1 mm"),
        "no skirt": plain | {"skirt_length": "0 mm"},
    }


@dataclass(frozen=True)
class LidChange:
    """Heat loss coefficients of a design, neck lengthened for the plug, under a stopper and its changes. [m, W K-1]

    With the same fill a hold time goes as one over the coefficient, but for the little heat that a lid stores.
    """

    design: Container
    depth: float
    clearance: float
    coefficients: dict[str, float]

    def gain(self, change: str) -> float:
        """Of a change over the stopper with one seal, relative."""
        return self.coefficients["one seal"] / self.coefficients[change] - 1.0

    @property
    def best_other(self) -> str:
        """The change, other than the second seal, that gains most."""
        return max((name for name in self.coefficients if name != SECOND_SEAL), key=self.gain)


def long_necked(design: Container, length: float) -> Container:
    """The design with a neck of a length [m], its body below as deep as before, and no lid."""
    neck = design.body.neck
    assert neck is not None
    depth = design.body.depth + length - neck.length
    return changed(design, {"lid": None, "body.neck.length": metres(length), "body.inside_depth": metres(depth)})


AS_ASSUMED = Unknowns()

SMOOTH_ANNULUS = Unknowns(annulus_exchange=1.0 / ANNULUS_STIRRING)
"""The annulus as a smooth slot. The model's own stirring was chosen with this statement in view, so that the statement
does not test it; without the stirring it is the bare theory that speaks."""


@cache
def lid_change_cases(unknowns: Unknowns = AS_ASSUMED) -> tuple[LidChange, ...]:
    """Every necked vacuum body, seal depth and clearance."""
    bodies = distinct_bodies(necked_vacuum_designs())
    cases = [(design, depth, gap) for design in bodies for depth in SEAL_DEPTHS for gap in CLEARANCES]
    lids = [lid_changes(depth + PLUG_BELOW_SEAL, clearance) for _, depth, clearance in cases]
    variants = [
        [with_lid(long_necked(design, depth + NECK_BEYOND_SEAL), lid) for lid in changes.values()]
        for (design, depth, _), changes in zip(cases, lids, strict=True)
    ]
    flat = [variant for row in variants for variant in row]
    paths = heat_paths(flat, shared_fills(variants), HALFWAY, unknowns, **HOT)
    totals = np.sum(list(paths.values()), axis=0).reshape(len(cases), -1).tolist()
    return tuple(
        LidChange(*case, dict(zip(changes, row, strict=True)))
        for case, changes, row in zip(cases, lids, totals, strict=True)
    )


# --- an open plug, a loose insert ---------------------------------------------------------------------------

NECK, PLUG = 0.05, 0.04
INSERT_CLEARANCES = (0.001, 0.0025)


def unplugged() -> dict[str, Any]:
    """The stopper's cap alone, sealed at the rim."""
    return {key: value for key, value in stopper(PLUG).items() if key != "plug"} | {"seals": [{"depth": "0 mm"}]}


@dataclass(frozen=True)
class PlugKinds:
    """Hold times of a design with one cap: no plug, a plug sealed twice, open below, or sealed at the rim only. [s]"""

    design: Container
    clearance: float
    no_plug: float
    sealed_twice: float
    open_plug: float
    insert: float

    def kept(self, hold_time: float) -> float:
        """Share of the gain of the plug sealed twice over no plug."""
        return (hold_time - self.no_plug) / (self.sealed_twice - self.no_plug)


@cache
def plug_kinds() -> tuple[PlugKinds, ...]:
    """Every necked vacuum body, its neck lengthened, at each clearance."""
    cases = [(d, clearance) for d in distinct_bodies(necked_vacuum_designs()) for clearance in INSERT_CLEARANCES]
    variants = [[with_lid(long_necked(d, NECK), lid) for lid in _plug_lids(clearance)] for d, clearance in cases]
    return tuple(PlugKinds(*case, *row) for case, row in zip(cases, _compared(variants), strict=True))


def _plug_lids(clearance: float) -> list[dict[str, Any]]:
    return [
        unplugged(),
        stopper(PLUG, clearance, lower_seal=True),
        stopper(PLUG, clearance, kind="open"),
        stopper(PLUG, clearance),
    ]


def _compared(variants: Sequence[Sequence[Container]]) -> list[list[float]]:
    """Hot hold times, a row for each case; variants of a case share the fill that fits all of them. [s]"""
    flat = [variant for row in variants for variant in row]
    return hot_hold_times(flat, shared_fills(variants)).reshape(len(variants), -1).tolist()


def shared_fills(variants: Sequence[Sequence[Container]]) -> Array:
    """The fill of each variant, one after the other: as good as full for the smallest of its row. [m3]"""
    least = [FILL_SHARE * capacities(row).min() for row in variants]
    return np.repeat(least, [len(row) for row in variants])


# --- a third layer ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ThirdLayer:
    """Hold times of a design under a plain disc, with a shield in its wall, and with a plug sealed twice. [s]"""

    design: Container
    plain: float
    shield: float
    plug: float


@cache
def third_layers() -> tuple[ThirdLayer, ...]:
    """Every necked vacuum body, its neck lengthened to 50 mm."""
    designs = distinct_bodies([changed(d, {"body.gap.shields": 0}) for d in necked_vacuum_designs()])
    variants = [_with_third_layer(design) for design in designs]
    return tuple(ThirdLayer(d, *row) for d, row in zip(designs, _compared(variants), strict=True))


def _with_third_layer(design: Container) -> list[Container]:
    body = long_necked(design, NECK)
    plain = with_lid(body, disc("3 mm"))
    return [plain, changed(plain, {"body.gap.shields": 1}), with_lid(body, stopper(PLUG, lower_seal=True))]


# --- size and fill ------------------------------------------------------------------------------------------

SCALES = (1.0, 1.15, 1.3, 1.5)
"""Of a body's diameter and depth; mouth, neck, walls and lid stay. [-]"""

FILLS = (0.2, 0.4, 0.6, 0.8, 0.95)


@dataclass(frozen=True)
class Sizes:
    """Hold times of one build in rising sizes, all with the fill of the smallest, and each with its own. [s]"""

    design: Container
    same_fill: Array
    own_fill: Array


@cache
def sizes() -> tuple[Sizes, ...]:
    """Every design with a neck, the body scaled."""
    designs = [d for d in catalogue() if d.body.neck is not None]
    variants = [_scaled(design, scale) for design in designs for scale in SCALES]
    own = FILL_SHARE * capacities(variants)
    small = np.repeat(own.reshape(len(designs), -1)[:, 0], len(SCALES))
    times = hot_hold_times([*variants, *variants], np.concatenate([small, own])).reshape(2, len(designs), -1)
    return tuple(Sizes(design, *pair) for design, *pair in zip(designs, *times, strict=True))


def _scaled(design: Container, scale: float) -> Container:
    body = design.body
    assert body.neck is not None
    below = body.depth - body.neck.length
    return changed(
        design,
        {
            "body.inside_diameter": metres(2.0 * body.radius * scale),
            "body.inside_depth": metres(below * scale + body.neck.length),
        },
    )


@cache
def fill_sweeps() -> tuple[tuple[Container, Array], ...]:
    """Hold times of every design, from little in it to as good as full. [s]"""
    designs = [d for d in catalogue() for _ in FILLS]
    times = hot_hold_times(designs, capacities(designs) * np.tile(FILLS, len(catalogue())))
    return tuple(zip(catalogue(), times.reshape(-1, len(FILLS)), strict=True))


# --- walls that start warm ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class WallStarts:
    """Hold times of a design whose walls start as cold as the room, or as after long use. [s]"""

    design: Container
    cold: float
    warm: float

    @property
    def shortening(self) -> float:
        """By how much cold walls shorten the hold time, relative."""
        return 1.0 - self.cold / self.warm


@cache
def wall_starts() -> tuple[WallStarts, ...]:
    """Every design with two walls and a lid."""
    cold = {design.name: times[-1] for design, times in fill_sweeps()}
    designs = [d for d in catalogue() if d.lid is not None and d.body.gap is not None]
    warm = hold_times(designs, FILLS[-1] * capacities(designs), HOT_LIMIT, walls="preheated", **HOT)
    return tuple(WallStarts(d, cold[d.name], time) for d, time in zip(designs, warm, strict=True))


EUROPEAN: dict[str, Any] = {"start": "95 C", "room": "20 C"}
PREHEATING = {"preheat": {"duration": "5 min", "temperature": "95 C"}}
SIX_HOURS = 6 * HOUR


@dataclass(frozen=True)
class SixHours:
    """Temperatures of a design six hours after 95 C: walls cold, or preheated for five minutes. [K]"""

    design: Container
    share: float
    cold: float
    preheated: float


@cache
def six_hours() -> tuple[SixHours, ...]:
    """Every vacuum design as good as full and half full, by the procedure of EN 12546-1:2000 and without preheat."""
    cases = [(design, share) for design in vacuum_designs() for share in (0.95, 0.5)]
    designs = [design for design, _ in cases]
    fills = capacities(designs) * np.array([share for _, share in cases])
    ends = [final_temperatures(designs, fills, SIX_HOURS, **EUROPEAN, **run) for run in ({}, PREHEATING)]
    return tuple(SixHours(*case, *row) for case, *row in zip(cases, *ends, strict=True))


# --- the neck's length --------------------------------------------------------------------------------------

NECKS = (0.03, 0.075)
NECK_BELOW_PLUG = 0.01


@dataclass(frozen=True)
class NeckLengths:
    """What a neck of 75 mm in place of one of 30 mm gains, relative, under three lids."""

    design: Container
    disc: float
    one_seal: float
    lower_seal: float


@cache
def neck_lengths() -> tuple[NeckLengths, ...]:
    """Every necked vacuum body; a plug reaches down with the neck."""
    designs = distinct_bodies(necked_vacuum_designs())
    lids = (
        [disc("3 mm") for _ in NECKS],
        [stopper(length - NECK_BELOW_PLUG) for length in NECKS],
        [stopper(length - NECK_BELOW_PLUG, lower_seal=True) for length in NECKS],
    )
    variants = [
        [with_lid(long_necked(d, n), lid) for row in lids for n, lid in zip(NECKS, row, strict=True)] for d in designs
    ]
    times = np.array(_compared(variants)).reshape(len(designs), len(lids), len(NECKS))
    gains = times[..., 1] / times[..., 0] - 1.0
    return tuple(NeckLengths(d, *row) for d, row in zip(designs, gains.tolist(), strict=True))


# --- hot and cold -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class HotAndCold:
    """Hold times of a design under a hollow plug sealed twice, and under a loose foam insert: hot, then cold. [s]"""

    design: Container
    hot: tuple[float, float]
    cold: tuple[float, float]


@cache
def hot_and_cold() -> tuple[HotAndCold, ...]:
    """Every necked vacuum body with the same fill."""
    designs = distinct_bodies(necked_vacuum_designs())
    lids = (stopper(PLUG, lower_seal=True), stopper(PLUG, kind="foam"))
    variants = [[with_lid(long_necked(design, NECK), lid) for lid in lids] for design in designs]
    flat, fills = [variant for row in variants for variant in row], shared_fills(variants)
    cold = hold_times(flat, fills, COLD_LIMIT, **COLD).reshape(-1, 2)
    return tuple(
        HotAndCold(design, tuple(a), tuple(b))
        for design, a, b in zip(designs, _compared(variants), cold.tolist(), strict=True)
    )


HEADSPACE_DEPTHS = (0.02, 0.03, 0.05)


@dataclass(frozen=True)
class HeadspaceConductance:
    """From the liquid's surface to the lid at a depth: with vapour, with dry air alone, and cold. [m, W m-2 K-1]

    `hot_still` is for a lid so little colder that the saturated air does not turn over.
    """

    depth: float
    hot: float
    hot_still: float
    hot_dry: float
    cold: float


def headspace_conductances() -> list[HeadspaceConductance]:
    """Contents of 75 C under a lid of 65 C, 70 C on average, and of 5 C under a lid of 15 C."""
    return [
        HeadspaceConductance(
            depth,
            hot=_headspace(348.15, 338.15, depth),
            hot_still=_headspace(343.35, 343.15, depth),
            hot_dry=_dry_headspace(348.15, 338.15, depth),
            cold=_headspace(278.15, 288.15, depth),
        )
        for depth in HEADSPACE_DEPTHS
    ]


def _headspace(liquid: float, lid: float, depth: float) -> float:
    """The model's own film, liquid to headspace and headspace to lid, and radiation beside it."""

    def flux(first: float, second: float) -> float:
        return float(laws.headspace_film(first, second, 1.0, depth, 1.0, 1.0, 1.0))

    low, high = sorted((liquid, lid))
    middle = brentq(lambda air: flux(liquid, air) - flux(air, lid), low, high)
    return (flux(liquid, middle) + _radiation(liquid, lid)) / (liquid - lid)


def _dry_headspace(liquid: float, lid: float, depth: float) -> float:
    air = gas_parameters("air", STANDARD_PRESSURE, 1.0)
    layer = laws.layer_horizontal(
        liquid, lid, area=1.0, exchange_factor=0.0, depth=depth, upward=1.0, convects=1.0, slices=1.0, **air
    )
    return (float(layer) + _radiation(liquid, lid)) / (liquid - lid)


def _radiation(liquid: float, lid: float) -> float:
    plastic = surface_emissivity("plastic", None)
    return float(laws.grey_exchange(liquid, lid, radiation.exchange_factor_parallel_plates(WATER_EMISSIVITY, plastic)))
