"""What a hold time depends on: local elasticities, and Sobol' indices over ranges and over what is not known.

Every set of runs is one table of designs, so it costs one call of the engine.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from geometries.container import Container
from geometries.display import Displayed, Listing
from geometries.errors import InputError, InputProblem
from geometries.numeric import Array
from geometries.ranges import NumberField, Range
from thermal_model.batch import Table
from thermal_model.gradients import gradients
from thermal_model.study.question import Question
from thermal_model.study.ranges import number_fields
from thermal_model.uncertainty import INTERVAL, PRIORS
from thermal_model.words.numbers import duration_text
from thermal_model.work_done import ShareDone

STEP = 0.01
"""Of each dimension up and down, relative: what percent of hold time a percent of it is worth."""

CONFIDENCE = 0.9
"""Of the intervals of the indices."""

RESAMPLES = 200
"""Of the bootstrap."""

NEGLIGIBLE = 1e-4
"""Relative change of a hold time that counts as none: of a spread of 10 %, a millionth of the variance."""

MOST_LEFT_OUT = 0.1
"""Share of the designs of a range that may make no container or not reach the limit."""


# --- local ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Elasticity:
    """How a hold time answers to one dimension.

    Attributes
    ----------
    field : NumberField
    value : float
        Percent of hold time per percent of the dimension, d ln t / d ln x. [-]
    slope : float
        Change of hold time per change of the dimension. [s per SI unit]
    is_one_sided : bool
        Whether a step to one side makes no container, so that the other side alone counts.
    """

    field: NumberField
    value: float
    slope: float
    is_one_sided: bool


@dataclass(frozen=True)
class UnknownEffect:
    """How a hold time answers to one unknown.

    Attributes
    ----------
    name : str
        In PRIORS.
    lower, upper : float
        Hold time with the unknown a standard deviation below and above its best guess. [s]
    """

    name: str
    lower: float
    upper: float

    @property
    def half_width(self) -> float:
        """Half of what lies between them. [s]"""
        return 0.5 * abs(self.upper - self.lower)


@dataclass(frozen=True, repr=False)
class LocalSensitivity(Displayed):
    """Effects of small changes, the largest first.

    Attributes
    ----------
    hold_time : float
        Of the design itself. [s]
    elasticities : tuple of Elasticity
    unknowns : tuple of UnknownEffect
    left_out : tuple of (str, str)
        Paths that could not be varied, and why.
    """

    hold_time: float
    elasticities: tuple[Elasticity, ...]
    unknowns: tuple[UnknownEffect, ...]
    left_out: tuple[tuple[str, str], ...]

    def _line(self) -> str:
        counts = f"{len(self.elasticities)} dimensions, {len(self.unknowns)} unknowns"
        return f"of a hold time of {duration_text(self.hold_time)} to {counts}"

    def _tables(self) -> Iterator[Listing]:
        if self.elasticities:
            rows = [(e.field.path, f"{e.value:+.3f} %") for e in self.elasticities]
            yield Listing("Hold time per percent more", rows)
        if self.unknowns:
            effects = [(PRIORS[u.name].label, duration_text(u.lower), duration_text(u.upper)) for u in self.unknowns]
            yield Listing("Hold time a standard deviation below and above", effects)


def given_dimensions(container: Container) -> list[NumberField]:
    """Return the numbers that a design gives itself and that are above zero; the rest are defaults."""
    return [f for f in number_fields(container).values() if f.is_given and f.value is not None and f.value > 0.0]


def local_sensitivity(
    question: Question, *, over_design: bool = True, over_unknowns: bool = False, progress: ShareDone | None = None
) -> LocalSensitivity:
    """Compute elasticities by central differences, and what the unknowns do; each in one batch with the design itself.

    Parameters
    ----------
    question : Question
        A fill that its scenario leaves out follows the container: full to the lid.
    over_design, over_unknowns : bool
        What to vary: dimensions the design gives, by STEP; unknowns by a standard deviation.
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If the design itself does not reach the limit.
    """
    names = list(PRIORS) if over_unknowns else []
    result = question.answers(Table({}, normals=_steps_of_unknowns(question, names)), progress)
    times = result.hold_times[0]
    base = float(times[0])
    if not np.isfinite(base):
        raise InputError(f"the design itself has no hold time: {question.why_none(result, 0)}")
    elasticities, left_out = _elasticities(question, base) if over_design else ([], [])
    rows = range(1, len(times), 2)  # each unknown a step down, and up
    effects = [UnknownEffect(name, *times[row : row + 2].tolist()) for name, row in zip(names, rows, strict=True)]
    lost = [
        (name, question.why_none(result, row + int(np.argmin(np.isfinite(times[row : row + 2])))))
        for name, row in zip(names, rows, strict=True)
        if not np.isfinite(times[row : row + 2]).all()
    ]
    return LocalSensitivity(
        base,
        tuple(sorted(elasticities, key=lambda e: -abs(e.value))),
        tuple(sorted((e for e in effects if np.isfinite(e.half_width)), key=lambda e: -e.half_width)),
        (*left_out, *lost),
    )


def _steps_of_unknowns(question: Question, names: Sequence[str]) -> dict[str, Array]:
    """Return draws of which number 0 is the design, then two an unknown, a standard deviation down and up.

    Where readings tie others to it, these move along as they say.
    """
    if not names:
        return {}
    known = () if question.belief is None else question.belief.names
    covariance = np.empty((0, 0)) if question.belief is None else question.belief.root @ question.belief.root.T
    normals = {name: np.zeros(1 + 2 * len(names)) for name in {*names, *known}}
    for number, name in enumerate(names):
        pair = slice(1 + 2 * number, 3 + 2 * number)
        if name not in known:
            normals[name][pair] = -1.0, 1.0
            continue
        place = known.index(name)
        for other, together in zip(known, covariance[place].tolist(), strict=True):
            normals[other][pair] = np.array([-1.0, 1.0]) * together / np.sqrt(covariance[place, place])
    return normals


def _elasticities(question: Question, hold_time: float) -> tuple[list[Elasticity], list[tuple[str, str]]]:
    """Return how the hold time answers to each dimension that the design gives, and those it can't be told of."""
    fields = given_dimensions(question.container)
    found = gradients(
        question.container,
        question.scenario,
        [question.limit],
        [field.path for field in fields],
        relative_step=STEP,
        horizon=question.horizon,
        unknowns=question.unknowns,
    )
    elasticities = []
    for field, slope, is_one_sided in zip(fields, found.slopes[0].tolist(), found.is_one_sided.tolist(), strict=True):
        assert field.value is not None
        if field.path not in found.reasons:
            elasticities.append(Elasticity(field, slope * field.value / hold_time, slope, is_one_sided))
    return elasticities, list(found.reasons.items())


