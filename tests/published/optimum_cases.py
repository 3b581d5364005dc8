"""Problems of optimisation with known optima and fronts, as published.

Hock and Schittkowski (1981), Test Examples for Nonlinear Programming Codes, problem 71, whose solution (1, 4.74299963,
3.82114998, 1.37940829) is printed with the worked example of Ipopt, rdrr.io/cran/nloptr/src/inst/tinytest/test-hs071.R;
a pressure vessel with two dimensions in steps of 1/16 in, whose least cost 6059.714335 Yang et al. (2013), Int. J.
Bio-Inspired Computation 5(6), 329-335 (arXiv 1403.7793) prove. From memory: Michalewicz and Schoenauer (1996),
Evolutionary Computation 4, problems G6 and G8 with their best known values; Zitzler, Deb and Thiele (2000),
Evolutionary Computation 8: ZDT1, ZDT2 and ZDT3; Binh and Korn (1997): two circles; Dixon and Szego (1978): the Branin
function, 0.397887. The fronts are recomputed from their closed forms.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array
from thermal_model.study.optimum.problem import Candidates, Slopes, Values

Formula = Callable[[Array, NDArray[np.int64]], tuple[list[Array], list[Array]]]
"""From (n, p) numbers and (n, q) choices to objectives and misses, (n,) each."""


@dataclass(frozen=True)
class FormulaProblem:
    """A problem of formulas; slopes by central differences, good to about 1e-9 of the function's size."""

    low: tuple[float, ...]
    high: tuple[float, ...]
    formula: Formula
    choices: tuple[int, ...] = ()
    cheap: bool = True
    accuracy: float = 1e-8

    @property
    def dimensions(self) -> int:
        return len(self.low)

    @cached_property
    def size(self) -> tuple[int, int]:
        one = Candidates(np.full((1, self.dimensions), 0.5), np.zeros((1, len(self.choices)), dtype=np.int64))
        values = self.values(one)
        return values.objectives.shape[1], values.misses.shape[1]

    @property
    def is_cheap(self) -> NDArray[np.bool_]:
        return np.full(self.size[1], self.cheap)

    def numbers(self, shares: Array) -> Array:
        low = np.array(self.low)
        return low + (np.array(self.high) - low) * shares

    def cheap_misses(self, points: Candidates) -> Array:
        misses = self.values(points).misses
        return misses if self.cheap else np.zeros_like(misses)

    def values(self, points: Candidates) -> Values:
        objectives, misses = self.formula(self.numbers(points.shares), points.kinds)
        return Values(np.column_stack(objectives), np.column_stack(misses) if misses else np.empty((points.count, 0)))

    def slopes(self, points: Candidates) -> Slopes:
        steps = 1e-6 * np.eye(self.dimensions)
        up, down = (
            [self.values(Candidates(points.shares + sign * step, points.kinds)) for step in steps]
            for sign in (1.0, -1.0)
        )
        objectives, misses = (
            np.stack([(getattr(u, name) - getattr(d, name)) / 2e-6 for u, d in zip(up, down, strict=True)], axis=2)
            for name in ("objectives", "misses")
        )
        return Slopes(self.values(points), objectives, misses)


def _hs71(x: Array, _: NDArray[np.int64]) -> tuple[list[Array], list[Array]]:
    a, b, c, d = x.T
    return [a * d * (a + b + c) + c], [25.0 - a * b * c * d, a**2 + b**2 + c**2 + d**2 - 40.0]


def _g6(x: Array, _: NDArray[np.int64]) -> tuple[list[Array], list[Array]]:
    a, b = x.T
    return (
        [(a - 10.0) ** 3 + (b - 20.0) ** 3],
        [100.0 - (a - 5.0) ** 2 - (b - 5.0) ** 2, (a - 6.0) ** 2 + (b - 5.0) ** 2 - 82.81],
    )


def _g8(x: Array, _: NDArray[np.int64]) -> tuple[list[Array], list[Array]]:
    a, b = x.T
    wave = np.sin(2.0 * np.pi * a) ** 3 * np.sin(2.0 * np.pi * b)
    return [-wave / (a**3 * (a + b))], [a**2 - b + 1.0, 1.0 - a + (b - 4.0) ** 2]


def _branin(x: Array, _: NDArray[np.int64]) -> tuple[list[Array], list[Array]]:
    a, b = x.T
    bowl = b - 5.1 / (4.0 * np.pi**2) * a**2 + 5.0 / np.pi * a - 6.0
    return [bowl**2 + 10.0 * (1.0 - 1.0 / (8.0 * np.pi)) * np.cos(a) + 10.0], []


