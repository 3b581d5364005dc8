"""The limit temperatures of a command: read, chosen when left out, and named by their option in messages."""

from dataclasses import replace

from geometries.errors import InputError, InputProblem
from geometries.quantities import Dimension, parse_quantity
from thermal_model.scenario import Scenario

HOT_LIMIT, COLD_LIMIT = "60 C", "10 C"
"""Limits taken when none is given."""


def read_limits(until: tuple[str, ...]) -> list[float]:
    """Return the limit temperatures that were typed, all problems told at once. [K]"""
    limits, problems = [], []
    for text in until:
        try:
            limits.append(parse_quantity(text, Dimension.TEMPERATURE))
        except ValueError as error:
            problems.append(InputProblem(str(error), source="--until"))
    if problems:
        raise InputError(problems)
    return limits


def default_limit(scenario: Scenario) -> float:
    """Return the first of the usual limits that lies between start and room."""
    profile = scenario.room_profile
    rooms = [scenario.room] if profile is None else [*profile.temperatures]
    low, high = min(scenario.start, *rooms), max(scenario.start, *rooms)
    for text in (HOT_LIMIT, COLD_LIMIT):
        limit = parse_quantity(text, Dimension.TEMPERATURE)
        if low < limit < high:
            return limit
    message = f"give a limit between start and room; neither {HOT_LIMIT} nor {COLD_LIMIT}, the usual ones, lies there"
    raise InputError(InputProblem(message, source="--until"))


def with_option_names(error: InputError) -> InputError:
    """Return an error that names the options in place of the fields."""
    names = {"until": "--until", "fill": "--fill", "ice": "--ice", "start": "--start"}
    return InputError(
        replace(p, source=names[p.field], field="") if p.field in names and not p.source else p for p in error.problems
    )
