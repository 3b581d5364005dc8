"""What looks wrong in readings: swapped columns, Fahrenheit under [C], hours under [min], copied runs.

What can't be is a problem, and the folder is refused; what is only odd is a warning. Each is named by line.
"""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.container import outside_diameter, total_height, wall_mass
from geometries.errors import InputProblem
from thermal_model.assemble.contents import filled_volume
from thermal_model.bench.read.plausible import BOILING_SLACK, celsius_text, rows_more, scale_hint
from thermal_model.bench.read.readings import Series
from thermal_model.bench.records import Run
from thermal_model.properties import water
from thermal_model.properties.water import FREEZING_POINT
from thermal_model.scenario import contents_kind
from thermal_model.words.numbers import duration_text

SLOWEST_FILM, FASTEST_FILM_CLOSED, FASTEST_FILM_OPEN = 0.02, 12.0, 80.0
"""Heat loss per outside area that no container goes below, no closed double wall above, nothing above [W m-2 K-1].

A bare surface in still air loses about 10; judgement, no source.
"""

BOILING_POINT = 373.15
"""Of water at the sea. [K]"""

LEAST_EXCESS = 5.0
"""Nearer to the room, a rate says nothing. [K]"""

GAP_FACTOR, LEAST_GAP, LEAST_DISTANCES = 5.0, 600.0, 10
"""A gap in a log is longer than so many usual distances between readings, and than so long; fewer readings are no log.
[-, s, -]"""


def suspicions(series: Sequence[Series]) -> tuple[list[InputProblem], list[str]]:
    """Return what is wrong in the readings of a bench, and what looks wrong."""
    problems: list[InputProblem] = []
    warnings: list[str] = []
    for one in series:
        found = list(_swapped(one)) or [
            *_falling_times(one),
            *(list(_impossible_temperatures(one)) or [*_impossible_rates(one), *_wrong_way(one)]),
        ]
        problems += found
        if not found:
            warnings += [*_odd_start(one), *_too_slow(one), *_gaps(one), *_spikes(one)]
    copies, odd = _copies(series)
    return [*problems, *copies], [*warnings, *odd]


def _problem(series: Series, message: str, row: int, column: str) -> InputProblem:
    return InputProblem(f"{series.place}: {message}", f"line {series.lines[row]}, {column}", source=series.source)


# --- what can't be ----------------------------------------------------------------------------------------------


def _swapped(series: Series) -> Iterator[InputProblem]:
    """Find times under temperature, which rise from row to row, and temperatures under time, which do not."""
    time, shown = series.time, series.temperature - ZERO_CELSIUS
    if len(series) < 3 or not np.all(np.diff(shown) > 0.0) or np.all(np.diff(time) > 0.0):
        return
    falls = np.diff(time) <= 0.0
    if falls.mean() > 0.5 and shown[-1] - shown[0] > 10.0:
        first = int(np.flatnonzero(falls)[0]) + 1
        yield _problem(
            series,
            "columns 'time' and 'temperature' look swapped: times do not rise, temperatures do from row to row; "
            "swap the two headings",
            first,
            "time",
        )


def _falling_times(series: Series) -> Iterator[InputProblem]:
    falls = np.flatnonzero(np.diff(series.time) < 0.0)
    if len(falls):
        row = int(falls[0]) + 1
        earlier, later = (duration_text(series.time[k], 1.0) for k in (row - 1, row))
        more = f" (and {len(falls) - 1} times more)" if len(falls) > 1 else ""
        message = (
            f"the time falls from {earlier} in line {series.lines[row - 1]} to {later}{more}; sort the rows, or give a "
            "second filling a run of its own"
        )
        yield _problem(series, message, row, "time")


def _impossible_temperatures(series: Series) -> Iterator[InputProblem]:
    kind = contents_kind(series.run.scenario.contents)
    shown = series.temperature
    hot = np.flatnonzero(shown > kind.hottest + BOILING_SLACK)
    cold = np.flatnonzero(shown < kind.coldest - BOILING_SLACK)
    for rows, word in ((hot, "hotter"), (cold, "colder")):
        if len(rows):
            row, contents = int(rows[0]), series.run.scenario.contents
            more = rows_more(series.lines[rows])
            message = f"{celsius_text(shown[row])} is {word} than {contents} can be{more}{_unit_hint(series, row)}"
            yield _problem(series, message, row, "temperature")


