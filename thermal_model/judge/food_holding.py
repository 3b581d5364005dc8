"""How long food stays on the right side of the temperatures at which it is held; information, no verdict."""

from collections.abc import Sequence
from dataclasses import dataclass

from geometries.container import Container
from thermal_model.prediction import drawn_runs
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import Belief, low_median_high
from thermal_model.work_done import ShareDone


@dataclass(frozen=True)
class HoldingLimit:
    """A temperature above which (hot) or below which (cold) food is held, and whose rule it is. [K]"""

    temperature: float
    is_hot: bool
    source: str

    def applies(self, scenario: Scenario) -> bool:
        """Tell whether a run passes it: hot contents cooling, or cold ones warming."""
        start, room = float(scenario.start), float(scenario.room)
        return min(start, room) < self.temperature < max(start, room) and self.is_hot == (start > room)


@dataclass(frozen=True)
class Held:
    """How long a limit is kept: quantiles 5, 50 and 95 %, infinite where it is not passed [s]; draws left out."""

    limit: HoldingLimit
    low: float
    median: float
    high: float
    failed: int
    draws: int


def held_times(
    container: Container,
    scenario: Scenario,
    limits: Sequence[HoldingLimit],
    *,
    draws: int,
    seed: int,
    belief: Belief | None = None,
    progress: ShareDone | None = None,
) -> list[Held]:
    """Return how long each limit is kept.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    limits : sequence of HoldingLimit
        That apply to it; at least one.
    draws : int
        At least 1.
    seed : int
    belief : Belief, optional
    progress : callable, optional

    Raises
    ------
    InputError
        As `drawn_runs`.
    """
    temperatures = [limit.temperature for limit in limits]
    runs = drawn_runs(container, scenario, temperatures, draws=draws, seed=seed, belief=belief, progress=progress)
    return [
        Held(limit, *low_median_high(times), runs.failed, runs.draws)
        for limit, times in zip(limits, runs.crossing_times[:, 1:], strict=True)
    ]
