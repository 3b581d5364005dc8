"""The whole posterior, by Hamiltonian Monte Carlo on the emulator; how well the chains agree is told with it."""

import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.errors import InputError, InputProblem
from geometries.numeric import Array
from thermal_model.bench.calibration.emulator import Emulator
from thermal_model.bench.calibration.fit import Fit

if TYPE_CHECKING:
    from thermal_model.bench.calibration.density import Density

CHAINS, TUNE, DRAWS = 4, 300, 500

CHECKED_DRAWS = 10
"""Draws at which the emulator is held against the engine."""

GOOD_R_HAT, GOOD_SIZE = 1.01, 400.0
"""Vehtari, Gelman, Simpson, Carpenter and Buerkner, Bayesian Analysis 16 (2021) 667-718."""


@dataclass(frozen=True)
class Sampled:
    """Draws of the posterior and how far to trust them.

    Attributes
    ----------
    draws : (n, p) array
    largest_r_hat : float
        Rank-normalised split R-hat of the worst coordinate.
    smallest_size : float
        Bulk effective sample size of the worst coordinate.
    divergences : int
    emulator_error : float
        Root mean square by which the emulator misses the engine at draws of the posterior, in units of the noise.
    seed : int
    """

    draws: Array
    largest_r_hat: float
    smallest_size: float
    divergences: int
    emulator_error: float
    seed: int

    @property
    def is_good(self) -> bool:
        """Whether the chains agree and are long enough."""
        return self.largest_r_hat <= GOOD_R_HAT and self.smallest_size >= GOOD_SIZE and not self.divergences


def sample(fit: Fit, seed: int, *, draws: int = DRAWS, tune: int = TUNE, chains: int = CHAINS) -> Sampled:
    """Draw from the posterior.

    Parameters
    ----------
    fit : Fit
        Where it begins, and by whose covariance it is turned round.
    seed : int
    draws, tune, chains : int
        Draws of each chain, after so many of tuning.

    Raises
    ------
    InputError
        If the sampler is not installed.
    """
    nutpie, arviz = _libraries()
    from thermal_model.bench.calibration.density import Density  # compiles

    emulator = Emulator(fit)
    trace = nutpie.sample(
        _turned_model(Density(emulator)),
        draws=draws,
        tune=tune,
        chains=chains,
        cores=chains,
        seed=seed,
        progress_bar=False,
        save_warmup=False,
    )
    found = trace.posterior["x"].values
    flat = found.reshape(-1, fit.coordinates.count)
    checked = flat[np.linspace(0, len(flat) - 1, CHECKED_DRAWS).astype(int)]
    return Sampled(
        draws=flat,
        largest_r_hat=float(arviz.rhat(trace)["x"].max()),
        smallest_size=float(arviz.ess(trace, method="bulk")["x"].min()),
        divergences=int(trace.sample_stats["diverging"].sum()),
        emulator_error=float(np.sqrt(np.nanmean(emulator.errors(checked) ** 2))),
        seed=seed,
    )


def with_sample(fit: Fit, sampled: Sampled) -> Fit:
    """Return a fit whose centre and covariance are those of the draws."""
    return replace(fit, centre=sampled.draws.mean(axis=0), spread=np.cov(sampled.draws, rowvar=False))


def _libraries() -> tuple[Any, Any]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # arviz tells of its own future
            import arviz
            import nutpie
            import nutpie.compiled_pyfunc
    except ImportError:
        message = "needs the packages nutpie and arviz; install them with: pip install 'holdtime[sampling]'"
        raise InputError(InputProblem(message, source="--sample")) from None
    return nutpie, arviz


def _turned_model(density: "Density") -> Any:
    from nutpie.compiled_pyfunc import from_pyfunc

    def make_log_density() -> Callable[[Array], tuple[float, Array]]:
        return density.log_density

    def make_expand(*_: int) -> Callable[[Array], dict[str, Array]]:
        return lambda y: {"x": density.coordinates(y)}

    return from_pyfunc(
        density.count,
        make_log_density,
        make_expand,
        [np.dtype(np.float64)],
        [(density.count,)],
        ["x"],
        make_initial_point_fn=lambda seed: 0.5 * np.random.default_rng(seed).standard_normal(density.count),
    )