def _vessel(x: Array, kinds: NDArray[np.int64]) -> tuple[list[Array], list[Array]]:
    """Shell and head thicknesses in steps of 1/16 in, radius and length continuous; the tank holds 1 296 000 in3."""
    radius, length = x.T
    shell, head = 0.0625 * (1.0 + kinds.T)
    cost = 0.6224 * shell * radius * length + 1.7781 * head * radius**2
    cost = cost + 3.1661 * shell**2 * length + 19.84 * shell**2 * radius
    volume = np.pi * radius**2 * length + 4.0 / 3.0 * np.pi * radius**3
    return [cost], [0.0193 * radius - shell, 0.00954 * radius - head, 1.0 - volume / 1_296_000.0, length / 240.0 - 1.0]


OPTIMA: dict[str, tuple[FormulaProblem, float]] = {
    "HS71": (FormulaProblem((1.0,) * 4, (5.0,) * 4, _hs71), 17.0140173),
    "G6": (FormulaProblem((13.0, 0.0), (100.0, 100.0), _g6), -6961.81388),
    "G8": (FormulaProblem((0.1, 0.1), (10.0, 10.0), _g8), -0.095825),
    "Branin": (FormulaProblem((-5.0, 0.0), (10.0, 15.0), _branin), 0.397887),
    "pressure vessel": (FormulaProblem((10.0, 10.0), (200.0, 200.0), _vessel, (99, 99)), 6059.714335),
}
"""Optimisable and its best known value."""


def _zdt(shape: Callable[[Array, Array], Array]) -> Formula:
    def formula(x: Array, _: NDArray[np.int64]) -> tuple[list[Array], list[Array]]:
        first, g = x[:, 0], 1.0 + 9.0 * x[:, 1:].mean(axis=1)
        return [g * shape(first, g), first], []

    return formula


def _circles(x: Array, _: NDArray[np.int64]) -> tuple[list[Array], list[Array]]:
    a, b = x.T
    return (
        [4.0 * a**2 + 4.0 * b**2, (a - 5.0) ** 2 + (b - 5.0) ** 2],
        [((a - 5.0) ** 2 + b**2) / 25.0 - 1.0, 1.0 - ((a - 8.0) ** 2 + (b + 3.0) ** 2) / 7.7],
    )


_LINE = np.linspace(0.0, 1.0, 20001)


def _circles_front() -> Array:
    a = np.append(np.linspace(0.0, 3.0, 5001), np.linspace(3.0, 5.0, 5001))
    b = np.where(a < 3.0, a, 3.0)
    return np.column_stack([4.0 * a**2 + 4.0 * b**2, (a - 5.0) ** 2 + (b - 5.0) ** 2])


def _unit(width: int, shape: Callable[[Array, Array], Array]) -> FormulaProblem:
    return FormulaProblem((0.0,) * width, (1.0,) * width, _zdt(shape))


_SHAPES: dict[str, Callable[[Array, Array], Array]] = {
    "ZDT1": lambda f, g: 1.0 - np.sqrt(np.maximum(f, 1e-12) / g),
    "ZDT2": lambda f, g: 1.0 - (f / g) ** 2,
    "ZDT3": lambda f, g: 1.0 - np.sqrt(np.maximum(f, 1e-12) / g) - f / g * np.sin(10.0 * np.pi * f),
}

FRONTS: dict[str, tuple[FormulaProblem, Array, tuple[float, float]]] = {
    name: (_unit(8, shape), np.column_stack([shape(_LINE, np.ones_like(_LINE)), _LINE]), (1.1, 1.1))
    for name, shape in _SHAPES.items()
} | {"two circles": (FormulaProblem((0.0, 0.0), (5.0, 3.0), _circles), _circles_front(), (140.0, 52.0))}
"""Optimisable, points of its front (among others that are beaten), and the corner its volume is measured from."""


def hypervolume(values: Array, corner: tuple[float, float]) -> float:
    """Area between points of two objectives, both to be small, and a corner."""
    inside = values[(values < corner).all(axis=1)]
    inside = inside[np.argsort(inside[:, 0], kind="stable")]
    lowest = np.minimum.accumulate(inside[:, 1])
    right = np.append(inside[1:, 0], corner[0])
    return float(((right - inside[:, 0]) * (corner[1] - lowest)).sum())
