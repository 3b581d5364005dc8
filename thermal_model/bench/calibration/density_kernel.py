"""The logarithm of the posterior and its gradient as compiled loops over plain arrays."""

import math
from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar, cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

from geometries.numeric import Array
from thermal_model.solver.scatter import Indices

BEND_REACH = 4.0
"""A bend is followed about so far, in standard deviations before any reading. [-]"""

AT_ONCE = 16
FARTHEST_SQUARE = 1e16
"""Readings whose distances are multiplied before a logarithm is taken, and the square of the farthest one [-]: so that
no product is too large for a float."""

LEAST_FACTOR = 0.05
"""An emissivity's share of its most probable value below which it is as good as impossible. [-]"""

REACH, PIECES = 7, 8
"""Standard normals over which quantiles are tabulated, and pieces for each. [-]"""

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """Compile a function; the machine code is kept, since compiling takes longer than a small sample."""
    try:
        return cast("Function", njit(nogil=True, error_model="numpy", cache=True)(function))
    except RuntimeError:  # no folder can be written to
        return cast("Function", njit(nogil=True, error_model="numpy")(function))


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
    partner, about, trade : (c,)
        Place of the emissivity of the same gap, where its factor is counted from, and how that factor moves with the
        excess: gas and radiation lead heat side by side.
    partner_width : float
        Of the logarithm of an emissivity.
    """

    place: Indices
    peak: Array
    deviation: Array
    quantiles: Array
    moves: Sparse
    partner: Indices
    about: Array
    trade: Array
    partner_width: float


class Seats(NamedTuple):
    """How q seats are drawn: what each does is known from readings and from how differently lids usually seat.

    Attributes
    ----------
    place, column : (q,)
        Among the coordinates, and of y.
    deviation : (q,)
        Of the normal posterior, what is eliminated later given.
    told : (q,)
        What readings then tell of a seat, in units of what is known before any.
    moves : (q, p)
        How what is eliminated earlier moves with what a seat does.
    """

    place: Indices
    column: Indices
    deviation: Array
    told: Array
    moves: Sparse


class Bends(NamedTuple):
    """How what the readings know well follows what they hardly know, beyond a straight line: f products of two ways.

    Attributes
    ----------
    first, second : (f,)
        Places of the two coordinates; none of them is moved itself, so that no volume changes.
    about_first, about_second : (f,)
        Where they are counted from.
    rate_first, rate_second : (f,)
        Of those that count by their factor: pressures.
    moves : (f, p)
    """

    first: Indices
    second: Indices
    about_first: Array
    about_second: Array
    rate_first: Array
    rate_second: Array
    moves: Sparse


class Faults(NamedTuple):
    """How r runs may have gone: s explanations of each, and what its four effects are under each.

    Under explanation s the effects are `peak + missing @ follow + root @ y`, with `missing` what the rows show less
    without them than at the most probable point, and y the coordinates that are theirs alone: so the posterior is
    nearly the same ball under each of them, however the network bends.

    Attributes
    ----------
    place, column : (r, 4)
        Of the effects among the coordinates, and of y.
    peak : (r, s, 4)
        The most probable effects, everything else as at the most probable point.
    root : (r, s, 4, 4)
        Of their covariance.
    follow : (m, s, 4)
        How they move with what is missing in the rows. [K-1]
    plain : (m,)
        What the rows show at the most probable point without any effect. [K]
    logarithm : (r, s)
        Of the share of runs, over the widths, and with the volume that the effects take.
    precision : (r, s, 4)
        Of the effects, before any reading.
    by_effect : (m, 3)
        Derivatives of the rows by the effects that act directly: all but the start. [K]
    start : int
        Column of the start among the unknowns of a run's network.
    """

    place: Indices
    column: Indices
    peak: Array
    root: Array
    follow: Array
    plain: Array
    logarithm: Array
    precision: Array
    by_effect: Array
    start: int


class Tables(NamedTuple):
    """All that the density is made of, as arrays: p coordinates, r runs, s seated unknowns, m rows of evidence.

    Attributes
    ----------
    centre, root
        Coordinates are `centre + root @ y`.
    is_effect : (p,)
        Whether a coordinate is an effect of a run that something going wrong makes large; those follow from `faults`.
    pressures : Pressures
    pressure_width : float
        Of the logarithm of a pressure.
    bends : Bends
    sat : Seats
    faults : Faults
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
        The polynomials: columns (r, f), their number (r,), (r, f, k); straight in the start.
    row_begin : (r + 1,)
        First row of evidence of each run; what follows the last is about probes.
    base, offsets, shown, scale, side : (m,), (m, p) ...
        As in the emulator and its evidence; of what acts directly the offsets of probes.
    freedom : float
        Of the noise.
    """

    centre: Array
    root: Sparse
    is_effect: NDArray[np.bool_]
    pressures: Pressures
    pressure_width: float
    bends: Bends
    sat: Seats
    faults: Faults
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
    offsets: Sparse
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
def _logarithm(value: float) -> tuple[float, float, float]:
    """Return a logarithm, straight below LEAST_FACTOR, its derivative, and that of the latter's logarithm."""
    if value > LEAST_FACTOR:
        return math.log(value), 1.0 / value, -1.0 / value
    return math.log(LEAST_FACTOR) + value / LEAST_FACTOR - 1.0, 1.0 / LEAST_FACTOR, 0.0


