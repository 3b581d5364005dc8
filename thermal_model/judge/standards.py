"""Standard tests of insulated ware as scenarios, with the limits that are known to us; none is invented.

Both procedures are second-hand, as is the one table of limits: who certifies works from the standards themselves.
"""

import csv
import io
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.container import Container, closed_capacity
from geometries.validation import validated
from thermal_model.judge.claims import Verdict, share, verdict_of
from thermal_model.prediction import drawn_runs
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import INTERVAL, Belief
from thermal_model.words.numbers import left_out_words
from thermal_model.work_done import ShareDone

SIX_HOURS = 6 * 3600.0
JIS_TABLE = "jis_s2006_portable_minimum.csv"
JIS_SOURCE = "JIS S 2006, second-hand"

LID_TIME = "3 min"
"""Boiling water stands in the open vessel until it reads 95 C: the inner wall is warm by then, the stopper is not.
Three minutes with water at 95 C inside stand for that; judgement."""

NEAR_A_CLASS = 1e-3
"""So near to the edge of a class of mouths a ruler may decide. [m]"""


class Procedure(StrEnum):
    """A standard test; the value is how it is asked for."""

    JIS_HOT = "jis-s-2006 hot"
    JIS_COLD = "jis-s-2006 cold"
    EN_HOT = "en-12546-1 hot"


class Vessel(StrEnum):
    """How a vessel is closed and drunk from, which decides whose limits are its own."""

    STOPPERED = "stoppered"
    DIRECT_DRINK = "direct-drink"
    TABLETOP = "tabletop"
    OTHER = "other"


@dataclass(frozen=True)
class Conditions:
    """What a procedure asks for.

    Attributes
    ----------
    words : str
        The procedure in a sentence.
    scenario : dict
        As a scenario document; full.
    after : float
        When the contents are read. [s]
    start, start_tolerance : float
        Start temperature, and how far from it a test may start. [K]
    room, room_tolerance : float
        [K]
    source : str
    """

    words: str
    scenario: dict[str, Any]
    source: str
    start: float
    start_tolerance: float
    room: float = 293.15
    room_tolerance: float = 2.0
    after: float = SIX_HOURS


CONDITIONS = {
    Procedure.JIS_HOT: Conditions(
        "open in the room for two hours or more; boiling water to the lower end of the stopper, stopper fitted when "
        "the water reads 95 °C; read after 6 h at 20 °C",
        {
            "start": "95 C",
            "room": "20 C",
            "air_under_lid": "0 mm",
            "preheat": {"duration": LID_TIME, "temperature": "95 C"},
        },
        JIS_SOURCE,
        368.15,
        1.0,
    ),
    Procedure.JIS_COLD: Conditions(
        "open in the room for two hours or more; water at 4 °C without ice to the lower end of the stopper; read after "
        "6 h at 20 °C",
        {"start": "4 C", "room": "20 C", "air_under_lid": "0 mm"},
        JIS_SOURCE,
        277.15,
        1.0,
    ),
    Procedure.EN_HOT: Conditions(
        "5 min with water at 95 °C or hotter, emptied, refilled at once at 95 °C or hotter, closed; read after 6 h at "
        "20 °C",
        {"start": "95 C", "room": "20 C", "preheat": {"duration": "5 min", "temperature": "95 C"}},
        "EN 12546-1:2000, second-hand",
        368.15,
        # "or hotter": up to boiling.
        5.0,
    ),
}


@dataclass(frozen=True)
class MinimumClass:
    """A row of the table: real capacity and mouth from, up to below, and the least temperature. [m3, m, K]"""

    capacity: tuple[float, float]
    mouth: tuple[float, float]
    minimum: float
    name: str

    def holds(self, capacity: float, mouth: float) -> bool:
        """Tell whether a vessel is of this class."""
        return self.capacity[0] <= capacity < self.capacity[1] and self.mouth[0] <= mouth < self.mouth[1]


@cache
def jis_classes() -> tuple[MinimumClass, ...]:
    """Return the table of least temperatures after six hours, portable ware."""
    text = files("thermal_model.judge").joinpath(JIS_TABLE).read_text(encoding="utf-8")
    return tuple(_class(row) for row in csv.DictReader(io.StringIO(text)))


def _class(row: dict[str, str]) -> MinimumClass:
    capacity, mouth = row["real_capacity_L"], row["mouth_diameter_mm"]
    return MinimumClass(
        _ends(capacity, 1e-3),
        _ends(mouth, 1e-3),
        float(row["minimum_temp_C"]) + ZERO_CELSIUS,
        f"{capacity} L, mouth {mouth} mm",
    )


def _ends(text: str, unit: float) -> tuple[float, float]:
    """Return the ends of "<39", "39-54" or "0.3-<0.4" in SI units."""
    low, _, high = text.rpartition("-")
    return (unit * float(low) if low else 0.0), unit * float(high.lstrip("<"))


