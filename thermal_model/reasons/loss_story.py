"""Where the heat of a run went, and why two runs of one container end at different temperatures.

The balance is the model's own: what the contents gave is what walls and lid took and what the room got.
"""

from dataclasses import dataclass, replace

import numpy as np

from geometries.container import Container
from geometries.errors import InputError
from geometries.numeric import Array
from thermal_model.assemble.build import assemble
from thermal_model.assemble.contents import filled_volume, start_mass
from thermal_model.follow import follow
from thermal_model.prediction import check_fill, drawn_runs, heat_paths
from thermal_model.reasons.shapley import shapley_shares
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import INTERVAL, Belief, Sample, draw_sample

SIX_HOURS = 6.0 * 3600.0
"""As in the published test methods for hot containers (EN 12546-1, JIS S 2006). [s]"""

MEAN_POINTS = 2001


@dataclass(frozen=True)
class HeatAccount:
    """What became of the heat of the contents in a time; negative where contents warm.

    Attributes
    ----------
    scenario : Scenario
    duration : float
        [s]
    fill : float
        [m3]
    heat_capacity : float
        Of the contents, mean over the run. [J K-1]
    start, end : float
        Temperature of the contents. [K]
    end_low, end_high : float
        5 and 95 % of the draws; NaN without draws. [K]
    mean_difference : float
        Between contents and room, over the time. [K]
    room : float
        [K]
    to_walls, to_room : float
        Heat that stayed in walls and lid, and that the room got. [J]
    heat_loss_coefficient : float
        At rest, halfway between start and end. [W K-1]
    heat_paths : dict of float
        The same over the paths. [W K-1]
    """

    scenario: Scenario
    duration: float
    fill: float
    heat_capacity: float
    start: float
    end: float
    end_low: float
    end_high: float
    mean_difference: float
    room: float
    to_walls: float
    to_room: float
    heat_loss_coefficient: float
    heat_paths: dict[str, float]

    @property
    def given(self) -> float:
        """Heat that the contents gave. [J]"""
        return self.to_walls + self.to_room

    @property
    def by_hand(self) -> float:
        """Heat to the room from the coefficient, the mean difference and the time. [J]"""
        return self.heat_loss_coefficient * self.mean_difference * self.duration

    @property
    def wall_drop(self) -> float:
        """By how much walls and lid alone would have cooled the contents. [K]"""
        return self.to_walls / self.heat_capacity

    @property
    def lumped_coefficient(self) -> float:
        """Coefficient with which `lumped_end` gives the end temperature. [W K-1]"""
        start = self.start - self.room - self.wall_drop
        return self.heat_capacity / self.duration * float(np.log(start / (self.end - self.room)))


def lumped_end(account: HeatAccount, heat_capacity: float, coefficient: float, to_walls: float) -> float:
    """Return the end temperature of contents that first heat the walls and then cool by themselves. [K]

    Notes
    -----
    T_end = T_room + (T_start - T_room - Q_walls / C) exp(-K t / C).
    """
    start = account.start - account.room - to_walls / heat_capacity
    return account.room + start * float(np.exp(-coefficient * account.duration / heat_capacity))


@dataclass(frozen=True)
class LossStory:
    """Two runs of one container, and what makes them differ.

    Attributes
    ----------
    container : Container
    first, second : HeatAccount
        A and B.
    by_heat_capacity, by_coefficient, by_walls, by_conditions : float
        Shares of the difference of the end temperatures, B less A; they add up to it. [K]
    """

    container: Container
    first: HeatAccount
    second: HeatAccount
    by_heat_capacity: float
    by_coefficient: float
    by_walls: float
    by_conditions: float