@compiled
def _partner_factor(pressures: Pressures, number: int, normal: Array, way: float) -> float:
    """Return the factor of an emissivity before it trades with the pressure of its gap."""
    away = normal[pressures.partner[number]] - pressures.about[number] - pressures.trade[number] * way
    return math.exp(min(max(pressures.partner_width * away, -50.0), 50.0))


@compiled
def coordinates_of(tables: Tables, y: Array) -> tuple[Array, Array, Array]:
    """Return the coordinates of a calibration at turned ones, (p,); the effects of runs are still missing.

    And the factors of emissivities before they trade with pressures, (c,), and what seats are expected to be, (q,).
    """
    normal = tables.centre.copy()
    factors, means = np.empty(len(tables.pressures.place)), np.empty(len(tables.sat.place))
    root = tables.root
    for k in range(len(normal)):
        for entry in range(root.begin[k], root.begin[k + 1]):
            normal[k] += root.value[entry] * y[root.column[entry]]
    pressures, width = tables.pressures, tables.pressure_width
    for number in range(len(pressures.place)):
        place, moves = pressures.place[number], pressures.moves
        way = normal[place] - pressures.peak[number]
        normal[place], _, _ = _pressure(pressures, number, way)
        excess = math.expm1(width * (normal[place] - pressures.peak[number])) / width
        for entry in range(moves.begin[number], moves.begin[number + 1]):
            normal[moves.column[entry]] += moves.value[entry] * (excess - way)
        factors[number] = _partner_factor(pressures, number, normal, way)
        left = factors[number] + pressures.partner_width * pressures.trade[number] * excess
        partner = pressures.partner[number]
        normal[partner] = pressures.about[number] + _logarithm(left)[0] / pressures.partner_width
    sat, width = tables.sat, tables.seating_width
    wider = width * (normal[tables.spread_place] - tables.centre[tables.spread_place])
    for number in range(len(sat.place)):
        k = len(sat.place) - 1 - number  # what is eliminated earlier moves with what is eliminated later
        place, own = sat.place[k], sat.deviation[k] * y[sat.column[k]]
        share = (sat.told[k] + 1.0) / (sat.told[k] + math.exp(-2.0 * wider))
        does = share * (normal[place] - own) + math.sqrt(share) * own
        for entry in range(sat.moves.begin[k], sat.moves.begin[k + 1]):
            normal[sat.moves.column[entry]] += sat.moves.value[entry] * (does - normal[place])
        means[k] = normal[place] - own
        normal[place] = does * math.exp(-wider)
    bends = tables.bends
    for number in range(len(bends.first)):
        value = _reach(normal[bends.first[number]] - bends.about_first[number], bends.rate_first[number])[0]
        value *= _reach(normal[bends.second[number]] - bends.about_second[number], bends.rate_second[number])[0]
        for entry in range(bends.moves.begin[number], bends.moves.begin[number + 1]):
            normal[bends.moves.column[entry]] += bends.moves.value[entry] * value
    return normal, factors, means


