"""From the bench's condition to the reader's: hold times of one container in other scenarios."""

from collections.abc import Mapping
from dataclasses import dataclass

from geometries.container import Container
from geometries.errors import InputError, InputProblem
from thermal_model.judge.scenario_library import CarryScenario
from thermal_model.prediction import Prediction, predict
from thermal_model.uncertainty import Belief
from thermal_model.work_done import ShareDone, parts_of


@dataclass(frozen=True)
class Carried:
    """A scenario of the library, and what a container does in it.

    Attributes
    ----------
    name : str
    wanted : CarryScenario
    prediction : Prediction or None
        Hold times in the order of the scenario's limits; None if the run can't be.
    problem : str
        Why it can't.
    """

    name: str
    wanted: CarryScenario
    prediction: Prediction | None
    problem: str = ""


def carry(
    container: Container,
    scenarios: Mapping[str, CarryScenario],
    *,
    draws: int,
    seed: int = 1,
    belief: Belief | None = None,
    progress: ShareDone | None = None,
) -> list[Carried]:
    """Predict a container in each scenario, with the same draws.

    Parameters
    ----------
    container : Container
    scenarios : mapping of str to CarryScenario
    draws, seed : int
    belief : Belief, optional
        What a calibration on the bench knows of the container: it holds in every scenario.
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If none of the scenarios can be run.
    """
    told = parts_of(progress, len(scenarios))
    found = []
    for (name, wanted), tell in zip(scenarios.items(), told, strict=True):
        limits = [float(limit.temperature) for limit in wanted.limits]
        try:
            run = wanted.for_container(container)
            prediction = predict(container, run, limits, draws=draws, seed=seed, belief=belief, progress=tell)
            found.append(Carried(name, wanted, prediction))
        except InputError as error:
            found.append(Carried(name, wanted, None, "; ".join(problem.message for problem in error.problems)))
    if found and all(entry.prediction is None for entry in found):
        raise InputError(InputProblem(entry.problem, source=entry.name) for entry in found)
    return found
