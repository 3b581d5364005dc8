"""All options of a scenario as one parameter: a command writes `given`, its help page shows every option."""

import functools
import inspect
from collections.abc import Callable, Iterable
from typing import Any

from thermal_model.cli import options
from thermal_model.cli.scenario_options import ScenarioOptions

SCENARIO_OPTIONS: dict[str, Any] = {
    "fill": options.Fill,
    "start": options.Start,
    "room": options.Room,
    "contents": options.Contents,
    "ice": options.Ice,
    "walls": options.Walls,
    "preheat": options.Preheat,
    "room_file": options.RoomFile,
    "room_steps": options.RoomSteps,
    "wind": options.Wind,
    "sunlight": options.Sunlight,
    "humidity": options.Humidity,
    "stands_on": options.StandsOn,
    "inverted": options.Inverted,
    "openings": options.Open,
    "pins": options.Pin,
    "settings": options.Set,
    "file": options.ScenarioFile,
}
"""Options by the field of ScenarioOptions that each fills."""

_FLAGS = ("room_steps", "inverted")
_REPEATED = ("openings", "pins", "settings")


def with_scenario(command: Callable[..., None], *, after_start: str = "") -> Callable[..., None]:
    """Put all options of a scenario in the place of a command's parameter `given`, a ScenarioOptions.

    Parameters
    ----------
    command : callable
    after_start : str
        One of its own parameters that the help page shows among them, after the start temperature.
    """

    @functools.wraps(command)
    def run(**values: Any) -> None:
        typed = {name: values.pop(name) for name in SCENARIO_OPTIONS}
        typed |= {name: tuple(typed[name] or ()) for name in _REPEATED}
        command(given=ScenarioOptions(**typed), **values)

    shown = _expanded(inspect.signature(command).parameters.values())
    if after_start:
        names = [parameter.name for parameter in shown]
        moved = shown.pop(names.index(after_start))
        shown.insert(names.index("start") + 1, moved)
    _show(run, shown)
    return run


def _expanded(parameters: Iterable[inspect.Parameter]) -> list[inspect.Parameter]:
    by_name = inspect.Parameter.KEYWORD_ONLY
    scenario = [
        inspect.Parameter(name, by_name, default=False if name in _FLAGS else None, annotation=annotation)
        for name, annotation in SCENARIO_OPTIONS.items()
    ]
    return [
        shown
        for parameter in parameters
        for shown in (scenario if parameter.name == "given" else [parameter.replace(kind=by_name)])
    ]


def _show(run: Any, parameters: list[inspect.Parameter]) -> None:
    """Have a function show other parameters than it has; typer reads both places."""
    run.__signature__ = inspect.Signature(parameters)
    run.__annotations__ = {p.name: p.annotation for p in parameters}