@compiled
def _by_seats(tables: Tables, normal: Array, means: Array, y: Array, by_normal: Array, by_y: Array) -> float:
    """Turn derivatives by seats into those by what is drawn for them; return the logarithm of the volume they take."""
    sat, width, spread_place, logarithm = tables.sat, tables.seating_width, tables.spread_place, 0.0
    wider = width * (normal[spread_place] - tables.centre[spread_place])
    for k in range(len(sat.place)):
        place, own = sat.place[k], sat.deviation[k] * y[sat.column[k]]
        unknown = math.exp(-2.0 * wider)
        share = (sat.told[k] + 1.0) / (sat.told[k] + unknown)
        by_share = 2.0 * width * share * unknown / (sat.told[k] + unknown)
        along = 0.0
        for entry in range(sat.moves.begin[k], sat.moves.begin[k + 1]):
            along += sat.moves.value[entry] * by_normal[sat.moves.column[entry]]
        by_seat = by_normal[place]
        by_what = by_seat * math.exp(-wider) + along
        by_y[sat.column[k]] += sat.deviation[k] * (math.sqrt(share) - share) * by_what
        by_normal[spread_place] += by_what * by_share * (means[k] + 0.5 * own / math.sqrt(share))
        by_normal[spread_place] += 0.5 * by_share / share - width * (by_seat * normal[place] + 1.0)
        by_normal[place] = by_what * share - along
        logarithm += 0.5 * math.log(share) - wider
    return logarithm


@compiled
def _reach(way: float, rate: float) -> tuple[float, float]:
    """Return a way, or that of its factor, that ends at BEND_REACH, and its derivative."""
    slope = 1.0
    if rate > 0.0:
        slope = math.exp(min(rate * way, 20.0))
        way = (slope - 1.0) / rate
    share = math.tanh(way / BEND_REACH)
    return BEND_REACH * share, (1.0 - share**2) * slope


@compiled
def _by_bends(bends: Bends, normal: Array, by_normal: Array) -> None:
    """Add the derivatives by way of what moves along."""
    for number in range(len(bends.first)):
        along = 0.0
        for entry in range(bends.moves.begin[number], bends.moves.begin[number + 1]):
            along += bends.moves.value[entry] * by_normal[bends.moves.column[entry]]
        one, other = bends.first[number], bends.second[number]
        first, by_first = _reach(normal[one] - bends.about_first[number], bends.rate_first[number])
        second, by_second = _reach(normal[other] - bends.about_second[number], bends.rate_second[number])
        by_normal[one] += along * by_first * second
        by_normal[other] += along * first * by_second


@compiled
def _by_way(tables: Tables, normal: Array, factors: Array, y: Array, by_normal: Array) -> float:
    """Turn derivatives by standard normals into those by the ways; return the logarithm of the volume they take."""
    pressures, width, root = tables.pressures, tables.pressure_width, tables.root
    logarithm = 0.0
    for number in range(len(pressures.place)):
        place, moves, way = pressures.place[number], pressures.moves, 0.0
        for entry in range(root.begin[place], root.begin[place + 1]):
            way += root.value[entry] * y[root.column[entry]]
        _, slope, bend = _pressure(pressures, number, way)
        growth = math.exp(width * (normal[place] - pressures.peak[number])) * slope
        partner, trade, rate = pressures.partner[number], pressures.trade[number], pressures.partner_width
        excess = math.expm1(width * (normal[place] - pressures.peak[number])) / width
        factor = factors[number]
        _, by_left, turned = _logarithm(factor + rate * trade * excess)
        by_partner, more = by_normal[partner], growth - factor
        by_normal[partner] = by_partner * by_left * factor + rate * (1.0 + turned * factor)
        along = trade * (by_partner * by_left * more + rate * (turned * more - 1.0))
        logarithm += math.log(by_left * factor)
        for entry in range(moves.begin[number], moves.begin[number + 1]):
            along += moves.value[entry] * by_normal[moves.column[entry]] * (growth - 1.0)
        by_normal[place] = by_normal[place] * slope + along + bend / slope
        logarithm += math.log(slope)
    return logarithm


