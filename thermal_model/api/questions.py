"""Hold times of a container, of many variants of it, and what they depend on."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Literal

from geometries.errors import InputProblem, refuse
from geometries.ranges import Range
from thermal_model import prediction
from thermal_model.api.correlations import Correlations, in_place
from thermal_model.api.inputs import (
    Conditions,
    Design,
    Known,
    Quantity,
    belief_of,
    container_of,
    limit_of,
    limits_of,
    scenario_of,
)
from thermal_model.prediction import DEFAULT_DRAWS, Prediction
from thermal_model.study.axes import read_axes
from thermal_model.study.question import Question
from thermal_model.study.sampling import planned
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.sensitivity import (
    GlobalSensitivity,
    LocalSensitivity,
    global_sensitivity,
    local_sensitivity,
)
from thermal_model.uncertainty import PRIORS
from thermal_model.words.numbers import Scale

if TYPE_CHECKING:
    from xarray import Dataset

    from thermal_model.study.sweep import Sweep

Over = Literal["design", "unknowns", "both"]


def predict(
    design: Design,
    scenario: Conditions = None,
    *,
    until: Quantity | Sequence[Quantity],
    draws: int = DEFAULT_DRAWS,
    seed: int = 1,
    calibration: Known = None,
    calibrated_as: str | None = None,
    correlations: Correlations = None,
    progress: Callable[[float], None] | None = None,
) -> Prediction:
    """Predict hold times, cooling curve and heat paths of a container.

    Parameters
    ----------
    design : Container, str or Path
        A container, the path of a design file, or the name of a starter design.
    scenario : Scenario or mapping, optional
        What is done with it; left out: water of 90 °C in a room of 20 °C, full but for 5 mm of air.
    until : str, float, pint quantity, or a sequence of them
        Limit temperatures; numbers in kelvin.
    draws : int
        Size of the sample for the intervals; 0 gives the best guess alone.
    seed : int
        The same seed gives the same sample.
    calibration : Calibration, CalibrationFile or path, optional
        What a bench says of the unknowns.
    calibrated_as : str, optional
        Name of the container on the bench, where it is another.
    correlations : mapping of str to callable, optional
        Of your own in place of the model's, by name, see `model_correlations`.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    Prediction
        Hold times in s, temperatures in K, heat paths in W/K.

    Raises
    ------
    InputError
        If an input can't be; every problem is named.

    Examples
    --------
    >>> found = predict("slim_neck_double_seal", {"fill": "500 mL"}, until="60 C", draws=0)
    >>> found.hold_times[0].nominal > 6 * 3600
    True
    """
    container = container_of(design)
    with in_place(correlations):
        return prediction.predict(
            container,
            scenario_of(scenario),
            limits_of(until),
            draws=draws,
            seed=seed,
            belief=belief_of(calibration, container.name, calibrated_as),
            progress=progress,
        )


def sweep(
    design: Design,
    scenario: Conditions = None,
    *,
    vary: Mapping[str, str | Sequence[object]],
    until: Quantity | Sequence[Quantity],
    sample: Literal["grid", "one-at-a-time", "latin", "sobol"] = "grid",
    count: int | None = None,
    seed: int = 1,
    calibration: Known = None,
    calibrated_as: str | None = None,
    paths: bool | None = None,
    draws: int = 0,
    quick: bool = False,
    correlations: Correlations = None,
    threads: int | None = None,
    progress: Callable[[int], None] | None = None,
) -> "Dataset":
    """Compute the hold times of many variants of a design.

    Parameters
    ----------
    design, scenario, until, calibration, calibrated_as
        As `predict`.
    vary : mapping of str to str or sequence
        Path of what is varied to its values: "30..60 mm:7" for seven from end to end, or a sequence of quantities
        (numbers in SI units), kinds, or counts of a list's entries. Paths of the scenario begin with "scenario.".
    sample : str
        Every combination; one axis at a time; or a sample of `count` designs.
    count : int, optional
        Designs of a latin or sobol sample.
    seed : int
        Of that sample, and of the draws.
    paths : bool, optional
        Whether the heat loss coefficient of every design and its paths are computed; left out: up to 10 000 designs.
    draws : int
        Containers drawn for an interval of every hold time; 0: no interval.
    quick : bool
        Hold times within 0.1 % or 10 s, in about half the time.
    correlations : mapping of str to callable, optional
        As `predict`; this thread alone then computes.
    threads : int, optional
        Threads that compute; left out: all cores, where they help.
    progress : callable, optional
        Called with the number of designs done since the last call.

    Returns
    -------
    xarray.Dataset
        `hold_time` in s, `outcome`, `reason`, mass, capacity, outer sizes, `heat_loss_coefficient`, its paths in W/K,
        `hold_time_low` and `hold_time_high` of the draws, over `until` and the axes, whose names are the paths with
        underscores for dots; needs holdtime[sweep].

    Raises
    ------
    InputError
        As `predict`. A variant that can't be is no error: its outcome says so.

    Examples
    --------
    >>> mouths = {"body.neck.mouth_diameter": ["40 mm", 0.05]}
    >>> sweep("slim_neck_double_seal", {"fill": "500 mL"}, vary=mouths, until="60 C").hold_time.dims
    ('until', 'body_neck_mouth_diameter')
    """
    from thermal_model.study.sweep import PATHS_UNASKED, Sweep, check_size

    container, conditions, limits = container_of(design), scenario_of(scenario), limits_of(until)
    known = belief_of(calibration, container.name, calibrated_as)
    prediction.check_run(container, conditions, limits)
    question = Question.calibrated(container, conditions, limits[0], known)
    axes = read_axes([*vary.items()], container, conditions, "vary")
    plan = planned(tuple(axes), Sampling(sample), count, seed)
    found = Sweep(
        question.container,
        conditions,
        tuple(limits),
        plan,
        unknowns=question.unknowns,
        wants_paths=plan.count <= PATHS_UNASKED if paths is None else paths,
        draws=draws,
        belief=question.belief,
        is_quick=quick,
    )
    with in_place(correlations):
        check_size(found)
        return _computed(found, 1 if correlations else threads, progress)


def _computed(sweep: "Sweep", threads: int | None, progress: Callable[[int], None] | None) -> "Dataset":
    from thermal_model.solver.cores import cores
    from thermal_model.study.crew import threads as crew_of
    from thermal_model.study.journal import Journal
    from thermal_model.study.sweep import run, summary_of
    from thermal_model.study.sweep_files import dataset

    blocks = sum(1 for _ in sweep.blocks(0, sweep.plan.count))
    size = min(threads or (cores() if sweep.is_compiled else 1), blocks)
    with TemporaryDirectory(prefix="holdtime-") as folder, crew_of(size) if size > 1 else nullcontext() as crew:
        journal = Journal(Path(folder) / "sweep", sweep.inputs(), is_kept=False)
        run(sweep, journal, progress=progress, crew=crew)
        return dataset(sweep, journal, summary_of(sweep, journal), Scale.CELSIUS)


def sensitivity(
    design: Design,
    scenario: Conditions = None,
    *,
    until: Quantity,
    over: Over = "design",
    calibration: Known = None,
    calibrated_as: str | None = None,
    progress: Callable[[float], None] | None = None,
) -> LocalSensitivity:
    """Rank what small changes do to a hold time: of each dimension, of each unknown.

    Parameters
    ----------
    design, scenario, calibration, calibrated_as, progress
        As `predict`.
    until : str, float or pint quantity
        Limit temperature; a number in kelvin.
    over : str
        Dimensions of the design, unknowns, or both.

    Returns
    -------
    LocalSensitivity
        Percent of hold time per percent of a dimension; hold times with an unknown a standard deviation off.

    Raises
    ------
    InputError
        As `predict`; also if the design does not reach the limit.
    """
    question = _question(design, scenario, until, calibration, calibrated_as)
    return local_sensitivity(
        question, over_design=over != "unknowns", over_unknowns=over != "design", progress=progress
    )


def sobol_indices(
    design: Design,
    scenario: Conditions = None,
    *,
    until: Quantity,
    vary: Mapping[str, str] | None = None,
    over_unknowns: bool | None = None,
    samples: int = 256,
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
) -> GlobalSensitivity:
    """Share the variance of a hold time among what varies over ranges, and what is not known.

    Parameters
    ----------
    design, scenario, progress
        As `predict`.
    until : str, float or pint quantity
        Limit temperature; a number in kelvin.
    vary : mapping of str to str, optional
        Path to its range, "35..60 mm".
    over_unknowns : bool, optional
        Vary the unknowns too; left out: where nothing else varies.
    samples : int
        Base sample, a power of two.
    seed : int

    Returns
    -------
    GlobalSensitivity
        First-order and total indices with their 90 % intervals; needs holdtime[sensitivity].

    Raises
    ------
    InputError
        As `predict`; also if too many of the designs have no hold time.
    """
    question = _question(design, scenario, until, None, None)
    axes = read_axes([*vary.items()], question.container, question.scenario, "vary") if vary else []
    message = "an index needs a range, low..high"
    refuse(InputProblem(message, axis.path, source="vary") for axis in axes if not isinstance(axis.variation, Range))
    ranges = [axis.variation for axis in axes if isinstance(axis.variation, Range)]
    unknowns = list(PRIORS) if over_unknowns or (over_unknowns is None and not ranges) else []
    return global_sensitivity(question, ranges, unknowns, samples=samples, seed=seed, progress=progress)


def _question(
    design: Design, scenario: Conditions, until: Quantity, calibration: Known, calibrated_as: str | None
) -> Question:
    container, conditions, limit = container_of(design), scenario_of(scenario), limit_of(until)
    prediction.check_fill(container, conditions)
    prediction.check_run(container, conditions, [limit])
    known = belief_of(calibration, container.name, calibrated_as)
    return Question.calibrated(container, conditions, limit, known)
