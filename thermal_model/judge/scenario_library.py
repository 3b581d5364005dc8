"""Scenarios that a hold time is carried over to: those that come along, and files of the same form."""

from pathlib import Path
from typing import Any

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from geometries.container import Container, closed_capacity
from geometries.errors import InputError, InputProblem, nearest_hint
from geometries.files import read_text, read_toml, write_text
from geometries.quantities import Density, Fraction, Temperature
from geometries.validation import validated
from thermal_model.assemble.contents import contents_of, start_enthalpy, start_mass
from thermal_model.properties import water
from thermal_model.properties.ice import FUSION_ENTHALPY
from thermal_model.room_file import read_room_file
from thermal_model.scenario import Scenario
from thermal_model.solver.rates import contents_enthalpy, contents_temperature

_LIBRARY = Path(__file__).parents[1] / "scenarios"


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Limit(_Record):
    """A temperature that matters to somebody, why, and who says so."""

    temperature: Temperature
    purpose: str = Field(min_length=1)
    source: str = Field(min_length=1)


class CarryScenario(_Record):
    """A run in other conditions than the bench's, and the temperatures that matter in it.

    Attributes
    ----------
    summary : str
    scenario : Scenario
    fill_share : float, optional
        Filled volume as a share of what fits under the lid; left out: as the scenario says. [-]
    ice_share : float, optional
        Ice for each volume that fits under the lid. [kg m-3]
    room_file : str, optional
        A CSV with the room over time, beside the scenario's own file.
    room_in_steps : bool
        The room holds each temperature of the file until the next.
    limits : tuple of Limit
    """

    summary: str = ""
    scenario: Scenario
    fill_share: Fraction | None = Field(None, gt=0.0)
    ice_share: Density | None = None
    room_file: str | None = None
    room_in_steps: bool = False
    limits: tuple[Limit, ...] = Field(min_length=1)

    def for_container(self, container: Container) -> Scenario:
        """Return the scenario with fill and ice for the size of a container."""
        capacity = float(closed_capacity(container))
        changes: dict[str, float] = {}
        if self.ice_share is not None:
            changes["ice"] = float(self.ice_share) * capacity
        if self.fill_share is not None:
            ice = changes.get("ice", float(self.scenario.ice))
            changes["fill"] = float(self.fill_share) * capacity - ice / _melt_density()
        scenario = self.scenario.model_copy(update=changes)
        return settled(container, scenario) if scenario.ice else scenario


def settled(container: Container, scenario: Scenario) -> Scenario:
    """Return a scenario with ice as it stands once water and ice have come to one temperature.

    The heat is the same; only so can it be told which limits lie ahead, and which are behind already.
    """
    mass, enthalpy = float(start_mass(container, scenario)), float(start_enthalpy(container, scenario))
    melting = float(np.asarray(contents_enthalpy(contents_of(scenario), water.FREEZING_POINT)))
    share = max((melting - enthalpy) / FUSION_ENTHALPY, 0.0)
    start = float(np.asarray(contents_temperature(contents_of(scenario), np.array(enthalpy)))) if share == 0.0 else 0.0
    start = max(start, water.FREEZING_POINT)
    room_left = float(closed_capacity(container)) - share * mass / _melt_density()
    liquid = min((1.0 - share) * mass / float(water.density(start)), room_left)
    return scenario.model_copy(update={"ice": share * mass, "start": start, "fill": liquid})


def _melt_density() -> float:
    return float(water.density(water.FREEZING_POINT + 0.01))


def library_names() -> list[str]:
    """Return the names of the scenarios that come along, sorted."""
    return sorted(path.stem for path in _LIBRARY.glob("*.toml"))


def load_carry_scenario(path_or_name: str) -> CarryScenario:
    """Read a scenario from a file or from the library.

    Raises
    ------
    InputError
        If there is no such file or name, or it is no valid scenario; every problem is named.
    """
    path = _path_of(path_or_name)
    document = read_toml(path)
    room_file = document.get("room_file")
    if isinstance(room_file, str) and isinstance(document.get("scenario"), dict):
        _refuse_two_rooms(document["scenario"], path)
        profile = read_room_file(path.parent / room_file, bool(document.get("room_in_steps", False)))
        document = document | {"scenario": document["scenario"] | {"room_profile": profile}}
    return validated(CarryScenario, document, str(path))


def _path_of(path_or_name: str) -> Path:
    path, allowed = Path(path_or_name), library_names()
    if path_or_name in allowed and not path.is_file():
        return _LIBRARY / f"{path_or_name}.toml"
    if path.suffix or len(path.parts) != 1 or path.is_file():
        return path
    hint = nearest_hint(path_or_name, allowed)
    message = f"neither a file nor in the library; {hint}the library has {', '.join(allowed)}"
    raise InputError(message, "scenario", path_or_name)


def _refuse_two_rooms(scenario: dict[str, Any], path: Path) -> None:
    given = {"room", "room_profile"} & set(scenario)
    if given:
        raise InputError(f"give room_file or scenario.{min(given)}, not both", "room_file", source=str(path))


def copy_scenario(name: str, folder: Path) -> list[Path]:
    """Copy a scenario of the library, with the room file it needs, into a folder; return what was written.

    Raises
    ------
    InputError
        If there is no such name, a file is there already, or can't be written.
    """
    if name not in library_names():
        message = f"not in the library; {nearest_hint(name, library_names())}it has {', '.join(library_names())}"
        raise InputError(message, "scenario", name)
    sources = [_LIBRARY / f"{name}.toml"]
    room_file = read_toml(sources[0]).get("room_file")
    if room_file is not None:
        sources.append(_LIBRARY / room_file)
    targets = [folder / source.name for source in sources]
    there = [target for target in targets if target.exists()]
    if there:
        message = "is there already; move it away, or copy in another folder"
        raise InputError(InputProblem(message, source=str(path)) for path in there)
    for source, target in zip(sources, targets, strict=True):
        write_text(target, read_text(source))
    return targets
