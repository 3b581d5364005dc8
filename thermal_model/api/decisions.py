"""Which container holds longest, and why one holds longer than another."""

from collections.abc import Callable, Mapping, Sequence

from geometries.errors import InputError
from thermal_model.api.inputs import Conditions, Design, Known, Quantity, belief_of, container_of, limit_of, scenario_of
from thermal_model.judge.compare import Entry, Ranking, rank
from thermal_model.prediction import Prediction
from thermal_model.reasons.pair import Contender, PairExplanation, explain_pair
from thermal_model.report.results import warning_lines


def compare(
    designs: Sequence[Design] | Mapping[str, Design],
    scenario: Conditions = None,
    *,
    until: Quantity,
    draws: int = 100,
    seed: int = 1,
    calibration: Known = None,
    progress: Callable[[float], None] | None = None,
) -> Ranking:
    """Rank containers under one scenario, and say which can't be told apart.

    Parameters
    ----------
    designs : sequence or mapping
        Designs as `predict` takes them, under their own names or those given; `Bench.containers` is such a mapping.
    scenario : Scenario or mapping, optional
        Without a fill each container is filled to its own lid.
    until : str, float or pint quantity
        Limit temperature; a number in kelvin.
    draws : int
        Of the unknowns, for intervals and tiers; 0 gives the best guesses alone.
    seed : int
    calibration : Calibration, CalibrationFile or path, optional
        What a bench says of the unknowns.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    Ranking
        From the one that holds longest; times in s.

    Raises
    ------
    InputError
        If an input can't be, or no container takes part; every problem is named.
    """
    if isinstance(designs, Mapping):
        named = {name: container_of(design) for name, design in designs.items()}
    else:
        containers = [container_of(design) for design in designs]
        named = {container.name: container for container in containers}
        if len(named) < len(containers):
            raise InputError("two of the designs have one name; give a mapping of names to designs")
    entries = [
        Entry(name, container, belief_of(calibration, name, None, seats_anew=False))
        for name, container in named.items()
    ]
    return rank(entries, scenario_of(scenario), limit_of(until), draws=draws, seed=seed, progress=progress)


def explain(
    first: Design,
    second: Design,
    scenario: Conditions = None,
    *,
    until: Quantity,
    second_scenario: Conditions = None,
    draws: int = 0,
    seed: int = 1,
    calibration: Known = None,
    progress: Callable[[float], None] | None = None,
) -> PairExplanation:
    """Share the difference between the hold times of two containers among their parts.

    Parameters
    ----------
    first, second : Container, str or Path
        As `predict`. One container in two scenarios is explained as well.
    scenario : Scenario or mapping, optional
        Of both.
    until : str, float or pint quantity
        Limit temperature; a number in kelvin.
    second_scenario : Scenario or mapping, optional
        Of the second, where it is another.
    draws : int
        Of the unknowns, for intervals of the shares.
    seed : int
    calibration : Calibration, CalibrationFile or path, optional
        What a bench says of the unknowns.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    PairExplanation
        Shares in s, and of the logarithm of the ratio; they add up to the difference.

    Raises
    ------
    InputError
        If an input can't be, or a container does not reach the limit.
    """
    conditions = scenario_of(scenario)
    both = conditions, conditions if second_scenario is None else scenario_of(second_scenario)
    containers = container_of(first), container_of(second)
    beliefs = [belief_of(calibration, container.name, None) for container in containers]
    one, other = (Contender(*each) for each in zip(containers, both, beliefs, strict=True))
    return explain_pair(one, other, limit_of(until), draws=draws, seed=seed, progress=progress)


def cautions(prediction: Prediction) -> tuple[str, ...]:
    """Return what to know besides the numbers: dangers of scalds and pressure, food safety, limits of the model."""
    return tuple(warning_lines(prediction))
