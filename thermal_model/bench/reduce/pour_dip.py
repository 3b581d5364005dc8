"""How far contents cool at once when they are poured in: measured, and what the walls can take."""

import math
from dataclasses import dataclass

from geometries.container import brim_capacity, fill_height, wall_mass
from geometries.materials import material
from thermal_model.assemble.contents import contents_density, filled_volume
from thermal_model.bench.records import Run
from thermal_model.bench.reduce.cooling_rate import ExtrapolatedStart
from thermal_model.properties import water
from thermal_model.scenario import WallStart, contents_kind


@dataclass(frozen=True)
class PourDip:
    """Poured temperature less where settled readings extrapolate to.

    Attributes
    ----------
    dip, spread : float
        Towards the room, and its standard uncertainty. [K]
    share : float
        Of the poured excess over the room. [-]
    expected_low, expected_high : float
        If the inner wall up to the contents took part, and if all walls did; zero for preheated ones. [K]
    """

    dip: float
    spread: float
    share: float
    expected_low: float
    expected_high: float


def pour_dip(run: Run, start: ExtrapolatedStart | None) -> PourDip | None:
    """Compare where a run starts with what was poured; None where either was not measured."""
    if start is None or not math.isfinite(run.start_spread) or not math.isfinite(run.room_spread) or run.scenario.ice:
        return None
    poured, room = float(run.scenario.start), float(run.scenario.room)
    excess = poured - room
    if abs(excess) < 5.0:
        return None
    dip = (poured - start.temperature) * (1.0 if excess > 0.0 else -1.0)
    spread = math.hypot(run.start_spread, start.spread)
    low, high = expected_shares(run)
    size = abs(excess)
    return PourDip(dip, spread, dip / size, low * size, high * size)


def expected_shares(run: Run) -> tuple[float, float]:
    """Return the shares of the excess that walls at room temperature take, at least and at most.

    Notes
    -----
    Mixing, C_wall / (C_wall + C_contents). At least the inner one of two walls takes part, as far up as the contents
    stand; at most all of both walls. No heat transfer is needed for it.
    """
    if run.scenario.walls is WallStart.PREHEATED or run.scenario.preheat is not None:
        return 0.0, 0.0
    container, scenario = run.container_at_run, run.scenario
    volume = float(filled_volume(container, scenario))
    contents = volume * float(contents_density(scenario)) * _heat_capacity(run)
    walls = float(wall_mass(container)) * material(container.body.wall.material).heat_capacity
    wetted = float(fill_height(container, volume)) / float(fill_height(container, float(brim_capacity(container))))
    inner = walls * (0.5 if container.body.gap is not None else 1.0) * min(wetted, 1.0)
    return inner / (inner + contents), walls / (walls + contents)


def _heat_capacity(run: Run) -> float:
    kind = contents_kind(run.scenario.contents)
    return float(water.heat_capacity(float(run.scenario.start))) if kind.is_water else kind.heat_capacity
