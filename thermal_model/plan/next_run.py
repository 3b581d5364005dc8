"""Which run would teach most about a hold time that is wanted: expected information gain, before any run is made.

Everything is linear about the best guess and normal: what is not known, in units of its prior; the temperatures that
a probe would read in each candidate run; the logarithm of the hold time that is asked for. A candidate is as good as
the variance that its readings would take from that logarithm, whatever they will turn out to be.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.container import Container, closed_capacity
from geometries.numeric import Array
from geometries.validation import validated
from thermal_model.bench.records import Probe
from thermal_model.gradients import LASTING, UNKNOWN_LANES, TemperatureResponse, log_hold_time, temperature_response
from thermal_model.plan.run_length import reading_times
from thermal_model.scenario import Scenario
from thermal_model.solver.steppers import stepper_for
from thermal_model.uncertainty import PRIORS, Belief
from thermal_model.work_done import ShareDone, counted

MODEL_ERROR = 0.02
"""By which heat loss may go astray in a run for reasons that no unknown stands for, relative; judgement. Without it a
long log would promise to teach what the model can't hold."""


@dataclass(frozen=True)
class Candidate:
    """A run that could be made.

    Attributes
    ----------
    name : str
        In plain words.
    scenario : Scenario
    """

    name: str
    scenario: Scenario


@dataclass(frozen=True)
class Lesson:
    """What a candidate would teach.

    Attributes
    ----------
    candidate : Candidate
    spread : float
        Expected standard deviation of the target's log hold time after it. [-]
    information : float
        Expected gain about the target: log of the ratio of its lasting spreads. [nat]
    topics : tuple of (str, float)
        Unknowns that it narrows most, and by which share each one's standard deviation falls.
    """

    candidate: Candidate
    spread: float
    information: float
    topics: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Advice:
    """Candidates, the one that teaches most first.

    Attributes
    ----------
    container : Container
    target : Scenario
    limit : float
        [K]
    hold_time : float
        At best guess. [s]
    spread : float
        Standard deviation of its logarithm now. [-]
    passing_spread : float
        What of it no run can take away: fill, start and room of the day itself. [-]
    lessons : tuple of Lesson
    length : float
        Of every candidate. [s]
    readings : int
        In every candidate.
    """

    container: Container
    target: Scenario
    limit: float
    hold_time: float
    spread: float
    passing_spread: float
    lessons: tuple[Lesson, ...]
    length: float
    readings: int


def usual_candidates(container: Container, scenario: Scenario) -> list[Candidate]:
    """Return runs that any bench can make: hot and cold, full and half, upside down, preheated; lid off.

    Parameters
    ----------
    container : Container
    scenario : Scenario
        Its room, and what the container stands on, are those of the bench.
    """
    bench = scenario.model_dump(mode="json", exclude_unset=True, include={"room", "stands_on", "relative_humidity"})
    full = float(closed_capacity(container))
    hot, cold = {"start": "90 C"}, {"start": "4 C"}
    most, half, quarter = ({"fill": f"{share * full!r} m3"} for share in (0.9, 0.5, 0.25))
    kinds: dict[str, dict[str, Any]] = {
        "hot, full": hot,
        "hot, half full": hot | half,
        "hot, a quarter full": hot | quarter,
        "cold, full": cold,
        "cold, half full": cold | half,
        # As hot as what follows: under a hotter headspace the engine takes steps of a fraction of a second for hours.
        "hot, full, preheated": hot | {"preheat": {"duration": "5 min", "temperature": "90 C"}},
    }
    if container.lid is not None:
        if all(opening.closed for opening in container.lid.openings):
            kinds["hot, nine tenths full, upside down"] = hot | most | {"orientation": "inverted"}
        kinds["hot, full, lid off"] = hot | {"openings": [{"at": "0 s", "duration": "14 d"}]}
    return [Candidate(name, validated(Scenario, bench | kind)) for name, kind in kinds.items()]


