"""The columns of a bench's files: one table that readers, templates and the descriptor share."""

from dataclasses import dataclass
from enum import Enum, StrEnum

from geometries.quantities import Dimension


class Kind(Enum):
    """What a column holds that is no plain quantity."""

    TEXT = "text"
    TIME = "time"
    DATE = "date"


class File(StrEnum):
    """The files of a bench folder."""

    BENCH = "bench.toml"
    RUNS = "runs.csv"
    READINGS = "readings.csv"
    PASSINGS = "passings.csv"
    ROOM = "room.csv"
    PROBE_CHECKS = "probe_checks.csv"


@dataclass(frozen=True)
class Column:
    """A column of one of the files.

    Attributes
    ----------
    name : str
        As in the heading, without its unit.
    kind : Kind or Dimension
        A dimension needs a unit in the heading, and so does a time: `time [min]`, `time [h:mm]`, `time [date]`.
    unit : str
        That templates write; empty where there is none.
    is_required : bool
    meaning : str
        A line for the template and the descriptor.
    """

    name: str
    kind: Kind | Dimension
    unit: str
    is_required: bool
    meaning: str

    @property
    def heading(self) -> str:
        """Name and unit."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name


def _text(name: str, meaning: str, *, is_required: bool = False) -> Column:
    return Column(name, Kind.TEXT, "", is_required, meaning)


def _number(name: str, dimension: Dimension, unit: str, meaning: str, *, is_required: bool = False) -> Column:
    return Column(name, dimension, unit, is_required, meaning)


_TEMPERATURE, _DIFFERENCE = Dimension.TEMPERATURE, Dimension.TEMPERATURE_DIFFERENCE
_PROBE = _text("probe", "name of the thermometer in bench.toml; left out: the run's")
_RUN = _text("run", "name of the run in runs.csv", is_required=True)
_NOTE = _text("note", "anything; it is kept and not interpreted")

COLUMNS: dict[File, tuple[Column, ...]] = {
    File.RUNS: (
        _text("run", "a name of its own for every filling", is_required=True),
        _text("container", "name in bench.toml", is_required=True),
        Column("date", Kind.DATE, "", False, "2026-04-23 or 2026-04-23 18:05"),
        _text("probe", "name of the thermometer in bench.toml"),
        _text("contents", "water, tea, coffee, broth, milk, ...; left out: water"),
        _number("fill", Dimension.VOLUME, "mL", "poured in; left out: full, 5 mm under the lid"),
        _number("fill spread", Dimension.FRACTION, "%", "how well the volume is known; left out: as in bench.toml"),
        _number("ice", Dimension.MASS, "g", "ice at 0 C added; left out: none"),
        _number("poured at", _TEMPERATURE, "C", "temperature of the contents just before they went in"),
        _number("poured spread", _DIFFERENCE, "C", "how well that is known; left out: as in bench.toml"),
        _number("room", _TEMPERATURE, "C", "room temperature, mean of the run; or a log in room.csv"),
        _number("room spread", _DIFFERENCE, "C", "how far it may be off; left out: as in bench.toml"),
        _text("preheat", "'5 min at 95 C', then emptied and refilled; left out: none"),
        _text("walls", "soaked (stood empty at room temperature) or preheated; left out: soaked"),
        _text("orientation", "upright or inverted; left out: upright"),
        _text("settings", "what else was changed, 'lid.seals.1=none | scenario.wind=2 m/s'"),
        _NOTE,
    ),
    File.READINGS: (
        _RUN,
        Column("time", Kind.TIME, "min", True, "since the contents went in"),
        _number("temperature", _TEMPERATURE, "C", "as displayed", is_required=True),
        _number("time spread", Dimension.DURATION, "s", "how well the time is known; left out: as in bench.toml"),
        _PROBE,
        _NOTE,
    ),
    File.PASSINGS: (
        _RUN,
        _number("mark", _TEMPERATURE, "C", "the display passed it", is_required=True),
        Column("above at", Kind.TIME, "min", False, "last time the display was seen above the mark"),
        Column("below at", Kind.TIME, "min", False, "first time it was seen below; left out: not by the end"),
        Column("passed at", Kind.TIME, "min", False, "instead of both: read off a video"),
        _PROBE,
        _NOTE,
    ),
    File.ROOM: (
        _RUN,
        Column("time", Kind.TIME, "min", True, "since the contents went in"),
        _number("room", _TEMPERATURE, "C", "room temperature at that time", is_required=True),
        _NOTE,
    ),
    File.PROBE_CHECKS: (
        _text("first probe", "name in bench.toml", is_required=True),
        _number("first temperature", _TEMPERATURE, "C", "its display", is_required=True),
        _text("second probe", "name in bench.toml, in the same water at the same time; or ice_water", is_required=True),
        _number("second temperature", _TEMPERATURE, "C", "its display; ice water: 0 C", is_required=True),
        _NOTE,
    ),
}
