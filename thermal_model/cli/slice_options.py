"""Options that choose a slice of a sweep for a picture, as one record."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from geometries.errors import refuse_given, refuse_repeated
from thermal_model.cli.settings import assignment

if TYPE_CHECKING:
    from thermal_model.study.sampling import Plan
    from thermal_model.study.sweep_slice import Slice


@dataclass(frozen=True, kw_only=True)
class SliceOptions:
    """Which axes of a sweep are drawn, and where the others are held."""

    across: Annotated[
        str | None,
        typer.Option("--across", metavar="PATH", help="Of a sweep: numbers along the picture."),
    ] = None
    up: Annotated[
        str | None, typer.Option("--up", metavar="PATH", help="Numbers up a map; without it lines are drawn.")
    ] = None
    lines: Annotated[
        str | None, typer.Option("--lines", metavar="PATH", help="What a line is drawn for each value of.")
    ] = None
    at: Annotated[
        tuple[str, ...],
        typer.Option("--at", metavar="PATH=VALUE", help="Where another axis is held, not at its middle; repeatable."),
    ] = ()

    def refuse(self, message: str) -> None:
        """Refuse every option that was given.

        Raises
        ------
        InputError
        """
        given = {"--across": self.across, "--up": self.up, "--lines": self.lines, "--at": self.at}
        refuse_given(given, message)

    def of(self, plan: "Plan") -> "Slice":
        """Return the slice of a plan.

        Raises
        ------
        InputError
        """
        from thermal_model.study.sweep_slice import slice_of

        held = [assignment(text, "--at", "body.gap.width='4 mm'") for text in self.at]
        refuse_repeated([path for path, _ in held], "is held twice; hold it once", "--at")
        return slice_of(plan, self.across, self.up, self.lines, dict(held))
