"""The lists in which containers are ranked: hot, full, and the same cold."""

from typing import Annotated

import typer

from geometries.errors import InputError
from geometries.quantities import Dimension
from thermal_model.cli.typed import typed_quantity
from thermal_model.scenario import Scenario

HOT, FULL, COLD = "hot", "hot, full", "cold"

ColdStart = Annotated[str, typer.Option("--cold-start", metavar="TEMP", help="Of the contents in the cold list.")]
ColdUntil = Annotated[str, typer.Option("--cold-until", metavar="TEMP", help="Limit of the cold list.")]
NoCold = Annotated[bool, typer.Option("--no-cold", help="Leave the cold list out.")]


def lists_of(
    scenario: Scenario, limit: float, cold: tuple[Scenario, float] | None
) -> dict[str, tuple[Scenario, float]]:
    """Return conditions and limit of each list; one with a common fill has the full fills beside it."""
    conditions = {HOT: (scenario, limit)}
    if scenario.fill is not None:
        conditions[FULL] = scenario.model_copy(update={"fill": None}), limit
    if cold is not None:
        conditions[COLD] = cold
    return conditions


def cold_conditions(
    scenario: Scenario, limit: float, cold_start: str, cold_until: str
) -> tuple[Scenario, float] | None:
    """Return the cold conditions: the same but for start and limit; none if those asked for are cold already.

    Raises
    ------
    InputError
        If a temperature can't be read, or the limit is not above the start.
    """
    if limit > scenario.start:
        return None
    start = typed_quantity(cold_start, Dimension.TEMPERATURE, "--cold-start")
    until = typed_quantity(cold_until, Dimension.TEMPERATURE, "--cold-until")
    if not start < until:
        message = f"'{cold_until}' is not above the cold start, {cold_start}; take a warmer limit"
        raise InputError(message, source="--cold-until")
    return scenario.model_copy(update={"start": start, "preheat": None}), until
