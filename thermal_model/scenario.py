"""What is done with a container: contents, fill, start, preheat, room, wind, openings, ice.

Leaves are SI numbers after validation. As everywhere, a leaf may also be an (n,) array of lanes, put there by
`model_copy(update=...)`, which does not validate.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Annotated, Any, TypeAlias

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, model_validator
from pydantic_core import PydanticSerializationError

from geometries.checks import DimensionProblem
from geometries.constants import ZERO_CELSIUS
from geometries.display import Displayed, Listing
from geometries.errors import InputProblem, nearest_hint, refuse
from geometries.numeric import Array, Numeric
from geometries.part import more_holds
from geometries.quantities import (
    Conductance,
    Conductivity,
    Density,
    Dimension,
    Duration,
    Fraction,
    HeatCapacity,
    Mass,
    NonNegativeLength,
    QuantityField,
    Temperature,
    TemperatureDifference,
    Volume,
)


@dataclass(frozen=True)
class ContentsKind:
    """A liquid: as water, or of constant density [kg m-3] and specific heat capacity [J kg-1 K-1].

    Its water activity is the vapour pressure over it against that over water; oil gives no vapour. [-]
    """

    is_water: bool
    density: float
    heat_capacity: float
    water_activity: float
    coldest: float
    hottest: float
    source: str


_WATER = ContentsKind(True, 998.2, 4184.0, 1.0, ZERO_CELSIUS, 373.15, "IAPWS-95")
_AS_WATER = "taken as water: a few percent of solids change the heat capacity per volume by about as much"
CONTENTS_KINDS: dict[str, ContentsKind] = {
    "water": _WATER,
    **dict.fromkeys(("tea", "coffee", "broth", "soda_water"), replace(_WATER, source=_AS_WATER)),
    "milk": ContentsKind(False, 1030.0, 3890.0, 0.99, 272.6, 373.3, "food engineering handbooks, from memory"),
    "fruit_juice": ContentsKind(False, 1045.0, 3850.0, 0.99, 271.9, 373.4, "food engineering handbooks, from memory"),
    "thick_soup": ContentsKind(False, 1040.0, 3800.0, 0.98, 272.2, 373.4, "food engineering handbooks, from memory"),
    "vegetable_oil": ContentsKind(False, 915.0, 2000.0, 0.0, 265.0, 423.0, "food engineering handbooks, from memory"),
}


COLDEST_ROOM, HOTTEST_ROOM = 233.15, 373.15
"""Rooms that the model holds for, -40 to 100 C [K]: over all of it the fits of air lie within 0.0003 % of CoolProp. The
lower end is the coldest room of a bench, the upper one where water boils; judgement."""

FASTEST_AIR, BRIGHTEST_SUN = 100.0, 2000.0
"""Largest speed of the air and irradiance [m s-1, W m-2]: no wind at sea and no sun with what water throws back has
more; judgement, against slips of the unit."""

AirSpeed: TypeAlias = Annotated[Numeric, QuantityField(Dimension.SPEED, at_least=0.0, at_most=FASTEST_AIR)]
Sunlight: TypeAlias = Annotated[Numeric, QuantityField(Dimension.IRRADIANCE, at_least=0.0, at_most=BRIGHTEST_SUN)]

ROOM_QUANTITY = QuantityField(Dimension.TEMPERATURE, at_least=COLDEST_ROOM, at_most=HOTTEST_ROOM)
Room: TypeAlias = Annotated[Numeric, ROOM_QUANTITY]


class Orientation(StrEnum):
    """Which way up the container stands."""

    UPRIGHT = "upright"
    INVERTED = "inverted"


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)


class RoomProfile(_Record):
    """Room temperature over time, piecewise linear or in steps, held constant outside the table.

    Attributes
    ----------
    times, temperatures : tuple of float
        Rising times since the contents went in, temperatures there. [s, K]
    in_steps : bool
        Each temperature holds until the next time; a step takes one second.
    shift : float
        Added to every temperature, such as a thermometer's correction. [K]
    """

    times: tuple[Duration, ...]
    temperatures: tuple[Room, ...]
    in_steps: bool = False
    shift: TemperatureDifference = 0.0

    @model_validator(mode="after")
    def _check(self) -> "RoomProfile":
        if len(self.times) != len(self.temperatures) or not self.times:
            raise ValueError("a room profile needs as many temperatures as times, at least one")
        if any(b <= a for a, b in zip(self.times, self.times[1:], strict=False)):
            raise ValueError("the times of a room profile must rise from row to row")
        if self.in_steps and len(self.times) > MOST_STEPS:
            count, nth = len(self.times), -(-len(self.times) // MOST_STEPS)
            raise ValueError(f"{count} steps are more than {MOST_STEPS}; keep one in {nth}, or let the room slope")
        return self

    def shifts_allowed(self) -> tuple[float, float]:
        """Return the least and the largest shift that keep every temperature within what a room can be. [K]"""
        return COLDEST_ROOM - min(map(float, self.temperatures)), HOTTEST_ROOM - max(map(float, self.temperatures))

    def corners(self) -> tuple[Array, Array]:
        """Return (m,) times and temperatures of the piecewise linear profile. [s, K]"""
        times, temperatures = np.array(self.times, dtype=float), np.array(self.temperatures, dtype=float)
        if not self.in_steps or len(times) == 1:
            return times, temperatures
        step_times = np.stack([times[1:], times[1:] + STEP_DURATION], axis=1).ravel()
        step_values = np.stack([temperatures[:-1], temperatures[1:]], axis=1).ravel()
        return np.concatenate([times[:1], step_times]), np.concatenate([temperatures[:1], step_values])


MOST_STEPS = 400
"""Most steps of a room: each is a stretch of time of its own."""

STEP_DURATION = 1.0
"""Time a step of the room temperature takes [s]."""


class Preheat(_Record):
    """Hot (or cold) water stands in the container for a while, is emptied, and the contents follow at once."""

    duration: Duration
    temperature: Temperature


class Opening(_Record):
    """The lid comes off at a time for some seconds; what is poured out leaves at once, when it comes off."""

    at: Duration
    duration: Duration = 10.0
    pour: Volume = 0.0
    every: Annotated[Duration | None, Field(description="repeat with this period")] = None


class Pins(_Record):
    """Constants in place of correlations and material data, to check the network against a reference.

    A pinned film acts between the surface and the contents (inside) or the room (outside, radiation included).
    """

    exterior_film: Conductance | None = None
    base_film: Conductance | None = None
    headspace_film: Conductance | None = None
    wetted_film: Conductance | None = None
    annulus_film: Conductance | None = None
    gap_conductance: Conductance | None = None
    lid_contact: Conductance | None = None
    pocket_conductivity: Conductivity | None = None
    layer_conductivity: Conductivity | None = None
    plug_core_conductivity: Conductivity | None = None
    annulus_conductivity: Conductivity | None = None
    seal_conductivity: Conductivity | None = None
    wall_conductivity: Conductivity | None = None
    wall_density: Density | None = None
    wall_heat_capacity: HeatCapacity | None = None
    layer_density: Density | None = None
    layer_heat_capacity: HeatCapacity | None = None
    contents_density: Density | None = None
    contents_heat_capacity: HeatCapacity | None = None


class WallStart(StrEnum):
    """How the walls start."""

    ROOM = "room"
    PREHEATED = "preheated"


AIR_UNDER_LID = 5e-3
"""What people leave when they fill a container "full" [m]: a lid that goes on without spilling wants some millimetres.
Common practice, no source."""

ROOM_DRAUGHT = 0.06
"""Typical speed of the air in a room [m s-1]: medians of 0.04 in bedrooms and cellars, 0.05 over all rooms and 0.10 in
kitchens were measured in six lived-in houses (Matthews et al. 1987, Air velocities inside domestic environments, Oak
Ridge National Laboratory, CONF-870853-3; abstract read)."""


class Scenario(Displayed, _Record):
    """Everything about a run but the container."""

    contents: str = "water"
    fill: Annotated[
        Volume | None,
        Field(description="poured volume; left out: full, with air_under_lid", json_schema_extra=more_holds("longer")),
    ] = None
    air_under_lid: Annotated[
        NonNegativeLength, Field(description="depth of air left when no fill is given; of an open cup below its rim")
    ] = AIR_UNDER_LID
    start: Annotated[Temperature, Field(json_schema_extra=more_holds("warmer"))] = 363.15
    ice: Annotated[Mass, Field(description="ice at 0 C added to the contents")] = 0.0
    room: Annotated[Room, Field(json_schema_extra=more_holds("warmer"))] = 293.15
    room_profile: RoomProfile | None = None
    walls: Annotated[WallStart, Field(description="walls start at room temperature, or as after long use")] = (
        WallStart.ROOM
    )
    preheat: Preheat | None = None
    orientation: Orientation = Orientation.UPRIGHT
    wind: Annotated[AirSpeed, Field(json_schema_extra=more_holds("shorter"))] = 0.0
    draught: Annotated[
        AirSpeed, Field(description="of the air in the room; 0 for still air", json_schema_extra=more_holds("shorter"))
    ] = ROOM_DRAUGHT
    sunlight: Annotated[Sunlight, Field(json_schema_extra=more_holds("warmer"))] = 0.0
    relative_humidity: Fraction = 0.5
    stands_on: Annotated[str, Field(description="material of the table, or 'nothing' if it hangs")] = "wood"
    openings: tuple[Opening, ...] = ()
    pins: Pins = Pins()

    @model_validator(mode="after")
    def _check(self) -> "Scenario":
        problems = [
            InputProblem(problem, field)
            for field, problem in (
                ("contents", _look_up_problem(self.contents, CONTENTS_KINDS, "contents")),
                ("stands_on", _look_up_problem(self.stands_on, TABLES, "surface")),
            )
            if problem
        ]
        if self.contents in CONTENTS_KINDS:
            problems += [InputProblem(problem.message, problem.field) for problem in condition_problems(self)]
        if self.preheat and self.walls is WallStart.PREHEATED:
            problems.append(InputProblem("give either preheat or walls = 'preheated', not both", "preheat"))
        refuse(problems)
        return self

    def _line(self) -> str:
        return ", ".join(f"{name} {value}" for name, value in _as_written(self).items()) or "default"

    def _tables(self) -> Iterator[Listing]:
        yield Listing("", [(name.replace("_", " "), str(value)) for name, value in _as_written(self).items()])


def condition_problems(scenario: Scenario) -> list[DimensionProblem]:
    """Return what of one scenario, or of lanes, does not go together; fields as in the scenario.

    Bounds of single fields are told by their quantities.
    """
    kind = contents_kind(scenario.contents)
    found = [_liquid_problem("start", scenario.start, scenario.contents, kind)]
    if scenario.preheat is not None:
        found.append(_liquid_problem("preheat.temperature", scenario.preheat.temperature, "water", _WATER))
    if not kind.is_water:
        message = f"is only modelled in water and drinks like it, not in {scenario.contents}"
        found.append(DimensionProblem("ice", message, np.asarray(np.greater(scenario.ice, 0.0))))
    if scenario.room_profile is not None:
        found.append(_shift_problem(scenario.room_profile))
    return [problem for problem in found if problem.mask.any()]


def _liquid_problem(field: str, temperature: Numeric, name: str, kind: ContentsKind) -> DimensionProblem:
    is_beyond = ~(np.greater_equal(temperature, kind.coldest) & np.less_equal(temperature, kind.hottest))
    low, high = (f"{float(end(temperature)) - ZERO_CELSIUS:.1f}" for end in (np.min, np.max))
    given = low if low == high else f"{low} to {high}"
    liquid = f"{kind.coldest - ZERO_CELSIUS:.1f} to {kind.hottest - ZERO_CELSIUS:.1f} C"
    return DimensionProblem(field, f"{given} C is outside the liquid range of {name}, {liquid}", np.asarray(is_beyond))


def _shift_problem(profile: RoomProfile) -> DimensionProblem:
    low, high = profile.shifts_allowed()
    is_beyond = ~(np.greater_equal(profile.shift, low) & np.less_equal(profile.shift, high))
    message = f"moves the room beyond {COLDEST_ROOM - ZERO_CELSIUS:.0f} to {HOTTEST_ROOM - ZERO_CELSIUS:.0f} C"
    return DimensionProblem("room_profile.shift", message, np.asarray(is_beyond))


def _as_written(scenario: Scenario) -> dict[str, Any]:
    """Return the fields that were given as a file would hold them; of batches, that they are such."""
    given = {}
    for name in scenario.model_fields_set:
        try:
            given[name] = scenario.model_dump(mode="json", include={name}, exclude_unset=True)[name]
        except PydanticSerializationError:
            given[name] = "a batch of values"
    return {name: given[name] for name in Scenario.model_fields if name in given}


def contents_kind(name: str) -> ContentsKind:
    """Return the data of a kind of contents, or raise a ValueError that suggests the nearest name."""
    return _look_up(name, CONTENTS_KINDS, "contents")


@dataclass(frozen=True)
class TableTop:
    """What a container stands on: conductivity [W m-1 K-1], heat capacity per volume [J m-3 K-1]."""

    conductivity: float
    volumetric_capacity: float


TABLES: dict[str, TableTop | None] = {
    "nothing": None,
    "wood": TableTop(0.14, 720.0 * 1255.0),
    "steel": TableTop(15.0, 8000.0 * 480.0),
    "stone": TableTop(2.5, 2630.0 * 775.0),
    "glass": TableTop(1.0, 2500.0 * 750.0),
    "plastic": TableTop(0.2, 905.0 * 1900.0),
    "cork": TableTop(0.042, 120.0 * 1800.0),
}
"""What the container may stand on; densities and heat capacities of hardwood, granite, plate glass, polypropylene and
cork; handbook-typical (Incropera, table A.3), from memory."""


def table_of(name: str) -> TableTop | None:
    """Return a table, None for nothing, or raise a ValueError."""
    return _look_up(name, TABLES, "surface")


def _look_up(name: str, table: dict[str, Any], what: str) -> Any:
    problem = _look_up_problem(name, table, what)
    if problem:
        raise ValueError(problem)
    return table[name]


def _look_up_problem(name: str, table: dict[str, Any], what: str) -> str:
    if name in table:
        return ""
    return f"unknown {what} '{name}'; {nearest_hint(name, table)}allowed: {', '.join(table)}"
