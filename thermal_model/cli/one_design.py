"""One design in one scenario, as nearly every command is asked about it: read at once, what is left out chosen."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from geometries.container import Container
from geometries.errors import at_once
from thermal_model.cli.calibration_options import Calibrated, CalibrationOptions
from thermal_model.cli.limits import default_limit, options_named, read_limits
from thermal_model.cli.scenario_options import ScenarioOptions, assumed_inputs, read_scenario
from thermal_model.cli.settings import read_design
from thermal_model.prediction import Prediction, predict
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import Belief
from thermal_model.words.numbers import Scale, scale_of


@dataclass(frozen=True)
class OneDesign:
    """A design in a scenario.

    Attributes
    ----------
    container : Container
    scenario : Scenario
    limits : tuple of float
        At least one. [K]
    assumed : frozenset of str
        Inputs that were not given.
    scale : Scale
        Of the temperatures shown.
    calibrated : Calibrated
    """

    container: Container
    scenario: Scenario
    limits: tuple[float, ...]
    assumed: frozenset[str]
    scale: Scale
    calibrated: Calibrated

    @property
    def belief(self) -> Belief | None:
        """What is known of the unknowns; None are the priors."""
        return self.calibrated.belief

    def best_guess(self) -> Prediction:
        """Predict without an interval."""
        with options_named():
            return predict(self.container, self.scenario, self.limits, draws=0, belief=self.belief)


def read_one_design(
    design: str,
    given: ScenarioOptions,
    until: tuple[str, ...] | str | None,
    calibrated: CalibrationOptions,
    *others: Callable[[], Any],
) -> OneDesign:
    """Return what was asked, or raise the problems of design, scenario, limits and `others` all together."""
    container, scenario, typed, known, *_ = at_once(
        lambda: read_design(design, given.settings, calibrated.calibration),
        lambda: read_scenario(given),
        lambda: read_limits(until),
        lambda: calibrated.of(design),
        *others,
    )
    limits = tuple(typed or [default_limit(scenario)])
    scale = scale_of(*((until,) if isinstance(until, str) else until or ()), given.start, given.room)
    return OneDesign(container, scenario, limits, assumed_inputs(scenario, has_limit=bool(typed)), scale, known)
