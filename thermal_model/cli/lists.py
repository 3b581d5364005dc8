"""The lists in which containers are ranked: hot, full, and the same cold."""

from dataclasses import dataclass
from typing import Annotated

import typer

from geometries.errors import InputError
from geometries.quantities import Dimension
from thermal_model.cli.typed import typed_quantity
from thermal_model.scenario import Scenario

HOT, FULL, COLD = "hot", "hot, full", "cold"

ColdStart = Annotated[str, typer.Option("--cold-start", metavar="TEMP", help="Of the contents in the cold list.")]
ColdUntil = Annotated[str, typer.Option("--cold-until", metavar="TEMP", help="Limit of the cold list.")]


@dataclass(frozen=True, kw_only=True)
class ListOptions:
    """The cold list: start and limit, or none."""

    cold_start: ColdStart = "4C"
    cold_until: ColdUntil = "10C"
    no_cold: Annotated[bool, typer.Option("--no-cold", help="Leave the cold list out.")] = False

    def of(self, scenario: Scenario, limit: float) -> dict[str, tuple[Scenario, float]]:
        """Return conditions and limit of each list.

        One with a common fill has the full fills beside it. The cold list is the same but for start and limit; there is
        none if the conditions asked for are cold already.

        Raises
        ------
        InputError
            If a cold temperature can't be read, or the limit is not above the start.
        """
        lists = {HOT: (scenario, limit)}
        if scenario.fill is not None:
            lists[FULL] = scenario.model_copy(update={"fill": None}), limit
        if self.no_cold or limit > scenario.start:
            return lists
        start = typed_quantity(self.cold_start, Dimension.TEMPERATURE, "--cold-start")
        until = typed_quantity(self.cold_until, Dimension.TEMPERATURE, "--cold-until")
        if not start < until:
            message = f"'{self.cold_until}' is not above the cold start, {self.cold_start}; take a warmer limit"
            raise InputError(message, source="--cold-until")
        return lists | {COLD: (scenario.model_copy(update={"start": start, "preheat": None}), until)}