def _unit_hint(series: Series, row: int) -> str:
    """Return what the reading would be on the other scale, if that is likely."""
    if series.unit.lower().lstrip("deg°") != "c":
        return "; check unit and row"
    return scale_hint(float(series.temperature[row]), FREEZING_POINT, BOILING_POINT)


def _impossible_rates(series: Series) -> Iterator[InputProblem]:
    loss, limit = _loss_per_area(series), _fastest_film(series.run)
    if loss is not None and loss > limit:
        is_cured = loss / 60.0 < limit and loss / 60.0 > SLOWEST_FILM
        hint = "are these hours? then write the heading time [h]" if is_cured else "check times and temperatures"
        message = (
            f"from {celsius_text(series.temperature[0])} to {celsius_text(series.temperature[-1])} in "
            f"{duration_text(series.time[-1] - series.time[0], 1.0)} is faster than this container can; {hint}"
        )
        yield _problem(series, message, len(series) - 1, "time")


WRONG_WAY = 5.0
"""Contents do not move away from their room by so much [K]; what a display and a room may be off, judgement."""


def _wrong_way(series: Series) -> Iterator[InputProblem]:
    """Find contents that warm in a colder room, or cool in a warmer one."""
    if len(series) < 2 or not math.isfinite(series.run.room_spread):
        return
    first, last, room = float(series.temperature[0]), float(series.temperature[-1]), _room(series.run)
    if abs(last - room) - abs(first - room) > WRONG_WAY and (first - room) * (last - room) > 0.0:
        as_fahrenheit = [(kelvin - ZERO_CELSIUS - 32.0) / 1.8 + ZERO_CELSIUS for kelvin in (first, last)]
        is_cured = abs(as_fahrenheit[1] - room) - abs(as_fahrenheit[0] - room) < 0.0
        hint = (
            f"Fahrenheit? then from {celsius_text(as_fahrenheit[0])} to {celsius_text(as_fahrenheit[1])}: write the "
            "heading temperature [F]"
            if is_cured and series.unit.lower().lstrip("deg°") == "c"
            else "check the order of the rows, and the units here and in runs.csv"
        )
        ends = f"from {celsius_text(first)} to {celsius_text(last)}"
        message = f"{ends} it goes away from a room at {celsius_text(room)}; {hint}"
        yield _problem(series, message, len(series) - 1, "temperature")


def _fastest_film(run: Run) -> float:
    container = run.container_at_run
    is_insulated = container.body.gap is not None and container.lid is not None and not run.scenario.openings
    return FASTEST_FILM_CLOSED if is_insulated and run.scenario.wind == 0.0 else FASTEST_FILM_OPEN


def _loss_per_area(series: Series) -> float | None:
    """Return the heat loss per outside area and degree between first and last reading, None if that says nothing."""
    run, scenario = series.run, series.run.scenario
    excess = series.temperature - _room(run)
    elapsed = float(series.time[-1] - series.time[0])
    first, last = float(excess[0]), float(excess[-1])
    is_telling = elapsed > 0.0 and first * last > 0.0 and min(abs(first), abs(last)) > LEAST_EXCESS
    if not is_telling or scenario.ice or scenario.openings or not math.isfinite(run.room_spread):
        return None
    if abs(abs(first) - abs(last)) < 1.0:
        return None
    diameter, height = float(outside_diameter(run.container_at_run)), float(total_height(run.container_at_run))
    area = math.pi * diameter * (height + 0.5 * diameter)
    volume = float(filled_volume(run.container_at_run, scenario))
    rate = math.log(abs(first / last)) / elapsed
    return rate * volume * WATER_HEAT_PER_VOLUME / area


WATER_HEAT_PER_VOLUME = float(water.density(333.15)) * float(water.heat_capacity(333.15))
"""At 60 C. [J m-3 K-1]"""


def _room(run: Run) -> float:
    profile = run.scenario.room_profile
    return float(run.scenario.room) if profile is None else float(np.mean(np.array(profile.temperatures)))


# --- what is odd ------------------------------------------------------------------------------------------------


def _odd_start(series: Series) -> Iterator[str]:
    """Find a first reading far from what was poured."""
    run, first = series.run, float(series.temperature[0])
    poured, room = float(run.scenario.start), _room(run)
    if not math.isfinite(run.start_spread) or series.time[0] > 1800.0 or run.scenario.ice:
        return
    number = first - ZERO_CELSIUS
    other = {"C as F": (number - 32.0) / 1.8, "F as C": number * 1.8 + 32.0}
    line = f"{series.source}: line {series.lines[0]}, temperature: {series.place}:"
    beyond = (first - poured) * (1.0 if poured > room else -1.0)
    if abs(first - poured) > ODD_START + _greatest_dip(run):
        likely = [value for value in other.values() if abs(value + ZERO_CELSIUS - poured) < 0.4 * abs(first - poured)]
        hint = f"; on the other scale it would be {likely[0]:.3g} C: check the heading's unit" if likely else ""
        yield f"{line} {celsius_text(first)} is far from {_poured_words(run)}{hint}"
    elif beyond > 3.0:
        word = "hotter" if poured > room else "colder"
        yield f"{line} {celsius_text(first)} is {word} than {_poured_words(run)}"


