"""What is not known, as distributions, and samples of it.

Every unknown is a multiplier or a shift on what the model would assume, drawn from a stated prior. A sample is a
batch of lanes, so that an interval costs one call of the engine.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from statistics import NormalDist
from typing import Any

import numpy as np

from geometries.checks import dimension_problems
from geometries.container import Container, closed_capacity
from geometries.lid import PocketLayer, SolidLayer
from geometries.numeric import Array, Numeric
from geometries.unsure import log_widths, with_unsure
from thermal_model.assemble.contents import filled_volume, melted_volume
from thermal_model.assemble.lanes import Lanes
from thermal_model.scenario import COLDEST_ROOM, HOTTEST_ROOM, Scenario, contents_kind
from thermal_model.unknowns import UNKNOWN_NAMES, USUAL_WIDTHS, Unknowns
from thermal_model.words.dimensions import dimension_words

INTERVAL = (0.05, 0.95)
"""Quantiles of the interval that is reported: 90 %."""


def low_median_high(times: Array) -> tuple[float, float, float]:
    """Return 5, 50 and 95 % of hold times, each one of them: so one that never ends stays infinite. [s]"""
    low, median, high = np.quantile(times, [INTERVAL[0], 0.5, INTERVAL[1]], method="higher").tolist()
    return low, median, high


def low_high(times: Array) -> tuple[float, float]:
    """Return 5 and 95 % of hold times as `low_median_high` does, those without one left out; NaN without any. [s]"""
    good = times[~np.isnan(times)]
    low, _, high = low_median_high(good) if len(good) else (np.nan,) * 3
    return low, high


class Scope(StrEnum):
    """Whose an unknown is: of every container alike, of one container, or of a run."""

    COMMON = "common"
    CONTAINER = "container"
    RUN = "run"


class Spread(StrEnum):
    """How an unknown varies."""

    FACTOR = "factor"
    SHIFT = "shift"


@dataclass(frozen=True)
class Prior:
    """A distribution about the model's own assumption.

    Attributes
    ----------
    label : str
        In plain words.
    width : float
        Standard deviation of the factor's logarithm, or of the shift. [-, SI]
    source : str
        Why this width.
    advice : str
        What a user can do to narrow it; "" where nothing.
    scope : Scope
        Whose it is.
    spread : Spread
        A lognormal factor of median 1, or a normal shift of mean 0.
    """

    label: str
    width: float
    source: str
    advice: str = ""
    scope: Scope = Scope.CONTAINER
    spread: Spread = Spread.FACTOR

    def values(self, standard_normal: Array) -> Array:
        """Turn standard normal numbers into factors or shifts."""
        scaled = self.width * standard_normal
        return np.exp(scaled) if self.spread is Spread.FACTOR else scaled


_JUDGEMENT = "judgement, no source"
_MEASURE = "measure it with a caliper"

PRIORS: dict[str, Prior] = {
    "exterior_film": Prior(
        "heat transfer to the room's air",
        0.12,
        "formulas for still air are good to 10-20 % (Incropera/DeWitt, ch. 9, from memory)",
        "measure the room's temperature near the container, away from walls and sun",
        Scope.COMMON,
    ),
    "base_film": Prior("contact with the table", 0.5, _JUDGEMENT, "say what it stands on", Scope.COMMON),
    "headspace_film": Prior(
        "vapour and air between liquid and lid",
        0.35,
        "vapour is reckoned from heat transfer, in a small space; " + _JUDGEMENT,
        "compare a full and a half-full run",
        Scope.COMMON,
    ),
    "wetted_film": Prior("heat transfer from liquid to wall", 0.3, _JUDGEMENT, "it hardly matters", Scope.COMMON),
    "annulus_exchange": Prior(
        "vapour creeping up beside the plug",
        0.7,
        "between a smooth slot and one as hot as the air under the lid; " + _JUDGEMENT,
        "compare runs with the lid's lower seal on and off, or upside down",
    ),
    "lid_contact": Prior("contact between lid and lip", 0.7, _JUDGEMENT, "close the lid to the same mark each time"),
    "lid_leak": Prior("exchange through the lid's holes", 0.5, _JUDGEMENT, "tape the hole and compare"),
    "gap_emissivity": Prior(
        "shine of the walls inside the gap",
        USUAL_WIDTHS["gap_emissivity"],
        "tables spread this far for one finish (Incropera table A.11, from memory)",
        "a bench run that lasts long, with a good lid, pins it",
    ),
    "gap_pressure": Prior(
        "vacuum in the gap",
        1.6,
        "pressures of aged vacua spread over factors of ten; " + _JUDGEMENT,
        "feel for a warm side after an hour with hot water: a cold side means a sound vacuum",
    ),
    "gap_conduction": Prior(
        "foam or gas in the gap",
        USUAL_WIDTHS["gap_conduction"],
        "spread of foam in ISO 10456, from memory",
    ),
    "exterior_emissivity": Prior(
        "shine of the outside",
        USUAL_WIDTHS["exterior_emissivity"],
        "tables spread this far, Incropera table A.11, from memory",
    ),
    "wall_conductivity": Prior(
        "conductivity of the steel", USUAL_WIDTHS["wall_conductivity"], "spread between NIST, Mills 2002"
    ),
    "layer_conductivity": Prior(
        "conductivity of lid and plug",
        USUAL_WIDTHS["layer_conductivity"],
        "polymer data spread, 0.12-0.22 W/mK, from memory",
    ),
    "wall_thickness": Prior("thickness of the steel at the neck", 0.12, _JUDGEMENT, _MEASURE),
    "mouth_diameter": Prior("mouth diameter", 4e-4, "reading of a ruler; judgement", _MEASURE, spread=Spread.SHIFT),
    "lid_thickness": Prior("depth of lid layers and pockets", 0.06, "ruler on a lid; judgement", _MEASURE),
    "clearance": Prior("clearance between plug and neck", 0.2, _JUDGEMENT, _MEASURE),
    "fill": Prior("filled volume", 0.01, "kitchen jug or scales; judgement", "weigh it", Scope.RUN),
    "start": Prior(
        "start temperature", 0.4, "simple thermometer; judgement", "check it in ice water", Scope.RUN, Spread.SHIFT
    ),
    "room": Prior("room temperature", 0.5, "simple thermometer, quiet room", "log the room", Scope.RUN, Spread.SHIFT),
    "lid_gap": Prior(
        "gap under a lid without a seal",
        0.8,
        "two bare faces lie 0.1 to 1 mm apart, as they are turned, moulded and warped; " + _JUDGEMENT,
        "slide strips of paper, 0.1 mm each, under the lid; or compare with tape around it",
    ),
    "open_surface": Prior(
        "evaporation from open contents",
        0.33,
        "published laws miss measured pools by up to 26 % on average (Shah 2002, HVAC&R Research 8, abstract "
        "read); cups are smaller than any of those",
        "weigh the cup before and after: what is gone has evaporated",
        Scope.COMMON,
    ),
    "draught": Prior(
        "movement of the room's air",
        0.7,
        "medians of rooms from 0.01 to 0.12 m/s (Matthews et al. 1987, six lived-in houses, abstract read)",
        "keep windows, fans and people away",
        Scope.RUN,
    ),
}


@dataclass(frozen=True, kw_only=True)
class Sample(Lanes):
    """A batch of perturbed runs; lane 0 is the nominal one, n lanes in all.

    Attributes
    ----------
    standard_normals : dict of (n,) array
        The draw of each unknown, zero in lane 0.
    stretch : (n,) array
        How much longer everything takes than the network says, 1 in lane 0. [-]
    """

    standard_normals: dict[str, Array]
    stretch: Array


@dataclass(frozen=True)
class Belief:
    """What bench readings say about the unknowns of a container: a normal distribution of standard normals.

    Unknowns that are not named keep their prior. Common ones come first, and are the same for every container of a
    calibration, so that containers drawn with the same seed share them.

    Attributes
    ----------
    names : tuple of str
        k unknowns, keys of PRIORS.
    mean : (k,) array
        In units of the prior's width, from the prior's centre. [-]
    root : (k, k) array
        Lower triangular root of the covariance. [-]
    time_spread : float
        Standard deviation of the logarithm of a time, for what no unknown of the network accounts for. [-]
    """

    names: tuple[str, ...]
    mean: Array
    root: Array
    time_spread: float = 0.0

    def standard_normals(self, drawn: dict[str, Array]) -> dict[str, Array]:
        """Return independent draws, (n,) each, moved to this belief."""
        rows = np.stack([drawn[name] for name in self.names])
        moved = self.mean[:, None] + self.root @ rows
        return drawn | dict(zip(self.names, moved, strict=True))

    @property
    def about_centre(self) -> "Belief":
        """The same about a container that has been brought to its centre; see `at_centre`."""
        return replace(self, mean=np.zeros_like(self.mean))


def at_centre(container: Container, belief: Belief) -> tuple[Container, Unknowns]:
    """Return a container and its unknowns where a belief has its centre."""
    means = dict(zip(belief.names, belief.mean.tolist(), strict=True))
    values = {name: prior.values(np.asarray(means.get(name, 0.0))).item() for name, prior in PRIORS.items()}
    return perturbed_container(container, values), Unknowns(**{name: values[name] for name in UNKNOWN_NAMES})


def draw_sample(
    container: Container,
    scenario: Scenario,
    draws: int,
    seed: int,
    *,
    belief: Belief | None = None,
    own: str = "",
) -> Sample:
    """Draw a seeded Latin hypercube of every prior, the nominal case first.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    draws : int
        Number of draws; 0 gives the nominal case alone.
    seed : int
        The same seed gives the same sample.
    belief : Belief, optional
        What a calibration knows; the nominal case is then its centre.
    own : str
        Names the container where several are compared: what is a container's own is then drawn for each apart,
        what is common to all is drawn alike.
    """
    normals = _independent_normals(draws, seed, own)
    if belief is not None:
        normals = belief.standard_normals(normals)
    container, unsure = unsure_drawn(container, _unsure_normals(container, draws, seed, own), draws + 1)
    values = {name: prior.values(normals[name]) for name, prior in PRIORS.items()}
    runs = perturbed_runs(container, scenario, values, draws + 1)
    return Sample(
        runs.container,
        runs.scenario,
        runs.unknowns,
        draws + 1,
        standard_normals=normals | unsure,
        stretch=_stretch(draws, seed, own, 0.0 if belief is None else belief.time_spread),
    )


def _unsure_normals(container: Container, draws: int, seed: int, own: str) -> dict[str, Array]:
    """Return draws of the dimensions that were not measured, by path, the best guess first."""
    generator = np.random.default_rng([seed, *f"unsure {own}".encode()])
    return {path: np.append(0.0, _latin_normals(generator, draws)) for path in log_widths(container)}


def unsure_drawn(container: Container, normals: Mapping[str, Array], count: int) -> tuple[Container, dict[str, Array]]:
    """Return n lanes of a container with what was not measured drawn from its ranges, and the draws by path.

    Draws that make no container are brought nearer to the best guess until they do. A dimension that differs from
    lane to lane already is as the lane says, measured or not.

    Parameters
    ----------
    container : Container
    normals : mapping of str to (n,) array
        Standard normal draws; of those by path, whose dimension has a range, the rest is passed over.
    count : int
        Number of lanes n.
    """
    widths = {path: width for path, width in log_widths(container).items() if path in normals}
    if not widths:
        return container, {}
    drawn = {path: normals[path] for path in widths}

    def made() -> Container:
        return with_unsure(container, {path: np.exp(widths[path] * normal) for path, normal in drawn.items()})

    for nearer in (*[0.7] * (UNSURE_STEPS - 1), 0.0):
        misfits = np.zeros(count, dtype=bool)
        for problem in dimension_problems(made()):
            misfits |= problem.mask
        if not misfits.any():
            break
        drawn = {path: np.where(misfits, nearer * normal, normal) for path, normal in drawn.items()}
    return made(), drawn


UNSURE_STEPS = 12
"""Times a draw that makes no container is brought nearer to the best guess: 30 % nearer, the last time to it."""


def _stretch(draws: int, seed: int, own: str, spread: float) -> Array:
    generator = np.random.default_rng([seed, *f"stretch {own}".encode()])
    return np.exp(spread * np.append(0.0, _latin_normals(generator, draws)))


def _independent_normals(draws: int, seed: int, own: str) -> dict[str, Array]:
    common = np.random.default_rng(seed)
    apart = np.random.default_rng([seed, *own.encode()]) if own else common
    return {
        name: np.append(0.0, _latin_normals(apart if prior.scope is Scope.CONTAINER else common, draws))
        for name, prior in PRIORS.items()
    }


def _latin_normals(generator: np.random.Generator, draws: int) -> Array:
    """Return standard normal numbers, one from each of as many equally likely slices, in random order."""
    if draws == 0:
        return np.empty(0)
    slices = generator.permutation(draws)
    shares = (slices + generator.random(draws)) / draws
    return np.fromiter(map(NormalDist().inv_cdf, shares.tolist()), dtype=float, count=draws)


def perturbed_runs(container: Container, scenario: Scenario, values: dict[str, Array], count: int) -> Lanes:
    """Return n runs with what is not known at some values, (n,) each, by the names in PRIORS."""
    designs = perturbed_container(container, values)
    unknowns = Unknowns(**{name: values[name] for name in UNKNOWN_NAMES})
    return Lanes(designs, perturbed_scenario(designs, scenario, values), unknowns, count)


def perturbed_container(container: Container, values: Mapping[str, Numeric]) -> Container:
    """Return the container with what a ruler misreads put into its leaves."""
    body, lid = container.body, container.lid
    if body.neck is not None:
        mouth = body.neck.mouth_diameter + values["mouth_diameter"]
        body = body.model_copy(update={"neck": body.neck.model_copy(update={"mouth_diameter": mouth})})
    if lid is not None:
        changes: dict[str, Any] = {"layers": tuple(_thicker(layer, values["lid_thickness"]) for layer in lid.layers)}
        if lid.plug is not None:
            clearance = lid.plug.clearance * values["clearance"]
            changes["plug"] = lid.plug.model_copy(update={"clearance": clearance})
        lid = lid.model_copy(update=changes)
    return container.model_copy(update={"body": body, "lid": lid})


def _thicker(layer: SolidLayer | PocketLayer, factor: Numeric) -> SolidLayer | PocketLayer:
    if isinstance(layer, SolidLayer):
        return layer.model_copy(update={"thickness": layer.thickness * factor})
    return layer.model_copy(update={"depth": layer.depth * factor})


def perturbed_scenario(container: Container, scenario: Scenario, values: dict[str, Array]) -> Scenario:
    """Return the scenario with what jug and thermometer misread put into its leaves."""
    kind = contents_kind(scenario.contents)
    changes: dict[str, Any] = {"start": np.clip(scenario.start + values["start"], kind.coldest, kind.hottest)}
    if scenario.room_profile is None:
        changes["room"] = np.clip(scenario.room + values["room"], COLDEST_ROOM, HOTTEST_ROOM)
    else:
        shift = np.clip(scenario.room_profile.shift + values["room"], *scenario.room_profile.shifts_allowed())
        changes["room_profile"] = scenario.room_profile.model_copy(update={"shift": shift})
    # A fill that is not given is misjudged as much as one that is.
    room_for = closed_capacity(container) - melted_volume(scenario)
    changes["fill"] = np.minimum(filled_volume(container, scenario) * values["fill"], room_for)
    return scenario.model_copy(update=changes)


@dataclass(frozen=True)
class Contribution:
    """How much of a result's spread comes from one unknown."""

    name: str
    label: str
    share: float
    advice: str


