"""The whole posterior, by Hamiltonian Monte Carlo on the emulator; how well the chains agree is told with it."""

import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.errors import InputError
from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import Coordinate
from thermal_model.bench.calibration.emulator import Emulator
from thermal_model.bench.calibration.fit import NORMAL_90, Fit
from thermal_model.bench.calibration.run_faults import EXPLANATIONS
from thermal_model.solver.scatter import Indices
from thermal_model.uncertainty import INTERVAL
from thermal_model.work_done import ShareDone, part_of, parts_of

if TYPE_CHECKING:
    from thermal_model.bench.calibration.density import Density

CHAINS, TUNE, DRAWS = 4, 500, 2500

MOST_BATCHES = 3
"""How often so many draws may be taken, by new chains, until all chains agree.

It takes more where a bench can't tell which of several runs went wrong."""

ACCEPTED = 0.8
"""Share of steps that the sampler aims to accept."""

EMULATED = 0.15
"""Share of the work that making the emulator is. [-]"""

CHECKED_DRAWS = 10
"""Draws at which the emulator is held against the engine."""

MOST_DIVERGENT = 0.001
"""Share of draws that may diverge. [-]"""

ALIKE = 0.15
"""Share of the width of a 90 % interval by which its ends may differ. [-]"""

GOOD_R_HAT, GOOD_SIZE = 1.01, 400.0
"""Vehtari, Gelman, Simpson, Carpenter and Buerkner, Bayesian Analysis 16 (2021) 667-718."""


@dataclass(frozen=True)
class Sampled:
    """Draws of the posterior and how far to trust them.

    Attributes
    ----------
    draws : (n, p) array
    explained : (n, r) int array
        How the runs went.
    largest_r_hat : float
        Rank-normalised split R-hat of the worst coordinate.
    smallest_size : float
        Bulk effective sample size of the worst coordinate.
    unsettled : tuple of Coordinate
        Those beyond GOOD_R_HAT or GOOD_SIZE, the worst first.
    unlike_fit : tuple of Coordinate
        Those whose 90 % interval the fit alone misses at either end by more than ALIKE of its width, the worst first.
    divergences : int
    emulator_error : float
        Root mean square by which the emulator misses the engine at draws of the posterior, in units of the noise.
    seed : int
    """

    draws: Array
    explained: Indices
    largest_r_hat: float
    smallest_size: float
    unsettled: tuple[Coordinate, ...]
    unlike_fit: tuple[Coordinate, ...]
    divergences: int
    emulator_error: float
    seed: int

    @property
    def is_good(self) -> bool:
        """Whether the chains agree and are long enough."""
        return not self.unsettled and self.divergences < MOST_DIVERGENT * len(self.draws)


def sample(
    fit: Fit,
    seed: int,
    *,
    draws: int = DRAWS,
    tune: int = TUNE,
    chains: int = CHAINS,
    batches: int = MOST_BATCHES,
    progress: ShareDone | None = None,
) -> Sampled:
    """Draw from the posterior.

    Parameters
    ----------
    fit : Fit
        Where it begins, and by whose covariance it is turned round.
    seed : int
    draws, tune, chains : int
        Draws of each chain, after so many of tuning.
    batches : int
        How often so many chains are drawn at most, if they do not agree.
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If the sampler is not installed.
    """
    nutpie, arviz = _libraries()
    from thermal_model.bench.calibration.density import Density  # compiles

    emulator = Emulator(fit)
    density = Density(emulator)
    drawn: list[_Drawn] = []
    for part in parts_of(part_of(progress, EMULATED, 1.0), batches):
        asked = _Asked(density, chains * (draws + tune))
        settings = {"draws": draws, "tune": tune, "chains": chains, "seed": seed}
        if drawn:  # other chains need another seed
            settings["seed"] = int(np.random.SeedSequence([seed, len(drawn)]).generate_state(1)[0])
        drawn.append(_drawn(nutpie, asked, settings, part))
        found = _sampled(arviz, emulator, drawn, seed)
        if found.is_good:
            break
    if progress is not None:
        progress(1.0)
    return found


@dataclass(frozen=True)
class _Drawn:
    """A batch of c chains of n draws each: (c, n, p), (c, n, r), and how many diverged."""

    x: Array
    explained: Array
    divergences: int


