"""What a bench holds: containers, probes, runs and their readings, in SI, with how well each is known."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from geometries.container import Container
from geometries.display import Displayed, Listing
from thermal_model.properties.water import FREEZING_POINT
from thermal_model.scenario import Scenario


@dataclass(frozen=True)
class Probe:
    """A thermometer.

    Attributes
    ----------
    name : str
    resolution : float
        Step of its display; 0 if it shows every digit. [K]
    offset_spread : float
        Standard deviation of what it may be wrong by, before any check. [K]
    noise : float
        Standard deviation of a reading about its own mean, display apart. [K]
    unit : str
        In which its numbers are written; empty: as the heading says.
    """

    name: str
    resolution: float = 0.1
    offset_spread: float = 0.5
    noise: float = 0.1
    unit: str = ""


@dataclass(frozen=True)
class Reading:
    """What a display showed at a time.

    Attributes
    ----------
    time : float
        Since the contents went in. [s]
    temperature : float
        As displayed. [K]
    time_spread : float
        Standard deviation of the time. [s]
    line : int
        Line in the readings file.
    probe : str
        That showed it; empty for the run's own.
    """

    time: float
    temperature: float
    time_spread: float
    line: int
    probe: str = ""


@dataclass(frozen=True)
class Passing:
    """A display passed a mark between two times: "after 40 min still above, after 50 min below".

    Attributes
    ----------
    mark : float
        [K]
    earliest, latest : float
        Latest is infinite where the mark was not passed by the end. [s]
    line : int
    probe : str
        That showed it; empty for the run's own.
    """

    mark: float
    earliest: float
    latest: float
    line: int
    probe: str = ""


@dataclass(frozen=True)
class Run:
    """One filling, watched.

    Attributes
    ----------
    name, container, probe : str
    container_at_run : Container
        As it stood in this run, such as with a seal taken off.
    scenario : Scenario
        Contents, fill, room, preheat and all that was done. Its start is the temperature poured in.
    date : datetime or None
    start_spread, room_spread : float
        Standard deviations of start and room temperature; infinite where nobody measured. [K]
    fill_spread : float
        Relative standard deviation of the fill.
    readings : tuple of Reading
        Times rising.
    passings : tuple of Passing
    note : str
    line : int
        Line in the table of runs.
    """

    name: str
    container: str
    probe: str
    container_at_run: Container
    scenario: Scenario
    date: datetime | None
    start_spread: float
    room_spread: float
    fill_spread: float
    readings: tuple[Reading, ...] = ()
    passings: tuple[Passing, ...] = ()
    note: str = ""
    line: int = 0


def temperature_at_start(run: Run) -> float:
    """Return where a run's contents start: as poured, or at melting ice. [K]"""
    return FREEZING_POINT if np.any(run.scenario.ice) else float(run.scenario.start)


@dataclass(frozen=True)
class ProbeCheck:
    """Two thermometers side by side in one bath. [K]"""

    first: str
    second: str
    first_temperature: float
    second_temperature: float
    line: int


@dataclass(frozen=True, repr=False)
class Bench(Displayed):
    """Everything read from a bench folder.

    Attributes
    ----------
    name : str
    containers : dict of str to Container
        By name, as described without any run's changes.
    probes : dict of str to Probe
    runs : tuple of Run
    checks : tuple of ProbeCheck
    assumptions : tuple of str
        What was taken for granted while reading, a line each.
    warnings : tuple of str
        What looks wrong but could be read, a line each.
    """

    name: str
    containers: dict[str, Container]
    probes: dict[str, Probe]
    runs: tuple[Run, ...]
    checks: tuple[ProbeCheck, ...]
    assumptions: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def _line(self) -> str:
        return f"{self.name}: {len(self.runs)} runs of {len(self.containers)} containers, {len(self.warnings)} warnings"

    def _tables(self) -> Iterator[Listing]:
        rows = [(run.name, run.container, str(len(run.readings)), str(len(run.passings))) for run in self.runs]
        yield Listing("", rows, ("run", "container", "readings", "passings"))
        if self.warnings:
            yield Listing("Warnings", [(line,) for line in self.warnings])
