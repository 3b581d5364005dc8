"""The whole posterior, by Hamiltonian Monte Carlo on the emulator; how well the chains agree is told with it."""

import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from geometries.errors import InputError, InputProblem
from geometries.numeric import Array
from thermal_model.bench.calibration.emulator import Emulator
from thermal_model.bench.calibration.fit import Fit, information, symmetric_inverse

CHAINS, TUNE, DRAWS = 4, 300, 500

FARTHEST = 7.5
"""Standard normals beyond this are as good as impossible. [-]"""

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
    emulator = Emulator(fit)
    trace = nutpie.sample(
        _turned_model(emulator),
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


class _Turned:
    """The posterior in coordinates in which it is nearly round, and which are standard normal without readings.

    Heavy tails are what a sampler finds hardest: each such coordinate is drawn as the standard normal of the same
    quantile.
    """

    def __init__(self, emulator: Emulator) -> None:
        fit = emulator.fit
        self._emulator, self._is_heavy = emulator, fit.coordinates.is_heavy
        self._centre = np.where(self._is_heavy, _normal_of_heavy(fit.x), fit.x)
        stretch = self._coordinates(self._centre)[1]
        told = stretch[:, None] * information(fit.linearised, fit.x) * stretch
        self._root = np.linalg.cholesky(symmetric_inverse(told + np.eye(len(stretch))))

    def coordinates(self, y: Array) -> Array:
        """Return the coordinates of a calibration, (p,)."""
        return self._coordinates(self._centre + self._root @ y)[0]

    def log_density(self, y: Array) -> tuple[float, Array]:
        """Return the logarithm of the posterior, but for a constant, and its gradient, (p,)."""
        normal = self._centre + self._root @ y
        x, stretch = self._coordinates(normal)
        value, gradient = self._emulator.log_likelihood(x)
        return value - 0.5 * float(normal @ normal), self._root.T @ (gradient * stretch - normal)

    def _coordinates(self, normal: Array) -> tuple[Array, Array]:
        """Return coordinates and their derivatives by standard normals, (p,)."""
        heavy, slope = heavy_of_normal(normal)
        return np.where(self._is_heavy, heavy, normal), np.where(self._is_heavy, slope, 1.0)


def heavy_of_normal(normal: Array) -> tuple[Array, Array]:
    """Return the quantile of Student's t with 4 degrees of freedom where a standard normal has it, and its slope.

    W. T. Shaw, Sampling Student's T distribution, J. Comput. Finance 9 (2006) 37-73: closed for 4 degrees of freedom.
    """
    from scipy.special import ndtr

    size = np.minimum(np.abs(normal), FARTHEST)
    tail = ndtr(-size)
    root = np.sqrt(4.0 * tail * (1.0 - tail))
    heavy = 2.0 * np.sqrt(np.maximum(np.cos(np.arccos(np.minimum(root, 1.0)) / 3.0) / root - 1.0, 0.0))
    density = 0.375 * (1.0 + 0.25 * heavy**2) ** -2.5
    slope = np.exp(-0.5 * size**2) / np.sqrt(2.0 * np.pi) / density
    return np.sign(normal) * heavy, slope


def _normal_of_heavy(heavy: Array) -> Array:
    """Return the standard normal that has the quantile of Student's t with 4 degrees of freedom."""
    from scipy.stats import norm, t

    return np.clip(norm.ppf(t.cdf(heavy, 4.0)), -FARTHEST, FARTHEST)


def _turned_model(emulator: Emulator) -> Any:
    from nutpie.compiled_pyfunc import from_pyfunc

    turned, size = _Turned(emulator), emulator.fit.coordinates.count

    def make_log_density() -> Callable[[Array], tuple[float, Array]]:
        return turned.log_density

    def make_expand(*_: int) -> Callable[[Array], dict[str, Array]]:
        return lambda y: {"x": turned.coordinates(y)}

    return from_pyfunc(
        size,
        make_log_density,
        make_expand,
        [np.dtype(np.float64)],
        [(size,)],
        ["x"],
        make_initial_point_fn=lambda seed: 0.5 * np.random.default_rng(seed).standard_normal(size),
    )
