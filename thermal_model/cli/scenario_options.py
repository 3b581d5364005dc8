"""From the words of the command line, and a scenario file, to a Scenario."""

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from geometries.errors import InputError, InputProblem, at_once, refuse, shortened
from geometries.files import read_toml
from geometries.overrides import set_in_document
from geometries.validation import validated
from thermal_model.cli import options
from thermal_model.cli.settings import SCENARIO_ROOT, assignment, split_settings
from thermal_model.room_file import read_room_file
from thermal_model.scenario import Scenario

_OPENING_WORDS = {"at": "at", "for": "duration", "pour": "pour", "every": "every"}
_OPENING_EXAMPLE = "'at 2h for 20s pour 100mL every 30min'"


@dataclass(frozen=True)
class ScenarioOptions:
    """The options that describe a scenario, as typed; None and empty ones were not given."""

    fill: options.Fill = None
    air: options.Air = None
    start: options.Start = None
    room: options.Room = None
    contents: options.Contents = None
    ice: options.Ice = None
    walls: options.Walls = None
    preheat: options.Preheat = None
    room_file: options.RoomFile = None
    room_steps: options.RoomSteps = False
    wind: options.Wind = None
    draught: options.Draught = None
    sunlight: options.Sunlight = None
    humidity: options.Humidity = None
    stands_on: options.StandsOn = None
    inverted: options.Inverted = False
    openings: options.Open = ()
    pins: options.Pin = ()
    settings: options.Set = ()
    file: options.ScenarioFile = None


_PLAIN_OPTIONS = {
    "contents": "contents",
    "fill": "fill",
    "air": "air_under_lid",
    "start": "start",
    "ice": "ice",
    "room": "room",
    "walls": "walls",
    "wind": "wind",
    "draught": "draught",
    "sunlight": "sunlight",
    "humidity": "relative_humidity",
    "stands_on": "stands_on",
}


class _Draft:
    """A scenario as a document, with the option that each field came from."""

    def __init__(self, document: dict[str, Any], source: str) -> None:
        self.document, self.source = document, source
        self.origins: dict[str, str] = {}

    def put(self, field: str, value: object, origin: str) -> None:
        """Set a top-level field."""
        self.document[field] = value
        self.origins[field] = origin

    def named(self, problem: InputProblem) -> InputProblem:
        """Return a problem with the option it came from in place of the field's path."""
        path = problem.field
        while path and path not in self.origins:
            path = path.rpartition(".")[0]
        if not path:
            return replace(problem, source=problem.source or self.source)
        inner = re.sub(r"^\d+\.?", "", problem.field[len(path) :].strip("."))
        shown = "" if inner or problem.value is None else f"{shortened(problem.value)}: "
        return replace(problem, message=shown + problem.message, field=inner, source=self.origins[path])


def read_scenario(given: ScenarioOptions) -> Scenario:
    """Return the scenario that file and options describe; an option wins over the file, --set over both.

    Raises
    ------
    InputError
        Naming every option and field that is wrong.
    """
    draft = _Draft(_from_file(given.file), str(given.file or "scenario"))
    steps = (_put_plain, _put_preheat, _put_room, _put_openings, _put_pins, _put_settings)
    at_once(*(partial(step, draft, given) for step in steps))
    try:
        return validated(Scenario, draft.document)
    except InputError as error:
        raise InputError(draft.named(problem) for problem in error.problems) from None


def assumed_inputs(scenario: Scenario, *, has_limit: bool = True) -> frozenset[str]:
    """Return the names of inputs that a user would give and did not.

    Parameters
    ----------
    scenario : Scenario
        As read, with what was set in it.
    has_limit : bool
        Whether a limit temperature was given, or is not asked for.
    """
    assumed = {"fill", "start", "room", "contents"} - scenario.model_fields_set
    if scenario.room_profile is not None:
        assumed -= {"room"}
    return frozenset(assumed | (set() if has_limit else {"until"}))