# --- global -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class SobolIndex:
    """Share of the variance of a hold time that is due to one input.

    Attributes
    ----------
    name : str
        Path of a dimension, or name of an unknown in PRIORS.
    first, total : float
        First-order and total index. [-]
    first_margin, total_margin : float
        Half width of their CONFIDENCE intervals, from the bootstrap. [-]
    """

    name: str
    first: float
    first_margin: float
    total: float
    total_margin: float


@dataclass(frozen=True, repr=False)
class GlobalSensitivity(Displayed):
    """Shares of the variance, the largest total index first.

    Attributes
    ----------
    indices : tuple of SobolIndex
    idle : tuple of str
        Unknowns that change next to nothing in this design; no runs were spent on them.
    mean, standard_deviation : float
        Of the hold time over all that is varied. [s]
    low, high : float
        Quantiles INTERVAL of it. [s]
    samples, runs : int
        Base sample N, and N (D + 2) designs computed for D inputs.
    left_out : int
        Of the N rows, those that hold a design which makes no container or does not reach the limit.
    reason : str
        Of the first of these.
    seed : int
    """

    indices: tuple[SobolIndex, ...]
    idle: tuple[str, ...]
    mean: float
    standard_deviation: float
    low: float
    high: float
    samples: int
    runs: int
    left_out: int
    reason: str
    seed: int

    def _line(self) -> str:
        return f"of a hold time of {duration_text(self.low)} to {duration_text(self.high)}, {self.runs} designs"

    def _tables(self) -> Iterator[Listing]:
        rows = [(i.name, f"{i.first:.3f}", f"{i.total:.3f}", f"{i.total_margin:.3f}") for i in self.indices]
        yield Listing("Shares of the variance", rows, ("varied", "alone", "in total", "+/-"))


def unit_sample(inputs: int, samples: int, seed: int) -> Array:
    """Return the rows at which the indices want a model, each input uniform in 0..1.

    Parameters
    ----------
    inputs : int
        Number D.
    samples : int
        Base sample N, a power of two.
    seed : int

    Returns
    -------
    (N (D + 2), D) array
        Saltelli's cross-sampling of a scrambled Sobol' sequence.

    References
    ----------
    Saltelli, A. et al. (2010), Computer Physics Communications 181(2), 259-270, doi:10.1016/j.cpc.2009.09.018;
    drawn by SALib.
    """
    from SALib.sample.sobol import sample

    return np.asarray(sample(_problem(inputs), samples, calc_second_order=False, seed=seed), dtype=float)


