"""The logarithm of the posterior and its gradient as compiled loops over plain arrays."""

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from geometries.numeric import Array
from thermal_model.solver.scatter import Indices

FARTHEST = 7.5
"""Standard normals beyond this are as good as impossible. [-]"""

REACH, PIECES = 7, 8
"""Standard normals over which quantiles are tabulated, and pieces for each. [-]"""

compiled = njit(nogil=True, error_model="numpy")


class Sparse(NamedTuple):
    """A sparse matrix, row by row."""

    begin: Indices
    column: Indices
    value: Array


class Pressures(NamedTuple):
    """How c gap pressures are drawn: from v, the way of a normal posterior, to their standard normals z(v).

    Attributes
    ----------
    place : (c,)
        Among the coordinates.
    peak, deviation : (c,)
        Of the normal posterior.
    quantiles : (c, q, 4)
        Cubic pieces of z over v / deviation, from -REACH on in steps of 1 / PIECES.
    moves : (c, p)
        How other coordinates move with the excess of the pressure over its peak.
    """

    place: Indices
    peak: Array
    deviation: Array
    quantiles: Array
    moves: Sparse


class Tables(NamedTuple):
    """All that the density is made of, as arrays: p coordinates, r runs, s seated unknowns, m rows of evidence.

    Attributes
    ----------
    centre, root
        Coordinates as standard normals are `centre + root @ y`.
    is_heavy : (p,)
    pressures : Pressures
    pressure_width : float
        Of the logarithm of a pressure.
    places : (r, 20)
        Of each run's unknowns among the coordinates.
    seated, seat_width : (s,)
        Columns of the unknowns that a seat moves, and the widths of their priors.
    seats : (r, s)
        Places of the seats that move them.
    spread_place, typical_seating, seating_width
        Of how differently lids seat.
    about : (r, 20)
        Where the polynomials are centred.
    growth : (20,)
        Rates of the unknowns that count by their factor.
    first, second, terms, coefficients
        The polynomials: columns (r, f), their number (r,), (r, f, k).
    row_begin : (r + 1,)
        First row of evidence of each run; what follows the last is about probes.
    base, direct, shown, scale, side : (m,), (m, p) ...
        As in the emulator and its evidence.
    freedom : float
        Of the noise.
    """

    centre: Array
    root: Sparse
    is_heavy: NDArray[np.bool_]
    pressures: Pressures
    pressure_width: float
    places: Indices
    seated: Indices
    seat_width: Array
    seats: Indices
    spread_place: int
    typical_seating: float
    seating_width: float
    about: Array
    growth: Array
    first: Indices
    second: Indices
    terms: Indices
    coefficients: Array
    row_begin: Indices
    base: Array
    direct: Sparse
    shown: Array
    scale: Array
    side: Indices
    freedom: float


@compiled
def _pressure(pressures: Pressures, number: int, way: float) -> tuple[float, float, float]:
    """Return a pressure's standard normal, and its first and second derivative by the way; straight beyond REACH."""
    standard = way / pressures.deviation[number]
    inside = min(max(standard, -REACH), REACH)
    piece = min(int((inside + REACH) * PIECES), pressures.quantiles.shape[1] - 1)
    x, (a, b, c, d) = inside + REACH - piece / PIECES, pressures.quantiles[number, piece]
    slope, bend = (3.0 * a * x + 2.0 * b) * x + c, 6.0 * a * x + 2.0 * b
    value = ((a * x + b) * x + c) * x + d + slope * (standard - inside)
    if standard != inside:
        bend = 0.0
    return value, slope / pressures.deviation[number], bend / pressures.deviation[number] ** 2