@compiled
def log_side(distance: float) -> float:
    """Return the logarithm of the normal probability to stand below a distance."""
    if distance < -30.0:  # Abramowitz and Stegun 26.2.12
        return -0.5 * distance**2 - math.log(-distance * math.sqrt(2.0 * math.pi)) - 1.0 / distance**2
    return math.log(0.5 * math.erfc(-min(distance, 8.0) / math.sqrt(2.0)))


@compiled
def _losses(tables: Tables, begin: int, shown: Array, pull: Array) -> float:
    """Return minus the logarithm of the likelihood of some rows, but for a constant; its derivatives are set. [K-1]"""
    loss, product, freedom = 0.0, 1.0, tables.freedom
    for k in range(len(shown)):
        row = begin + k
        distance, side = (shown[k] - tables.shown[row]) / tables.scale[row], tables.side[row]
        if side == 0:
            square = min(distance**2, FARTHEST_SQUARE)
            product *= 1.0 + square / freedom
            pull[k] = (freedom + 1.0) * distance / (freedom + square) / tables.scale[row]
        else:
            beyond = side * distance
            logarithm = log_side(beyond)
            density = math.exp(-0.5 * beyond**2 - logarithm) / math.sqrt(2.0 * math.pi)
            loss -= logarithm
            pull[k] = -side * density / tables.scale[row]
        if k % AT_ONCE == AT_ONCE - 1:
            loss += 0.5 * (freedom + 1.0) * math.log(product)
            product = 1.0
    return loss + 0.5 * (freedom + 1.0) * math.log(product)


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
def _offset(tables: Tables, x: Array, row: int) -> float:
    """Return what a row shows if nothing else acts than the offsets of probes. [K]"""
    shown, offsets = tables.base[row], tables.offsets
    for entry in range(offsets.begin[row], offsets.begin[row + 1]):
        shown += offsets.value[entry] * x[offsets.column[entry]]
    return shown


@compiled
def _from_network(tables: Tables, run: int, away: Array, shown: Array, by_start: Array) -> None:
    """Add what a run's network makes of its unknowns, and of a unit of the start, to its rows. [K]"""
    start, coefficients = tables.faults.start, tables.coefficients[run]
    for term in range(tables.terms[run]):
        first, second = tables.first[run, term], tables.second[run, term]
        if first == start or second == start:
            feature = away[second] if first == start else away[first]
            for k in range(len(shown)):
                by_start[k] += feature * coefficients[term, k]
        else:
            feature = away[first] * away[second]
            for k in range(len(shown)):
                shown[k] += feature * coefficients[term, k]


@compiled
def _by_network(tables: Tables, run: int, away: Array, pull: Array, start_pull: Array) -> Array:
    """Return the derivatives of a run's loss by its unknowns, the start left out, from those by its rows."""
    start, coefficients = tables.faults.start, tables.coefficients[run]
    by_away = np.zeros(len(away))
    for term in range(tables.terms[run]):
        first, second, by_feature = tables.first[run, term], tables.second[run, term], 0.0
        if first == start or second == start:
            for k in range(len(pull)):
                by_feature += start_pull[k] * coefficients[term, k]
            by_away[second if first == start else first] += by_feature
        else:
            for k in range(len(pull)):
                by_feature += pull[k] * coefficients[term, k]
            by_away[first] += by_feature * away[second]
            by_away[second] += by_feature * away[first]
    by_away[start] = 0.0
    return by_away


@compiled
def _missing(faults: Faults, begin: int, plain: Array) -> Array:
    """Return what a run's rows show less than at the most probable point, effects apart, (k,). [K]"""
    missing = np.empty(len(plain))
    for k in range(len(plain)):
        missing[k] = faults.plain[begin + k] - plain[k]
    return missing


@compiled
def _effects(faults: Faults, missing: Array, begin: int, y: Array, run: int, explanation: int, effect: Array) -> None:
    """Set the effects of a run under an explanation, (4,)."""
    root = faults.root[run, explanation]
    for i in range(len(effect)):
        effect[i] = faults.peak[run, explanation, i]
        for j in range(len(effect)):
            effect[i] += root[i, j] * y[faults.column[run, j]]
    for k in range(len(missing)):
        for i in range(len(effect)):
            effect[i] += faults.follow[begin + k, explanation, i] * missing[k]


