"""Calibration when the truth is another model: twice the resolution, other correlations; what the intervals still hold.

Run as `python -m tests.benchmarks.calibration_other_truth [benches]`, 60 if left out. Readings come from the network
with `refinement=2`, the films of McAdams' plates instead of Churchill and Chu's, Holman's layer of gas instead of
Hollands', Jakob's upright layer instead of ElSherbiny's, vapour that diffuses 8 % faster. The model that is fitted
knows nothing of it. Allowed: 90 % intervals hold at least 80 % of the hold times of next runs, each with a seat, fill,
pour and room of its own; the condition that no bench has seen, full and cold, is predicted within 5 % (median). From
benches that were hot and at one fill only: full, hot, cold and iced, within 7 %, and 80 % held.

W. H. McAdams, Heat Transmission, 3rd edition, 1954, ch. 7 (from memory): Nu = 0.59 Ra^1/4 or 0.13 Ra^1/3 upright,
0.54 Ra^1/4 or 0.14 Ra^1/3 over a warm plate, 0.27 Ra^1/4 under it.
"""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from unittest.mock import patch

import numpy as np

from geometries.container import Container, closed_capacity
from geometries.numeric import Array, Numeric
from tests.benchmarks.calibration_sbc import FULL, HORIZON, UNSEEN_LIMIT
from tests.published.formulas import nusselt_layer_heated_below_holman_gas, nusselt_layer_vertical_jakob
from tests.thermal_model.bench.calibration.invented import (
    Invented,
    Plan,
    bench_of,
    hot_plans,
    invent,
    random_plans,
)
from thermal_model.assemble.build import assemble
from thermal_model.bench.calibration.coordinates import (
    RUN_NAMES,
    SEATING,
    SEATING_SPREAD,
    Coordinates,
    Owner,
    seating_spread,
)
from thermal_model.bench.calibration.fit import Fit, fit
from thermal_model.bench.calibration.posterior import belief
from thermal_model.bench.calibration.response import ResponseModel
from thermal_model.follow import limit_enthalpies
from thermal_model.physics import enclosed_layers, free_convection, vapour_transport
from thermal_model.prediction import predict
from thermal_model.scenario import Scenario
from thermal_model.solver.derived import derived
from thermal_model.solver.engine import integrate
from thermal_model.solver.stepping import PlainStepper
from thermal_model.uncertainty import PRIORS, perturbed_container, perturbed_scenario
from thermal_model.unknowns import UNKNOWN_NAMES, Unknowns

REFINEMENT, DRAWS = 2, 100
FASTER_DIFFUSION = 1.08
MELTED_DENSITY = 999.8
"""Of water at 0 C [kg m-3]: ice takes the room of what it melts to."""
NEXT = "next run"


def upright_mcadams(rayleigh: Numeric, _prandtl: Numeric) -> Numeric:
    return np.maximum(0.59 * np.sqrt(np.sqrt(rayleigh)), 0.13 * np.cbrt(rayleigh))


def warm_side_up_mcadams(rayleigh: Numeric) -> Numeric:
    return np.maximum(0.54 * np.sqrt(np.sqrt(rayleigh)), 0.14 * np.cbrt(rayleigh))


def warm_side_down_mcadams(rayleigh: Numeric) -> Numeric:
    return 0.27 * np.sqrt(np.sqrt(rayleigh))


@contextmanager
def other_correlations() -> Iterator[None]:
    """The laws with other correlations, stepped by numpy: a compiled kernel would not see the change, nor would laws
    that are written down as code already."""
    diffusivity = vapour_transport.vapour_diffusivity_marrero_mason
    with (
        patch.object(free_convection, "nusselt_vertical_plate_churchill_chu", upright_mcadams),
        patch.object(free_convection, "nusselt_vertical_plate_laminar_churchill_chu", upright_mcadams),
        patch.object(free_convection, "nusselt_horizontal_plate_hot_side_up", warm_side_up_mcadams),
        patch.object(free_convection, "nusselt_horizontal_plate_hot_side_down", warm_side_down_mcadams),
        patch.object(
            enclosed_layers,
            "nusselt_layer_heated_below_hollands",
            nusselt_layer_heated_below_holman_gas,
        ),
        patch.object(
            enclosed_layers,
            "nusselt_layer_vertical_elsherbiny",
            lambda rayleigh, aspect: np.maximum(nusselt_layer_vertical_jakob(rayleigh, aspect), 1.0),
        ),
        patch.object(
            vapour_transport,
            "vapour_diffusivity_marrero_mason",
            lambda *given: FASTER_DIFFUSION * diffusivity(*given),
        ),
        patch.object(ResponseModel, "_stepper", PlainStepper),
    ):
        derived.cache_clear()
        try:
            yield
        finally:
            derived.cache_clear()


@dataclass(frozen=True)
class Prediction:
    """A hold time, true and predicted. [s]"""

    true: float
    median: float
    low: float
    high: float

    @property
    def is_inside(self) -> bool:
        return self.low <= self.true <= self.high

    @property
    def error(self) -> float:
        return abs(self.median / self.true - 1.0)


