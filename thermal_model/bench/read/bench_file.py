"""`bench.toml`: what a bench has - containers, probes - and how well things are known unless a row says otherwise."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any, TypeAlias, TypeVar

from pydantic import BaseModel, ConfigDict, Field

from geometries.container import Container
from geometries.errors import InputError, InputProblem, refuse
from geometries.files import read_toml
from geometries.numeric import Numeric
from geometries.quantities import Dimension, Duration, Fraction, QuantityField, parse_quantity
from geometries.validation import validated
from thermal_model.bench.columns import File
from thermal_model.bench.read.cells import DateOrder
from thermal_model.bench.records import Probe

ICE_WATER = "ice_water"
"""Stands in probe checks for the water of melting ice."""

ICE_WATER_PROBE = Probe(ICE_WATER, resolution=0.0, offset_spread=0.1, noise=0.05)
"""A stirred slush of ice and tap water keeps 0 C to about 0.1 K; judgement, no source."""


Spread: TypeAlias = Annotated[Numeric, QuantityField(Dimension.TEMPERATURE_DIFFERENCE, at_least=0.0)]
"""A standard deviation or a step of temperatures."""


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class ProbeEntry(_Record):
    """A thermometer as described."""

    resolution: Annotated[Spread, Field(description="step of the display")] = 0.1
    offset_spread: Annotated[Spread, Field(description="what it may be wrong by")] = 0.5
    noise: Annotated[Spread, Field(description="scatter of a reading, display apart")] = 0.1
    unit: Annotated[str, Field(description="what it shows, C or F; left out: as the headings say")] = ""
    note: str = ""


class ContainerEntry(_Record):
    """A container as described: a design, with what differs in this piece."""

    design: Annotated[str, Field(description="design file beside bench.toml, or a name of the catalogue")]
    settings: dict[str, str | int | float | bool] = {}
    note: str = ""


class Spreads(_Record):
    """How well things are known unless a row says otherwise: standard deviations."""

    poured_at: Spread = 0.5
    room: Spread = 1.0
    fill: Fraction = 0.02
    time: Duration = 10.0
    video_step: Duration = 5.0


class _Top(_Record):
    name: str = ""
    dates: DateOrder | None = None
    spreads: Spreads = Spreads()
    probes: dict[str, Any]
    containers: dict[str, Any]
    scenario: dict[str, Any] = {}


@dataclass(frozen=True)
class BenchFile:
    """What `bench.toml` says.

    Attributes
    ----------
    name : str
    dates : DateOrder or None
    spreads : Spreads
    probes : dict of str to Probe
    containers : dict of str to Container
    scenario : dict
        Fields of a scenario that hold for every run.
    assumptions : tuple of str
    """

    name: str
    dates: DateOrder | None
    spreads: Spreads
    probes: dict[str, Probe]
    containers: dict[str, Container]
    scenario: dict[str, Any]
    assumptions: tuple[str, ...]

    def unit_of(self, probe: str) -> str:
        """Return the unit in which a probe's numbers are written, empty if it has none of its own."""
        return self.probes[probe].unit if probe in self.probes else ""


def read_bench_file(folder: Path, designs: Mapping[str, Container] | None = None) -> BenchFile:
    """Read the `bench.toml` of a folder; containers that are given by name stand for what it says of them.

    Raises
    ------
    InputError
        If there is none, it is not TOML, or a field, a probe or a container is wrong; every problem is named.
    """
    path = folder / File.BENCH
    top = validated(_Top, read_toml(path), path.name)
    problems: list[InputProblem] = []
    probes = _entries(top.probes, "probes", ProbeEntry, problems)
    containers = _entries(top.containers, "containers", ContainerEntry, problems)
    given = designs or {}
    loaded = {name: given.get(name) or _container(name, entry, folder, problems) for name, entry in containers.items()}
    problems += _unit_problems(probes)
    for table, kept in (("probes", top.probes), ("containers", top.containers)):
        if not kept:
            problems.append(InputProblem(f"is empty; describe at least one, [{table}.name]", table, source=path.name))
    refuse(problems)
    return BenchFile(
        name=top.name or folder.resolve().name,
        dates=top.dates,
        spreads=top.spreads,
        probes={name: _probe(name, entry) for name, entry in probes.items()},
        containers={name: container for name, container in loaded.items() if container is not None},
        scenario=top.scenario,
        assumptions=tuple(_assumed(top, probes)),
    )


Entry = TypeVar("Entry", bound=BaseModel)


def _entries(table: dict[str, Any], field: str, model: type[Entry], problems: list[InputProblem]) -> dict[str, Entry]:
    """Return the entries of a table; what is wrong goes into `problems`, with its path."""
    entries = {}
    for name, document in table.items():
        try:
            entries[name] = validated(model, document, File.BENCH)
        except InputError as error:
            path = f"{field}.{name}"
            problems += [replace(p, field=f"{path}.{p.field}" if p.field else path) for p in error.problems]
    return entries


def _unit_problems(probes: dict[str, ProbeEntry]) -> Iterator[InputProblem]:
    for name, entry in probes.items():
        try:
            parse_quantity(f"300 {entry.unit or 'K'}", Dimension.TEMPERATURE)
        except ValueError as error:
            yield InputProblem(str(error), f"probes.{name}.unit", entry.unit, File.BENCH)


def _container(name: str, entry: ContainerEntry, folder: Path, problems: list[InputProblem]) -> Container | None:
    from geometries.design_file import load_container
    from geometries.overrides import with_overrides

    try:
        container = load_container(_design_file(entry.design, folder))
        if entry.settings:
            container = with_overrides(container, entry.settings, f"{File.BENCH}: containers.{name}.settings")
    except InputError as error:
        # What has a source of its own is wrong inside the design file.
        field = f"containers.{name}.design"
        problems += [p if p.source else replace(p, field=field, source=File.BENCH) for p in error.problems]
        return None
    # Two pieces of one design stay apart.
    return container.model_copy(update={"name": name})


def _design_file(design: str, folder: Path) -> Path:
    """Return the file beside bench.toml, or that of the catalogue: never one of the folder a command is called in."""
    from geometries.design_file import catalogue_names, catalogue_path, design_path

    beside = folder / design
    if beside.is_file():
        return beside
    if design in catalogue_names():
        return catalogue_path(design)
    if Path(design).suffix or len(Path(design).parts) != 1:
        raise InputError("there is no such file beside bench.toml; check the path", "design", design)
    return design_path(design)


def _probe(name: str, entry: ProbeEntry) -> Probe:
    resolution, spread, noise = (float(v) for v in (entry.resolution, entry.offset_spread, entry.noise))
    return Probe(name, resolution, spread, noise, entry.unit)


def _assumed(top: _Top, probes: dict[str, ProbeEntry]) -> Iterator[str]:
    """Yield what was left out and is taken for granted."""
    words = {"poured_at": "C", "room": "C", "fill": "", "time": "s", "video_step": "s"}
    for field, unit in words.items():
        if field not in top.spreads.model_fields_set:
            value = float(getattr(top.spreads, field))
            shown = f"{100.0 * value:g} %" if field == "fill" else f"{value:g} {unit}"
            yield f"{File.BENCH}: spreads.{field} is taken as {shown}"
    for name, entry in probes.items():
        for field in ("resolution", "offset_spread", "noise"):
            if field not in entry.model_fields_set:
                yield f"{File.BENCH}: probes.{name}.{field} is taken as {float(getattr(entry, field)):g} C"
        if entry.unit:
            yield f"{File.BENCH}: probes.{name}.unit: its numbers are read in {entry.unit}, whatever the heading says"