def _drawn(nutpie: Any, asked: "_Asked", settings: dict[str, int], progress: ShareDone | None) -> _Drawn:
    background = nutpie.sample(
        asked.model(),
        cores=settings["chains"],
        target_accept=ACCEPTED,
        progress_bar=False,
        save_warmup=False,
        blocking=False,
        **settings,
    )
    try:
        while not _is_finished(background):
            time.sleep(0.1)
            if progress is not None:
                progress(asked.share)
    except BaseException:
        background.abort()
        raise
    trace = background.wait()
    divergences = int(trace.sample_stats["diverging"].sum())
    return _Drawn(trace.posterior["x"].values, trace.posterior["explained"].values, divergences)


def _sampled(arviz: Any, emulator: Emulator, drawn: list[_Drawn], seed: int) -> Sampled:
    """Return all batches as one, and how far to trust them."""
    fit, chains = emulator.fit, np.concatenate([batch.x for batch in drawn])
    flat = chains.reshape(-1, fit.coordinates.count)
    checked = flat[np.linspace(0, len(flat) - 1, CHECKED_DRAWS).astype(int)]
    dataset = arviz.convert_to_dataset({"x": chains})
    r_hat, size = (measure(dataset)["x"].values for measure in (arviz.rhat, arviz.ess))
    unsettled = [k for k in np.argsort(-r_hat) if r_hat[k] > GOOD_R_HAT or size[k] < GOOD_SIZE]
    return Sampled(
        draws=flat,
        explained=np.concatenate([batch.explained for batch in drawn]).reshape(len(flat), -1).astype(np.intp),
        largest_r_hat=float(r_hat.max()),
        smallest_size=float(size.min()),
        unsettled=tuple(fit.coordinates.listed[k] for k in unsettled),
        unlike_fit=tuple(fit.coordinates.listed[k] for k in _unlike(fit, flat)),
        divergences=sum(batch.divergences for batch in drawn),
        emulator_error=float(np.sqrt(np.nanmean(emulator.errors(checked) ** 2))),
        seed=seed,
    )


def _unlike(fit: Fit, draws: Array) -> Indices:
    """Return the places of the coordinates whose interval the fit alone misses, the worst first."""
    ends, deviation = _ends(draws), np.sqrt(np.diag(fit.spread))
    alone = fit.centre + NORMAL_90 * np.array([[-1.0], [1.0]]) * deviation
    missed = np.abs(alone - ends).max(axis=0) / (ends[1] - ends[0])
    worst = np.argsort(-missed)
    return np.asarray(worst[missed[worst] > ALIKE])


def _ends(draws: Array) -> Array:
    """Return the ends of the 90 % intervals, (2, p)."""
    return np.asarray(np.quantile(draws, INTERVAL, axis=0))


def with_sample(fit: Fit, sampled: Sampled) -> Fit:
    """Return a fit whose centre, covariance, intervals and explanations are those of the draws."""
    seen = np.stack([np.mean(sampled.explained == k, axis=0) for k in range(len(EXPLANATIONS))], axis=1)
    return replace(
        fit,
        centre=sampled.draws.mean(axis=0),
        spread=np.cov(sampled.draws, rowvar=False),
        ends=_ends(sampled.draws),
        explained=replace(fit.explained, probabilities=seen),
    )


def _libraries() -> tuple[Any, Any]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # arviz tells of its own future
            import arviz
            import nutpie
            import nutpie.compiled_pyfunc
    except ImportError:
        message = "needs the packages nutpie and arviz; install them with: pip install 'holdtime[sampling]'"
        raise InputError(message, source="--sample") from None
    return nutpie, arviz


def _is_finished(background: Any) -> bool:
    try:
        return bool(background.is_finished)
    except TimeoutError:  # busy
        return False


class _Asked:
    """A density as the sampler asks for it, and what share of the draws it has taken."""

    def __init__(self, density: "Density", wanted: int) -> None:
        self._density, self._wanted = density, wanted
        self._draws = 0

    @property
    def share(self) -> float:
        """Of the draws. [-]"""
        return min(self._draws / self._wanted, 1.0)

    def _drawing(self, *seeds: int) -> Callable[[Array], dict[str, Array]]:
        generator = np.random.default_rng(seeds)

        def drawn(y: Array) -> dict[str, Array]:
            self._draws += 1
            x, explained = self._density.drawn(y, generator.random(self._density.runs))
            return {"x": x, "explained": explained.astype(float)}

        return drawn

    def model(self) -> Any:
        """Return what the sampler takes."""
        from nutpie.compiled_pyfunc import from_pyfunc

        size = self._density.count
        return from_pyfunc(
            size,
            lambda: self._density.log_density,
            self._drawing,
            [np.dtype(np.float64)] * 2,
            [(size,), (self._density.runs,)],
            ["x", "explained"],
            make_initial_point_fn=lambda seed: 0.5 * np.random.default_rng(seed).standard_normal(size),
        )