def true_hold_time(
    made: Invented, container: str, scenario: Scenario, limit: float, of_run: np.random.Generator | None
) -> float:
    """Of the other model, at the truth; with what a next run has of its own, or without."""
    coordinates = Coordinates.of_bench(made.bench)
    names, places = coordinates.belief_places(container)
    standard = {name: np.zeros(1) for name in PRIORS} | {n: made.truth[[p]] for n, p in zip(names, places, strict=True)}
    if of_run is not None:
        spread = seating_spread(float(made.truth[coordinates.place(Owner.COMMON, "", SEATING_SPREAD)]))
        for members in SEATING.values():
            moved = spread * of_run.standard_normal()
            standard |= {name: standard[name] + moved / PRIORS[name].width for name in members}
        standard |= {name: of_run.standard_normal(1) for name in RUN_NAMES}
    values = {name: prior.values(standard[name]) for name, prior in PRIORS.items()}
    unknowns = Unknowns(**{name: values[name] for name in UNKNOWN_NAMES})
    design = perturbed_container(made.bench.containers[container], values)
    network = assemble(design, perturbed_scenario(design, scenario, values), unknowns, refinement=REFINEMENT)
    found = integrate(network, limit_enthalpies(scenario, [limit], 1), np.full(1, HORIZON))
    return float(found.crossing_times[0, 0])


def predicted(found: Fit, container: str, scenario: Scenario, limit: float, true: float) -> Prediction | None:
    """What the calibrated model says of the same, None if either does not get there."""
    held = predict(
        found.problem.bench.containers[container],
        scenario,
        [limit],
        draws=DRAWS,
        horizon=HORIZON,
        belief=belief(found, container),
    ).hold_times[0]
    if held.low is None or held.median is None or held.high is None or not np.isfinite(true):
        return None
    return Prediction(true, held.median, held.low, held.high)


Question = tuple[Scenario, float]
"""What is done with a container, and the limit. [K]"""


def next_run(made: Invented, container: str) -> Question:
    """Another run like the container's first one, to a limit on its way."""
    first = next(run.scenario for run in made.bench.runs if run.container == container)
    start, room = float(first.start), float(first.room)
    return first, room + 0.6 * (start - room)


def full(container: Container, start: float, limit: float, ice_share: float = 0.0) -> Question:
    """A container filled to the lid, some of it ice."""
    room_inside = FULL * float(closed_capacity(container))
    ice = ice_share * room_inside * MELTED_DENSITY
    fill = (1.0 - ice_share) * room_inside
    changes = {"contents": "water", "fill": fill, "ice": ice, "start": start, "room": 294.15}
    return Scenario().model_copy(update=changes), limit


Asked = dict[str, Callable[[Invented, str], Question]]


def of_full(*conditions: float) -> Callable[[Invented, str], Question]:
    """A question about a full container that does not look at the bench."""
    return lambda made, container: full(made.bench.containers[container], *conditions)


STUDIES: dict[str, tuple[Callable[[np.random.Generator], list[Plan]], Asked]] = {
    "mixed benches": (random_plans, {NEXT: next_run, "unseen: full, cold": of_full(277.15, UNSEEN_LIMIT)}),
    "benches hot, at one fill": (
        hot_plans,
        {
            "unseen: full, hot": of_full(368.15, 333.15),
            "unseen: full, cold": of_full(277.15, UNSEEN_LIMIT),
            "unseen: full, iced": of_full(273.15, 278.15, 0.2),
        },
    ),
}


def one_bench(number: int, study: str, seed: int = 2) -> dict[str, Prediction | None]:
    """Invent by the other model, fit by ours, answer the study's questions about the first container."""
    generator = np.random.default_rng([seed, number])
    make_plans, asked = STUDIES[study]
    plans = make_plans(generator)
    with other_correlations():
        made = invent(bench_of(plans), seed=int(generator.integers(2**31)), refinement=REFINEMENT)
        container = next(iter(made.bench.containers))
        questions = {name: ask(made, container) for name, ask in asked.items()}
        true = {
            name: true_hold_time(made, container, *question, generator if name == NEXT else None)
            for name, question in questions.items()
        }
    found = fit(made.bench)
    return {name: predicted(found, container, *questions[name], true[name]) for name in asked}


def summary(name: str, found: list[Prediction | None]) -> str:
    """One line."""
    good = [one for one in found if one is not None]
    errors: Array = np.array([one.error for one in good])
    held = np.mean([one.is_inside for one in good])
    width = np.median([(one.high - one.low) / one.median for one in good])
    return (
        f"{name:24} {len(good):5} hold times, {held:6.1%} in 90 % intervals (their width {width:.0%}), "
        f"median error {np.median(errors):.1%}, 90 % below {np.quantile(errors, 0.9):.1%}"
    )


def main() -> None:
    """Print what is held."""
    benches = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    for study, (_, asked) in STUDIES.items():
        found = []
        for number in range(benches):
            found.append(one_bench(number, study))
            print(f"\r{number + 1} of {benches} benches", end="", file=sys.stderr, flush=True)
        print(f"\n{study}")
        for name in asked:
            print(summary(name, [one[name] for one in found]), flush=True)


if __name__ == "__main__":
    main()