def advise(
    container: Container,
    target: Scenario,
    limit: float,
    candidates: Sequence[Candidate],
    *,
    length: float,
    times: Array | None = None,
    probe: Probe | None = None,
    belief: Belief | None = None,
    progress: ShareDone | None = None,
) -> Advice:
    """Rank candidate runs by what they would teach about a hold time.

    Parameters
    ----------
    container : Container
    target : Scenario
        Whose hold time is wanted.
    limit : float
        [K]
    candidates : sequence of Candidate
    length : float
        Of every candidate. [s]
    times : (k,) array, optional
        Of the readings in each; as `reading_times`, but the first, if left out. [s]
    probe : Probe, optional
        That they are read with.
    belief : Belief, optional
        What earlier runs have taught; the priors if left out.
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If the target's limit can't be reached or a candidate does not fit.

    References
    ----------
    .. [1] Chaloner and Verdinelli, Bayesian experimental design: a review, Statistical Science 10 (1995) 273-304.
       doi:10.1214/ss/1177009939
    """
    probe = probe or Probe("probe")
    times = reading_times(length)[1:] if times is None else times  # what is poured in, no probe sees at rest
    centre, covariance = _what_is_known(belief)
    stepper = stepper_for(UNKNOWN_LANES * (1 + len(candidates)))
    hold_time, lasting, passing = log_hold_time(container, target, limit, centre, stepper)
    lessons = []
    for candidate in counted(candidates, progress):
        response = temperature_response(container, candidate.scenario, times, centre, stepper)
        lessons.append(_lesson(candidate, response, probe, lasting, passing, covariance))
    lessons.sort(key=lambda lesson: lesson.spread)
    spread = float(np.sqrt(lasting @ covariance @ lasting + passing @ passing))
    left = float(np.linalg.norm(passing))
    return Advice(container, target, limit, hold_time, spread, left, tuple(lessons), length, len(times))


# --- the algebra ------------------------------------------------------------------------------------------------


def _what_is_known(belief: Belief | None) -> tuple[dict[str, float], Array]:
    """Return the centre of every unknown, and the covariance of the lasting ones, in units of their priors."""
    centre, covariance = dict.fromkeys(PRIORS, 0.0), np.eye(len(LASTING))
    if belief is not None:
        centre |= {name: float(mean) for name, mean in zip(belief.names, belief.mean, strict=True)}
        kept = [k for k, name in enumerate(belief.names) if name in LASTING]
        places = [LASTING.index(belief.names[k]) for k in kept]
        covariance[np.ix_(places, places)] = (belief.root @ belief.root.T)[np.ix_(kept, kept)]
    return centre, covariance


def reading_covariance(response: TemperatureResponse, probe: Probe) -> Array:
    """Return the covariance of a run's readings about what the lasting unknowns make of them, (k, k). [K2]

    Noise and display of each reading; the probe's offset, fill, start and room of the run, and the model's own error,
    which all readings of the run share.
    """
    count = len(response.temperatures)
    # A loss of heat that is off by a share moves the curve along itself in time.
    astray = MODEL_ERROR * response.excess * np.log(np.maximum(response.excess[0] / response.excess, 1.0 + 1e-9))
    shared = response.passing @ response.passing.T + np.outer(astray, astray) + probe.offset_spread**2
    return shared + (probe.noise**2 + probe.resolution**2 / 12.0) * np.eye(count)


def _lesson(
    candidate: Candidate, response: TemperatureResponse, probe: Probe, lasting: Array, passing: Array, covariance: Array
) -> Lesson:
    after = updated_covariance(covariance, response.lasting, reading_covariance(response, probe))
    before_variance, after_variance = (float(lasting @ matrix @ lasting) for matrix in (covariance, after))
    narrowed = 1.0 - np.sqrt(np.diag(after) / np.diag(covariance))
    # Only what matters to the target is worth telling.
    matters = narrowed * np.abs(lasting) * np.sqrt(np.diag(covariance))
    topics = [(LASTING[k], float(narrowed[k])) for k in np.argsort(-matters)[:3] if narrowed[k] > 0.02]
    information = 0.5 * float(np.log(before_variance / after_variance)) if before_variance > 0.0 else 0.0
    return Lesson(candidate, float(np.sqrt(after_variance + passing @ passing)), information, tuple(topics))


def updated_covariance(covariance: Array, slopes: Array, noise: Array) -> Array:
    """Return the covariance of normal unknowns after linear readings of them.

    Parameters
    ----------
    covariance : (p, p) array
        Before.
    slopes : (k, p) array
        Of the readings by the unknowns.
    noise : (k, k) array
        Covariance of the readings about that.

    Examples
    --------
    >>> updated_covariance(np.eye(1), np.ones((1, 1)), np.eye(1)).item()
    0.5
    """
    crossed = slopes @ covariance
    return covariance - crossed.T @ np.linalg.solve(slopes @ crossed.T + noise, crossed)