@compiled
def _explanations(
    tables: Tables, y: Array, run: int, plain: Array, by_start: Array, effect: Array, pull: Array
) -> Array:
    """Return the logarithms of a run's probabilities under each explanation, (s,); effects and pulls are set.

    Parameters
    ----------
    plain, by_start : (k,) arrays
        What the rows show without any effect, and their derivatives by the start. [K]
    effect, pull : (s, 4), (s, k) arrays
    """
    faults, begin = tables.faults, tables.row_begin[run]
    logarithms = faults.logarithm[run].copy()
    shown, missing = np.empty(len(plain)), _missing(faults, begin, plain)
    for s in range(len(logarithms)):
        one = effect[s]
        _effects(faults, missing, begin, y, run, s, one)
        for i in range(len(one)):
            logarithms[s] -= 0.5 * faults.precision[run, s, i] * one[i] ** 2
        way = one[0] - tables.about[run, faults.start]
        for k in range(len(plain)):
            direct = faults.by_effect[begin + k]
            shown[k] = plain[k] + way * by_start[k] + direct[0] * one[1] + direct[1] * one[2] + direct[2] * one[3]
        logarithms[s] -= _losses(tables, begin, shown, pull[s])
    return logarithms


@compiled
def _rows_of(tables: Tables, x: Array, run: int, away: Array) -> tuple[Array, Array]:
    """Return what a run's rows show without any effect, and their derivatives by the start, (k,) each. [K]"""
    begin, end = tables.row_begin[run], tables.row_begin[run + 1]
    plain, by_start = np.empty(end - begin), np.zeros(end - begin)
    for k in range(end - begin):
        plain[k] = _offset(tables, x, begin + k)
    _from_network(tables, run, away, plain, by_start)
    return plain, by_start


@compiled
def _run(tables: Tables, x: Array, y: Array, run: int, spread: float, by_x: Array, by_y: Array) -> float:
    """Return the logarithm of a run's probability, its explanations summed over; its derivatives are added."""
    faults, begin = tables.faults, tables.row_begin[run]
    away = np.empty(len(tables.growth) + 1)
    _away(tables, x, run, spread, away)
    plain, by_start = _rows_of(tables, x, run, away)
    count, effects = faults.logarithm.shape[1], faults.place.shape[1]
    effect, pull = np.empty((count, effects)), np.empty((count, len(plain)))
    logarithms = _explanations(tables, y, run, plain, by_start, effect, pull)
    largest = logarithms.max()
    chances = np.exp(logarithms - largest)
    whole = chances.sum()
    chances /= whole
    mean_pull, start_pull, by_effect = np.zeros(len(plain)), np.zeros(len(plain)), np.empty(effects)
    for s in range(count):
        way = effect[s, 0] - tables.about[run, faults.start]
        for i in range(effects):
            by_effect[i] = -faults.precision[run, s, i] * effect[s, i]
        for k in range(len(plain)):
            mean_pull[k] += chances[s] * pull[s, k]
            start_pull[k] += chances[s] * way * pull[s, k]
            by_effect[0] -= pull[s, k] * by_start[k]
            for i in range(1, effects):
                by_effect[i] -= pull[s, k] * faults.by_effect[begin + k, i - 1]
        for i in range(effects):
            for j in range(effects):
                by_y[faults.column[run, j]] += chances[s] * faults.root[run, s, i, j] * by_effect[i]
        for k in range(len(plain)):
            for i in range(effects):
                mean_pull[k] += chances[s] * faults.follow[begin + k, s, i] * by_effect[i]
    _by_unknowns(tables, x, run, spread, _by_network(tables, run, away, mean_pull, start_pull), away, by_x)
    for k in range(len(plain)):
        _by_offsets(tables, begin + k, mean_pull[k], by_x)
    return largest + math.log(whole)


@compiled
def _by_unknowns(tables: Tables, x: Array, run: int, spread: float, by_away: Array, away: Array, by_x: Array) -> None:
    """Add the derivatives by the coordinates that a run's unknowns are made of."""
    for k in range(len(tables.growth)):
        by_away[k] *= 1.0 + tables.growth[k] * away[k]
        by_x[tables.places[run, k]] -= by_away[k]
    for k in range(len(tables.seated)):
        by_seat = by_away[tables.seated[k]] * spread / tables.seat_width[k]
        by_x[tables.seats[run, k]] -= by_seat
        by_x[tables.spread_place] -= tables.seating_width * by_seat * x[tables.seats[run, k]]