def least_draws(container: Container) -> int:
    """Return from how many draws on `contributions` can split the spread of a container's result: two an unknown."""
    return 2 * (len(PRIORS) + len(container.unsure))


def contributions(sample: Sample, result: Array) -> list[Contribution]:
    """Split the variance of a result among the unknowns, largest first.

    Parameters
    ----------
    sample : Sample
    result : (n,) array
        Positive, as hold times; NaN lanes are left out.

    Returns
    -------
    list of Contribution
        Shares of the variance that a linear fit of log(result) to the standard normals explains; they add up to 1.
    """
    good = np.isfinite(result) & (result > 0.0)
    good[0] = False
    names = list(sample.standard_normals)
    if good.sum() < 2 * len(names):
        return []
    design = np.stack([sample.standard_normals[name][good] for name in names], axis=1)
    centred = design - design.mean(axis=0)
    target = np.log(result[good])
    found = []
    for k, share in variance_shares(centred, target - target.mean()):
        label, advice = _named(names[k], sample.container)
        found.append(Contribution(names[k], label, share, advice))
    return found


def variance_shares(design: Array, target: Array) -> list[tuple[int, float]]:
    """Split the variance of a target that a linear fit explains among k columns, (n, k), by place, largest first. [-]

    Both have their means taken off. Empty where nothing is explained.
    """
    variance = np.linalg.lstsq(design, target, rcond=None)[0] ** 2
    total = variance.sum()
    if total <= 0.0:
        return []
    order = np.argsort(-variance)
    return list(zip(order.tolist(), (variance[order] / total).tolist(), strict=True))


def _named(name: str, container: Container) -> tuple[str, str]:
    """Return what an unknown is called, and what a user can do about it."""
    if name in PRIORS:
        return PRIORS[name].label, PRIORS[name].advice
    label, _ = dimension_words(name, container)
    return f"{label}, not measured", "measure it, and give its value instead of a range"