@dataclass(frozen=True)
class StandardResult:
    """A standard test against the model, or against readings.

    Attributes
    ----------
    procedure : Procedure
    verdict : Verdict
    minimum : MinimumClass or None
        The class with its limit; None if none is known.
    low, median, high : float
        Quantiles 5, 50, 95 % of the temperature read at the end. [K]
    probability : float or None
        That the limit is met; None without a limit.
    probability_low, probability_high : float or None
        95 % interval of it from the size of the sample; None where nothing was drawn.
    notes : tuple of str
        What to know of the verdict.
    departures : tuple of str
        Where a measured run was not the procedure, which leaves its verdict undecided.
    """

    procedure: Procedure
    verdict: Verdict
    minimum: MinimumClass | None
    low: float
    median: float
    high: float
    probability: float | None
    probability_low: float | None
    probability_high: float | None
    notes: tuple[str, ...]
    departures: tuple[str, ...] = ()


def scenario_of(procedure: Procedure) -> Scenario:
    """Return a procedure as a scenario, filled to the lid."""
    return validated(Scenario, CONDITIONS[procedure].scenario)


def minimum_of(procedure: Procedure, container: Container, vessel: Vessel) -> MinimumClass | None:
    """Return the class of a container and its least temperature, None if no table that is known has one.

    The one table that is known is for stoppered portable vessels.
    """
    if procedure is not Procedure.JIS_HOT or vessel is not Vessel.STOPPERED:
        return None
    capacity, mouth = float(closed_capacity(container)), 2.0 * float(container.body.mouth_radius)
    return next((row for row in jis_classes() if row.holds(capacity, mouth)), None)


def limit_notes(procedure: Procedure, container: Container, vessel: Vessel) -> list[str]:
    """Return what to know of a container's limit."""
    if procedure is not Procedure.JIS_HOT:
        return ["No limit for this test is known to us, and none is invented: the temperature is all that is reported."]
    if vessel is not Vessel.STOPPERED:
        return [
            f"No table of limits is known to us for vessels of the class '{vessel}', and none is invented; the one we "
            "know is for stoppered portable vessels. The temperature is all that is reported."
        ]
    capacity, mouth = float(closed_capacity(container)), 2.0 * float(container.body.mouth_radius)
    found, notes = minimum_of(procedure, container, vessel), []
    if found is None:
        notes.append(
            f"The table, as we know it, has no limit for {1e3 * capacity:.2f} L and a mouth of {1e3 * mouth:.0f} mm."
        )
    others = {
        row.name: row
        for m in (mouth - NEAR_A_CLASS, mouth + NEAR_A_CLASS)
        for row in jis_classes()
        if row.holds(capacity, m)
    }
    for row in others.values():
        if row != found:
            notes.append(
                f"A millimetre at the mouth makes it another class: {row.name}, {row.minimum - ZERO_CELSIUS:.0f} °C."
            )
    return notes + _not_for_it(container)


def _not_for_it(container: Container) -> list[str]:
    """Return why the table may not be meant for a container: it is for stoppered portable steel vacuum ware."""
    body, lid = container.body, container.lid
    lacks = []
    if not body.wall.material.startswith("stainless"):
        lacks.append("its wall is not of stainless steel")
    if body.gap is None or body.gap.kind != "vacuum":
        lacks.append("it has no vacuum")
    if lid is None or lid.plug is None:
        lacks.append("it has no stopper that reaches into the neck")
    return (
        [f"The table is for stoppered portable steel vacuum ware; as described, {', '.join(lacks)}."] if lacks else []
    )


def simulate(
    procedure: Procedure,
    container: Container,
    *,
    vessel: Vessel,
    draws: int,
    seed: int,
    belief: Belief | None = None,
    progress: ShareDone | None = None,
) -> StandardResult:
    """Run a standard test in the model.

    Parameters
    ----------
    procedure : Procedure
    container : Container
    vessel : Vessel
        Whose limits are asked for.
    draws : int
        At least 1.
    seed : int
    belief : Belief, optional
    progress : callable, optional

    Raises
    ------
    InputError
        As `drawn_runs`.
    """
    after = CONDITIONS[procedure].after
    runs = drawn_runs(
        container, scenario_of(procedure), [], draws=draws, seed=seed, horizon=after, belief=belief, progress=progress
    )
    ends = runs.final_temperatures[1:]
    low, median, high = np.quantile(ends, [INTERVAL[0], 0.5, INTERVAL[1]]).tolist()
    lost = left_out_words(runs.failed, runs.draws + runs.failed)
    notes = (*limit_notes(procedure, container, vessel), *((lost,) if lost else ()))
    minimum = minimum_of(procedure, container, vessel)
    if minimum is None:
        return StandardResult(procedure, Verdict.NO_LIMIT, None, low, median, high, None, None, None, notes)
    chances = share(ends >= minimum.minimum)
    return StandardResult(procedure, verdict_of(chances[0]), minimum, low, median, high, *chances, notes)


def ends_between(container: Container) -> tuple[float, float]:
    """Return where a JIS hot test ends at best guess, with walls as cold as the room and as after long use. [K]"""
    both = []
    for walls in ("room", "preheated"):
        run = validated(Scenario, {"start": "95 C", "room": "20 C", "walls": walls})
        both.append(float(drawn_runs(container, run, [], draws=0, seed=0, horizon=SIX_HOURS).final_temperatures[0]))
    return both[0], both[1]