def _poured_words(run: Run) -> str:
    return f"{celsius_text(float(run.scenario.start))}, poured in (runs.csv line {run.line})"


ODD_START = 12.0
"""A first reading may be so far from what was poured, beyond what the walls take [K]; judgement."""

LARGEST_WALL_HEAT_CAPACITY = 1000.0
"""Of walls, ceramics included. [J kg-1 K-1]"""


def _greatest_dip(run: Run) -> float:
    """Return by how much the contents cool if they warm all of the walls. [K]"""
    volume = float(filled_volume(run.container_at_run, run.scenario))
    walls = LARGEST_WALL_HEAT_CAPACITY * float(wall_mass(run.container_at_run))
    share = walls / (walls + volume * WATER_HEAT_PER_VOLUME)
    return share * abs(float(run.scenario.start) - _room(run))


def _too_slow(series: Series) -> Iterator[str]:
    loss = _loss_per_area(series)
    if loss is not None and 0.0 < loss < SLOWEST_FILM:
        yield (
            f"{series.source}: line {series.lines[-1]}, time: {series.place}: it hardly loses heat in "
            f"{duration_text(series.time[-1] - series.time[0])}; are times minutes, under another heading?"
        )


def _gaps(series: Series) -> Iterator[str]:
    distances = np.diff(series.time)
    if len(distances) < LEAST_DISTANCES:
        return
    gaps = np.flatnonzero(distances > max(GAP_FACTOR * float(np.median(distances)), LEAST_GAP))
    if len(gaps):
        longest = int(gaps[np.argmax(distances[gaps])])
        count = f"{len(gaps)} gaps, the longest" if len(gaps) > 1 else "a gap"
        yield (
            f"{series.source}: line {series.lines[longest]}: {series.place}: {count} of "
            f"{duration_text(distances[longest])} without readings follows"
        )


LEAST_SPIKE, SPIKE_FACTOR = 3.0, 6.0
"""A reading is odd if it lies farther off its two neighbours than this, and than this many usual distances. [K, -]"""


def _spikes(series: Series) -> Iterator[str]:
    """Find single readings off the line between their neighbours: digits swapped, a display misread."""
    time, shown = series.time, series.temperature
    if len(series) < 5 or np.any(np.diff(time) <= 0.0):
        return
    share = (time[1:-1] - time[:-2]) / (time[2:] - time[:-2])
    off = shown[1:-1] - (shown[:-2] + share * (shown[2:] - shown[:-2]))
    size = np.abs(off)
    # A spike throws off its neighbours as well, by half: it is the largest of the three.
    is_peak = (size >= np.append(size[1:], 0.0)) & (size >= np.insert(size[:-1], 0, 0.0))
    odd = np.flatnonzero(is_peak & (size > max(LEAST_SPIKE, SPIKE_FACTOR * float(np.median(size)))))
    # While walls take their share the curve is steep by itself.
    for place in odd[time[odd + 1] > 900.0][:3].tolist():
        yield (
            f"{series.source}: line {series.lines[place + 1]}, temperature: {series.place}: "
            f"{celsius_text(shown[place + 1])} is {size[place]:.1f} K off the readings before and after; a misreading?"
        )


def _copies(series: Sequence[Series]) -> tuple[list[InputProblem], list[str]]:
    """Find runs that have the same readings."""
    seen: dict[tuple[bytes, bytes], Series] = {}
    problems, warnings = [], []
    for one in series:
        key = one.time.tobytes(), one.temperature.tobytes()
        first = seen.setdefault(key, one)
        if first is one or first.run.name == one.run.name:
            continue
        message = (
            f"the same {len(one)} readings as run {first.run.name} from line {first.lines[0]}; "
            "take one of the two runs out, a run counts once"
        )
        if len(one) >= 4:
            problems.append(_problem(one, message, 0, "run"))
        else:
            warnings.append(f"{one.source}: line {one.lines[0]}, run: {one.place}: {message}")
    return problems, warnings