def refuse_given_and_varied(given: ScenarioOptions, varied: Collection[str], option: str) -> None:
    """Refuse an option, or a --set, of what is varied: it would say nothing.

    Raises
    ------
    InputError
    """
    design, scenario = split_settings(given.settings)
    set_paths = [("--set", path) for path in (*design, *(f"{SCENARIO_ROOT}.{path}" for path in scenario))]
    for paths in (set_paths, _given_paths(given)):
        refuse(
            InputProblem(f"is varied by {option}; leave one of the two out", path, source=spelling)
            for spelling, path in paths
            if any(path == other or other.startswith(f"{path}.") or path.startswith(f"{other}.") for other in varied)
        )


def _given_paths(given: ScenarioOptions) -> Iterator[tuple[str, str]]:
    """Yield each option that was given, and the path of what it sets."""
    fields = _PLAIN_OPTIONS | {"preheat": "preheat", "openings": "openings", "inverted": "orientation"}
    for option, field in fields.items():
        if getattr(given, option):
            yield spelling(option), f"{SCENARIO_ROOT}.{field}"
    for text in given.pins:
        name = text.partition("=")[0].strip()
        yield f"--pin {name}", f"{SCENARIO_ROOT}.pins.{name}"


def _from_file(path: Path | None) -> dict[str, Any]:
    if path is None:
        return {}
    document = read_toml(path)
    return document.get(SCENARIO_ROOT, document) if set(document) == {SCENARIO_ROOT} else document


def _put_plain(draft: _Draft, given: ScenarioOptions) -> None:
    for option, field in _PLAIN_OPTIONS.items():
        value = getattr(given, option)
        if value is not None:
            draft.put(field, value, spelling(option))
    if given.inverted:
        draft.put("orientation", "inverted", "--inverted")


_SPELLINGS = {"openings": "--open", "pins": "--pin", "settings": "--set", "file": "--scenario"}


def spelling(option: str) -> str:
    """Return a field of ScenarioOptions as it is typed."""
    return _SPELLINGS.get(option, "--" + option.replace("_", "-"))


def _put_preheat(draft: _Draft, given: ScenarioOptions) -> None:
    if given.preheat is None:
        return
    duration, at, temperature = given.preheat.partition(" at ")
    if not at:
        raise InputError(f"{given.preheat!r} is not understood; write for example '5 min at 95 C'", source="--preheat")
    draft.put("preheat", {"duration": duration.strip(), "temperature": temperature.strip()}, "--preheat")


def _put_room(draft: _Draft, given: ScenarioOptions) -> None:
    if given.room_file is not None and given.room is not None:
        raise InputError("give --room or --room-file, not both", source="--room-file")
    if given.room_file is None:
        if given.room_steps:
            raise InputError("goes with --room-file only", source="--room-steps")
        return
    draft.put("room_profile", read_room_file(given.room_file, given.room_steps), str(given.room_file))


def _put_openings(draft: _Draft, given: ScenarioOptions) -> None:
    if given.openings:
        draft.put("openings", [opening_document(text) for text in given.openings], "--open")


def opening_document(text: str) -> dict[str, str]:
    """Return an opening as a document.

    Examples
    --------
    >>> opening_document("at 2h for 20s pour 100 mL")
    {'at': '2h', 'duration': '20s', 'pour': '100 mL'}
    """
    first, *parts = re.split(rf"\b({'|'.join(_OPENING_WORDS)})\b", text.strip())
    words, values = parts[::2], [value.strip() for value in parts[1::2]]
    document = dict(zip((_OPENING_WORDS[word] for word in words), values, strict=True))
    if "every" in document:
        document.setdefault("at", document["every"])
    if first or "at" not in document or len(set(words)) < len(words) or not all(values):
        message = f"{text!r} is not understood; write for example {_OPENING_EXAMPLE} (for, pour, every may be left out)"
        raise InputError(message, source="--open")
    return document


def _put_pins(draft: _Draft, given: ScenarioOptions) -> None:
    for text in given.pins:
        name, value = assignment(text, "--pin", "exterior_film='10 W/m2K'")
        set_in_document(draft.document, f"pins.{name}", value, "--pin")
        draft.origins[f"pins.{name}"] = f"--pin {name}"


def _put_settings(draft: _Draft, given: ScenarioOptions) -> None:
    for path, value in split_settings(given.settings)[1].items():
        set_in_document(draft.document, path, value, "--set")
        draft.origins[path] = f"--set {SCENARIO_ROOT}.{path}"