@compiled
def heavy_of_normal(normal: float) -> tuple[float, float]:
    """Return the quantile of Student's t with 4 degrees of freedom where a standard normal has it, and its slope.

    W. T. Shaw, Sampling Student's T distribution, J. Comput. Finance 9 (2006) 37-73: closed for 4 degrees of freedom.
    """
    size = min(abs(normal), FARTHEST)
    tail = 0.5 * math.erfc(size / math.sqrt(2.0))
    root = math.sqrt(4.0 * tail * (1.0 - tail))
    heavy = 2.0 * math.sqrt(max(math.cos(math.acos(min(root, 1.0)) / 3.0) / root - 1.0, 0.0))
    width = 1.0 + 0.25 * heavy**2
    density = 0.375 / (width**2 * math.sqrt(width))
    slope = math.exp(-0.5 * size**2) / math.sqrt(2.0 * math.pi) / density
    return math.copysign(heavy, normal), slope


@compiled
def of_normals(normal: Array, is_heavy: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Return coordinates and their derivatives by standard normals, (p,)."""
    x, stretch = normal.copy(), np.ones(len(normal))
    for k in range(len(normal)):
        if is_heavy[k]:
            x[k], stretch[k] = heavy_of_normal(normal[k])
    return x, stretch


@compiled
def _standard(tables: Tables, y: Array) -> Array:
    normal = tables.centre.copy()
    root = tables.root
    for k in range(len(normal)):
        for entry in range(root.begin[k], root.begin[k + 1]):
            normal[k] += root.value[entry] * y[root.column[entry]]
    pressures, width = tables.pressures, tables.pressure_width
    for number in range(len(pressures.place)):
        place, moves = pressures.place[number], pressures.moves
        way = normal[place] - pressures.peak[number]
        normal[place], _, _ = _pressure(pressures, number, way)
        beyond = math.expm1(width * (normal[place] - pressures.peak[number])) / width - way
        for entry in range(moves.begin[number], moves.begin[number + 1]):
            normal[moves.column[entry]] += moves.value[entry] * beyond
    return normal


@compiled
def _by_way(tables: Tables, normal: Array, y: Array, by_normal: Array) -> float:
    """Turn derivatives by standard normals into those by the ways; return the logarithm of the volume they take."""
    pressures, width, root = tables.pressures, tables.pressure_width, tables.root
    logarithm = 0.0
    for number in range(len(pressures.place)):
        place, moves, way = pressures.place[number], pressures.moves, 0.0
        for entry in range(root.begin[place], root.begin[place + 1]):
            way += root.value[entry] * y[root.column[entry]]
        _, slope, bend = _pressure(pressures, number, way)
        along = 0.0
        for entry in range(moves.begin[number], moves.begin[number + 1]):
            along += moves.value[entry] * by_normal[moves.column[entry]]
        growth = math.exp(width * (normal[place] - pressures.peak[number])) * slope - 1.0
        by_normal[place] = by_normal[place] * slope + along * growth + bend / slope
        logarithm += math.log(slope)
    return logarithm


@compiled
def coordinates_of(tables: Tables, y: Array) -> tuple[Array, Array]:
    """Return the coordinates of a calibration at turned ones, and their derivatives by standard normals, (p,)."""
    return of_normals(_standard(tables, y), tables.is_heavy)


@compiled
def log_side(distance: float) -> float:
    """Return the logarithm of the normal probability to stand below a distance."""
    if distance < -30.0:  # Abramowitz and Stegun 26.2.12
        return -0.5 * distance**2 - math.log(-distance * math.sqrt(2.0 * math.pi)) - 1.0 / distance**2
    return math.log(0.5 * math.erfc(-min(distance, 8.0) / math.sqrt(2.0)))


@compiled
def _loss(distance: float, side: int, freedom: float) -> tuple[float, float]:
    """Return minus the logarithm of the likelihood of one row, but for a constant, and its derivative."""
    if side == 0:
        value = 0.5 * (freedom + 1.0) * math.log1p(distance**2 / freedom)
        return value, (freedom + 1.0) * distance / (freedom + distance**2)
    beyond = side * distance
    logarithm = log_side(beyond)
    density = math.exp(-0.5 * beyond**2 - logarithm) / math.sqrt(2.0 * math.pi)
    return -logarithm, -side * density


@compiled
def _away(tables: Tables, x: Array, run: int, spread: float, away: Array) -> None:
    """Set how far a run's unknowns are from the centre, in what temperatures are nearly polynomials of."""
    unknowns = len(tables.growth)
    for k in range(unknowns):
        away[k] = x[tables.places[run, k]] - tables.about[run, k]
    for k in range(len(tables.seated)):
        away[tables.seated[k]] += spread * x[tables.seats[run, k]] / tables.seat_width[k]
    for k in range(unknowns):
        rate = tables.growth[k]
        if rate > 0.0:
            away[k] = math.expm1(min(max(rate * away[k], -50.0), 8.0)) / rate
    away[unknowns] = 1.0


@compiled
def _row(tables: Tables, x: Array, row: int, from_network: float, gradient: Array) -> tuple[float, float]:
    """Return loss and pull of one row; what acts on it directly is added to the gradient by the coordinates."""
    shown, direct = tables.base[row] + from_network, tables.direct
    for entry in range(direct.begin[row], direct.begin[row + 1]):
        shown += direct.value[entry] * x[direct.column[entry]]
    loss, slope = _loss((shown - tables.shown[row]) / tables.scale[row], tables.side[row], tables.freedom)
    pull = slope / tables.scale[row]
    for entry in range(direct.begin[row], direct.begin[row + 1]):
        gradient[direct.column[entry]] -= pull * direct.value[entry]
    return loss, pull


@compiled
def _run(tables: Tables, x: Array, run: int, spread: float, gradient: Array) -> float:
    """Return the loss of a run's rows; their pull on its unknowns is added to the gradient by the coordinates."""
    unknowns = len(tables.growth)
    away, by_away = np.empty(unknowns + 1), np.zeros(unknowns + 1)
    _away(tables, x, run, spread, away)
    begin, end = tables.row_begin[run], tables.row_begin[run + 1]
    from_network = np.zeros(end - begin)
    first, second, coefficients = tables.first[run], tables.second[run], tables.coefficients[run]
    for term in range(tables.terms[run]):
        feature = away[first[term]] * away[second[term]]
        for k in range(end - begin):
            from_network[k] += feature * coefficients[term, k]
    loss, pull = 0.0, np.empty(end - begin)
    for k in range(end - begin):
        part, pull[k] = _row(tables, x, begin + k, from_network[k], gradient)
        loss += part
    for term in range(tables.terms[run]):
        by_feature = 0.0
        for k in range(end - begin):
            by_feature += pull[k] * coefficients[term, k]
        by_away[first[term]] += by_feature * away[second[term]]
        by_away[second[term]] += by_feature * away[first[term]]
    for k in range(unknowns):
        by_away[k] *= 1.0 + tables.growth[k] * away[k]
        gradient[tables.places[run, k]] -= by_away[k]
    for k in range(len(tables.seated)):
        by_seat = by_away[tables.seated[k]] * spread / tables.seat_width[k]
        gradient[tables.seats[run, k]] -= by_seat
        gradient[tables.spread_place] -= tables.seating_width * by_seat * x[tables.seats[run, k]]
    return loss


@compiled
def log_density(tables: Tables, y: Array, gradient: Array) -> float:
    """Return the logarithm of the density at turned coordinates; the gradient by them is set."""
    normal = _standard(tables, y)
    x, stretch = of_normals(normal, tables.is_heavy)
    by_coordinate = np.zeros(len(x))
    spread = tables.typical_seating * math.exp(tables.seating_width * x[tables.spread_place])
    loss, runs = 0.0, len(tables.places)
    for run in range(runs):
        loss += _run(tables, x, run, spread, by_coordinate)
    for row in range(tables.row_begin[runs], len(tables.shown)):
        loss += _row(tables, x, row, 0.0, by_coordinate)[0]
    for k in range(len(x)):
        loss += 0.5 * normal[k] ** 2
        by_coordinate[k] = by_coordinate[k] * stretch[k] - normal[k]
    loss -= _by_way(tables, normal, y, by_coordinate)
    root = tables.root
    gradient[:] = 0.0
    for k in range(len(x)):
        for entry in range(root.begin[k], root.begin[k + 1]):
            gradient[root.column[entry]] += root.value[entry] * by_coordinate[k]
    return -loss