@compiled
def _by_offsets(tables: Tables, row: int, pull: float, by_x: Array) -> None:
    offsets = tables.offsets
    for entry in range(offsets.begin[row], offsets.begin[row + 1]):
        by_x[offsets.column[entry]] -= pull * offsets.value[entry]


@compiled
def _checks(tables: Tables, x: Array, by_x: Array) -> float:
    """Return the logarithm of the likelihood of the checks of probes; its derivatives are added."""
    begin = tables.row_begin[-1]
    shown, pull = np.empty(len(tables.shown) - begin), np.empty(len(tables.shown) - begin)
    for k in range(len(shown)):
        shown[k] = _offset(tables, x, begin + k)
    loss = _losses(tables, begin, shown, pull)
    for k in range(len(shown)):
        _by_offsets(tables, begin + k, pull[k], by_x)
    return -loss


@compiled
def _seating(tables: Tables, x: Array) -> float:
    return tables.typical_seating * math.exp(tables.seating_width * x[tables.spread_place])


@compiled
def log_density(tables: Tables, y: Array, gradient: Array) -> float:
    """Return the logarithm of the density at turned coordinates; the gradient by them is set."""
    x, factors, means = coordinates_of(tables, y)
    by_x, spread = np.zeros(len(x)), _seating(tables, x)
    gradient[:] = 0.0
    logarithm = _checks(tables, x, by_x)
    for run in range(len(tables.places)):
        logarithm += _run(tables, x, y, run, spread, by_x, gradient)
    for k in range(len(x)):
        if not tables.is_effect[k]:
            logarithm -= 0.5 * x[k] ** 2
            by_x[k] -= x[k]
    _by_bends(tables.bends, x, by_x)
    logarithm += _by_seats(tables, x, means, y, by_x, gradient)
    logarithm += _by_way(tables, x, factors, y, by_x)
    root = tables.root
    for k in range(len(x)):
        for entry in range(root.begin[k], root.begin[k + 1]):
            gradient[root.column[entry]] += root.value[entry] * by_x[k]
    return logarithm


@compiled
def at_best(tables: Tables, y: Array, best: Indices) -> Array:
    """Return the coordinates of a calibration at turned ones, (p,), if the runs went as is given, (r,)."""
    x = coordinates_of(tables, y)[0]
    found, spread, faults = x.copy(), _seating(tables, x), tables.faults
    effect = np.empty(faults.place.shape[1])
    for run in range(len(tables.places)):
        away = np.empty(len(tables.growth) + 1)
        _away(tables, x, run, spread, away)
        plain = _rows_of(tables, x, run, away)[0]
        begin = tables.row_begin[run]
        _effects(faults, _missing(faults, begin, plain), begin, y, run, best[run], effect)
        for i in range(len(effect)):
            found[faults.place[run, i]] = effect[i]
    return found


@compiled
def drawn(tables: Tables, y: Array, chance: Array) -> tuple[Array, Indices]:
    """Return coordinates, (p,), and explanations, (r,), that are drawn where runs may have gone in several ways.

    Parameters
    ----------
    chance : (r,) array
        Uniform between 0 and 1.
    """
    x, explained = coordinates_of(tables, y)[0], np.zeros(len(tables.places), dtype=np.intp)
    found, spread, faults = x.copy(), _seating(tables, x), tables.faults
    count, effects = faults.logarithm.shape[1], faults.place.shape[1]
    for run in range(len(tables.places)):
        away = np.empty(len(tables.growth) + 1)
        _away(tables, x, run, spread, away)
        plain, by_start = _rows_of(tables, x, run, away)
        effect, pull = np.empty((count, effects)), np.empty((count, len(plain)))
        logarithms = _explanations(tables, y, run, plain, by_start, effect, pull)
        below = np.cumsum(np.exp(logarithms - logarithms.max()))
        explained[run] = min(np.searchsorted(below, chance[run] * below[-1]), count - 1)
        for i in range(effects):
            found[faults.place[run, i]] = effect[explained[run], i]
    return found, explained
