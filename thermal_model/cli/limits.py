"""The limit temperatures of a command: read, chosen when left out, and named by their option in messages."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial

from geometries.errors import InputError, at_once
from geometries.quantities import Dimension, parse_quantity
from thermal_model.cli.typed import typed_quantity
from thermal_model.scenario import Scenario

HOT_LIMIT, COLD_LIMIT = "60 C", "10 C"
"""Limits taken when none is given."""


def read_limits(until: tuple[str, ...] | str | None) -> list[float]:
    """Return the limit temperatures that were typed, all problems told at once. [K]"""
    texts = (until,) if isinstance(until, str) else until or ()
    return at_once(*(partial(typed_quantity, text, Dimension.TEMPERATURE, "--until") for text in texts))


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
    raise InputError(message, source="--until")


@contextmanager
def options_named(until: str = "--until") -> Iterator[None]:
    """Name the options in place of the fields in what is refused within."""
    names = {"until": until, "fill": "--fill", "ice": "--ice", "start": "--start", "cold_until": "--cold-until"}
    try:
        yield
    except InputError as error:
        raise InputError(
            replace(p, source=names[p.field], field="") if p.field in names and not p.source else p
            for p in error.problems
        ) from None