def sobol_indices(names: Sequence[str], values: Array, seed: int) -> list[SobolIndex]:
    """Estimate the indices from a model's values at the rows of `unit_sample`.

    Parameters
    ----------
    names : sequence of str
        Of the D inputs.
    values : (N (D + 2),) array
    seed : int
        Of the bootstrap.

    References
    ----------
    The estimators of Saltelli et al. (2010), as in `unit_sample`; SALib's, with its bootstrap intervals. The
    bootstrap takes rows as independent; those of a Sobol' sequence are spread more evenly, so it errs to the wide
    side.
    """
    from SALib.analyze.sobol import analyze

    found = analyze(
        _problem(len(names)),
        values,
        calc_second_order=False,
        num_resamples=RESAMPLES,
        conf_level=CONFIDENCE,
        # A generator, since a seed of 0 would count as none.
        seed=np.random.default_rng(seed),
    )
    columns = (np.asarray(found[key], dtype=float).tolist() for key in ("S1", "S1_conf", "ST", "ST_conf"))
    return [SobolIndex(*row) for row in zip(names, *columns, strict=True)]


def _problem(inputs: int) -> dict[str, object]:
    return {"num_vars": inputs, "names": [str(n) for n in range(inputs)], "bounds": [[0.0, 1.0]] * inputs}


def global_sensitivity(
    question: Question,
    ranges: Sequence[Range],
    unknowns: Sequence[str],
    *,
    samples: int,
    seed: int,
    progress: ShareDone | None = None,
) -> GlobalSensitivity:
    """Compute Sobol' indices of a hold time.

    Parameters
    ----------
    question : Question
    ranges : sequence of Range
        Varied uniformly.
    unknowns : sequence of str
        Names in PRIORS, varied over their priors.
    samples : int
        Base sample N; rounded up to a power of two.
    seed : int
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If nothing of it changes the hold time, too many of the designs have none, or unknowns are to be varied that a
        calibration ties to each other: indices want independent inputs.
    """
    _check_library()
    if unknowns and question.belief is not None:
        raise InputError("unknowns that a calibration ties together have no indices; take --local", source="--over")
    idle = idle_unknowns(question, unknowns)
    names = [*(r.path for r in ranges), *(name for name in unknowns if name not in idle)]
    if not names:
        raise InputError("nothing that is varied changes the hold time of this design")
    samples = power_of_two(samples)
    unit = unit_sample(len(names), samples, seed)
    result = question.answers(_cross_table(ranges, names[len(ranges) :], unit), progress)
    is_there = np.isfinite(result.hold_times[0])
    is_good = is_there.reshape(samples, -1).all(axis=1)
    reason = "" if is_good.all() else question.why_none(result, int(np.argmin(is_there)))
    if is_good.mean() < 1.0 - MOST_LEFT_OUT:
        raise InputError([_too_many_left_out(float(is_good.mean()), reason)])
    times = result.hold_times[0].reshape(samples, -1)[is_good]
    indices = sobol_indices(names, times.ravel(), seed)
    independent = times[:, [0, -1]]
    low, high = np.quantile(independent, INTERVAL).tolist()
    return GlobalSensitivity(
        tuple(sorted(indices, key=lambda index: -index.total)),
        tuple(idle),
        float(independent.mean()),
        float(independent.std()),
        low,
        high,
        samples,
        len(unit),
        int((~is_good).sum()),
        reason,
        seed,
    )


def power_of_two(samples: int) -> int:
    """Return the power of two from a number up, at least 2: a Sobol' sequence is balanced at those."""
    return 1 << max(samples - 1, 1).bit_length()


def _check_library() -> None:
    from importlib.util import find_spec

    if find_spec("SALib") is None:
        raise InputError("global indices need the library SALib; install it with: pip install 'holdtime[sensitivity]'")


def _too_many_left_out(share: float, reason: str) -> InputProblem:
    message = (
        f"only {100.0 * share:.0f} % of the sample is complete, at least {100.0 * (1.0 - MOST_LEFT_OUT):.0f} % is "
        f"needed; narrow the ranges. The first that fails: {reason}"
    )
    return InputProblem(message)


def idle_unknowns(question: Question, unknowns: Sequence[str]) -> list[str]:
    """Return the unknowns that move the hold time by less than NEGLIGIBLE, a standard deviation up and down."""
    times = question.answers(Table({}, normals=_steps_of_unknowns(question, unknowns))).hold_times[0]
    pairs = times[1:].reshape(-1, 2)
    return [
        name
        for name, pair in zip(unknowns, pairs, strict=True)
        if np.all(np.abs(pair - times[0]) < NEGLIGIBLE * times[0])
    ]


def _cross_table(ranges: Sequence[Range], unknowns: Sequence[str], unit: Array) -> Table:
    """Return the designs at rows of numbers in 0..1: ranges first, then unknowns."""
    from scipy.special import ndtri

    numbers = {r.path: r.at(unit[:, column]) for column, r in enumerate(ranges)}
    normals = {name: ndtri(unit[:, column]) for column, name in enumerate(unknowns, start=len(ranges))}
    return Table(numbers, normals=normals)