def heat_account(
    container: Container,
    scenario: Scenario,
    duration: float,
    *,
    draws: int = 0,
    seed: int = 1,
    belief: Belief | None = None,
) -> HeatAccount:
    """Follow a run and account for its heat.

    Parameters
    ----------
    container : Container
    scenario : Scenario
        Without openings, ice, sunlight or a changing room: they would make other accounts.
    duration : float
        [s]
    draws, seed : int
        For the interval of the end temperature.
    belief : Belief, optional
        What a calibration knows.

    Raises
    ------
    InputError
    """
    check_fill(container, scenario)
    _refuse_other_accounts(container, scenario)
    sample = draw_sample(container, scenario, 0, seed, belief=belief)
    network = assemble(sample.container, sample.scenario, sample.unknowns)
    found = follow(sample, [np.nan], horizon=duration, record=True)
    curve = found.curves[0]
    if curve is None or not found.is_good[0]:
        raise found.failure(0)
    times = np.linspace(0.0, duration, MEAN_POINTS)
    temperatures = curve.temperature(times)
    mass = float(start_mass(container, scenario))
    start, end = float(scenario.start), float(temperatures[-1])
    given = mass * (float(curve.enthalpy(np.zeros(1))[0]) - curve.final_enthalpy)
    to_room = float(found.heat_to_room[0]) - _lost_before(sample, scenario)
    _, total, paths, _ = heat_paths(network, scenario, [end])
    low, high = _end_interval(container, scenario, duration, draws, seed, belief)
    return HeatAccount(
        scenario=scenario,
        duration=duration,
        fill=float(filled_volume(container, scenario)),
        heat_capacity=given / (start - end),
        start=start,
        end=end,
        end_low=low,
        end_high=high,
        mean_difference=float(np.trapezoid(temperatures, times) / duration) - float(scenario.room),
        room=float(scenario.room),
        to_walls=given - to_room,
        to_room=to_room,
        heat_loss_coefficient=total,
        heat_paths=paths,
    )


def _refuse_other_accounts(container: Container, scenario: Scenario) -> None:
    reasons = {
        "an open cup loses vapour too": container.lid is None,
        "openings take contents away": bool(scenario.openings),
        "ice melts first": scenario.ice > 0.0,
        "sunlight adds heat": scenario.sunlight > 0.0,
        "the room changes": scenario.room_profile is not None,
        "contents and room are alike": abs(float(scenario.start) - float(scenario.room)) < 1.0,
    }
    for reason, holds in reasons.items():
        if holds:
            raise InputError(f"this account is for closed contents that only cool or warm; {reason}", "scenario")


def _lost_before(sample: Sample, scenario: Scenario) -> float:
    """Return what the room got while preheating. [J]"""
    return float(follow(sample, [np.nan], horizon=0.0).heat_to_room[0]) if scenario.preheat is not None else 0.0


def _end_interval(
    container: Container, scenario: Scenario, duration: float, draws: int, seed: int, belief: Belief | None
) -> tuple[float, float]:
    if not draws:
        return np.nan, np.nan
    runs = drawn_runs(container, scenario, [], draws=draws, seed=seed, horizon=duration, belief=belief)
    low, high = np.quantile(runs.final_temperatures[1:], INTERVAL)
    return float(low), float(high)


def loss_story(
    container: Container,
    first: Scenario,
    second: Scenario,
    duration: float = SIX_HOURS,
    *,
    draws: int = 0,
    seed: int = 1,
    belief: Belief | None = None,
) -> LossStory:
    """Compare two runs of one container, such as half a fill against a full one.

    Raises
    ------
    InputError
        As `heat_account`.
    """
    one, other = (
        heat_account(container, scenario, duration, draws=draws, seed=seed, belief=belief)
        for scenario in (first, second)
    )
    shares = shapley_shares(_swapped_ends(one, other))
    return LossStory(container, one, other, *(float(share) for share in shares))


def _swapped_ends(first: HeatAccount, second: HeatAccount) -> Array:
    """Return the end temperature with each combination of capacity, coefficient, walls, conditions of B. [K]"""
    ends = []
    for number in range(16):
        capacity, coefficient, walls, conditions = ((first, second)[number >> i & 1] for i in range(4))
        frame = replace(conditions, duration=first.duration)
        ends.append(lumped_end(frame, capacity.heat_capacity, coefficient.lumped_coefficient, walls.to_walls))
    return np.array(ends)
