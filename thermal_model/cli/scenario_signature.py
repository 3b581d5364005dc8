"""All options of a scenario as one parameter: a command writes `given`, its help page shows every option."""

import functools
import inspect
from collections.abc import Callable, Iterable
from dataclasses import fields
from typing import Any

from thermal_model.cli.record import filled, parameters
from thermal_model.cli.scenario_options import ScenarioOptions


def with_scenario(command: Callable[..., None]) -> Callable[..., None]:
    """Put all options of a scenario in the place of a command's parameter `given`, a ScenarioOptions."""

    @functools.wraps(command)
    def run(**values: Any) -> None:
        typed = {field.name: values.pop(field.name) for field in fields(ScenarioOptions)}
        command(given=filled(ScenarioOptions, typed), **values)

    shown = _expanded(inspect.signature(command).parameters.values())
    run.__signature__ = inspect.Signature(shown)  # type: ignore[attr-defined]
    run.__annotations__ = {parameter.name: parameter.annotation for parameter in shown}
    return run


def _expanded(given: Iterable[inspect.Parameter]) -> list[inspect.Parameter]:
    by_name = inspect.Parameter.KEYWORD_ONLY
    return [
        shown
        for parameter in given
        for shown in (parameters(ScenarioOptions) if parameter.name == "given" else [parameter.replace(kind=by_name)])
    ]
