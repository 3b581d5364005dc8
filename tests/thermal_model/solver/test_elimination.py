"""The sparse elimination against numpy.linalg.solve, on random patterns of networks."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometries.numeric import Array
from thermal_model.solver.elimination import Elimination
from thermal_model.solver.scatter import Indices, Scatter

LANES = 5


def pattern(generator: np.random.Generator, size: int, links: int) -> tuple[Indices, Indices]:
    """A chain, so that nothing stands alone, and links anywhere, doubles and self-links included."""
    chain = np.arange(size - 1)
    first = np.concatenate([chain, generator.integers(0, size, links)])
    second = np.concatenate([chain + 1, generator.integers(0, size, links)])
    return first, second


def dense_matrices(generator: np.random.Generator, size: int, first: Indices, second: Indices) -> Array:
    """Diagonally dominant (n, size, size), unsymmetric, as the Jacobian of a network is."""
    dense = np.zeros((LANES, size, size))
    for a, b in zip(first, second, strict=True):
        if a != b:
            dense[:, a, b] = -generator.uniform(0.01, 10.0, LANES)
            dense[:, b, a] = -generator.uniform(0.01, 10.0, LANES)
    diagonal = np.abs(dense).sum(axis=1) + generator.uniform(0.01, 10.0, (LANES, size))
    dense[:, range(size), range(size)] = diagonal
    return dense


def entries_of(elimination: Elimination, dense: Array, first: Indices, second: Indices) -> Array:
    size = dense.shape[1]
    rows = np.concatenate([np.arange(size), first, second])
    columns = np.concatenate([np.arange(size), second, first])
    entries = np.zeros((elimination.entry_count, dense.shape[0]))
    entries[elimination.slots(rows, columns)] = dense[:, rows, columns].T
    return entries


@settings(max_examples=60, deadline=None)
@given(size=st.integers(1, 40), links=st.integers(0, 60), seed=st.integers(0, 2**32 - 1))
def test_solution_is_that_of_a_dense_solver(size: int, links: int, seed: int) -> None:
    generator = np.random.default_rng(seed)
    first, second = pattern(generator, size, links)
    dense = dense_matrices(generator, size, first, second)
    right = generator.normal(size=(size, LANES))
    elimination = Elimination(size, first, second)
    solution = elimination.solve(elimination.factorise(entries_of(elimination, dense, first, second)), right)
    expected = np.linalg.solve(dense, right.T[:, :, None])[:, :, 0].T
    np.testing.assert_allclose(solution, expected, rtol=1e-9, atol=1e-11 * np.abs(expected).max())


def test_lanes_are_independent_to_the_last_bit() -> None:
    generator = np.random.default_rng(3)
    first, second = pattern(generator, 25, 30)
    dense = dense_matrices(generator, 25, first, second)
    right = generator.normal(size=(25, LANES))
    elimination = Elimination(25, first, second)
    together = elimination.solve(elimination.factorise(entries_of(elimination, dense, first, second)), right)
    for k in range(LANES):
        one = entries_of(elimination, dense[k : k + 1], first, second)
        alone = elimination.solve(elimination.factorise(one), right[:, k : k + 1])
        assert np.array_equal(alone[:, 0], together[:, k])


def test_right_hand_side_is_left_alone() -> None:
    generator = np.random.default_rng(4)
    first, second = pattern(generator, 6, 3)
    elimination = Elimination(6, first, second)
    dense = dense_matrices(generator, 6, first, second)
    right = np.ones((6, LANES))
    elimination.solve(elimination.factorise(entries_of(elimination, dense, first, second)), right)
    assert np.all(right == 1.0)


@pytest.mark.parametrize("size", [50, 200])
def test_a_chain_stays_sparse(size: int) -> None:
    # A tridiagonal matrix has 3 size - 2 entries; a dense one size squared.
    chain = np.arange(size - 1)
    assert Elimination(size, chain, chain + 1).entry_count < 6 * size


def test_a_star_fills_nothing() -> None:
    # Exact: eliminate the leaves first and the hub last.
    leaves = np.arange(1, 12)
    assert Elimination(12, np.zeros(11, dtype=int), leaves).entry_count == 12 + 2 * 11


@given(targets=st.lists(st.integers(0, 6), min_size=1, max_size=30), seed=st.integers(0, 1000))
def test_scatter_sums_rows_onto_their_targets(targets: list[int], seed: int) -> None:
    rows = np.random.default_rng(seed).normal(size=(len(targets), 3))
    expected = np.zeros((7, 3))
    np.add.at(expected, np.array(targets), rows)
    np.testing.assert_allclose(Scatter.onto(np.array(targets)).sum(rows, 7), expected, rtol=1e-12, atol=1e-12)


def test_scatter_of_nothing_is_zero() -> None:
    assert np.all(Scatter.onto(np.array([], dtype=int)).sum(np.empty((0, 2)), 3) == np.zeros((3, 2)))
