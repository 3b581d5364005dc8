"""`holdtime redraw`: the picture of a result once more, without computing."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from geometries.errors import InputError, InputProblem, at_once
from geometries.files import read_text
from thermal_model.cli.picture_options import LookOptions, PictureOptions
from thermal_model.cli.record import command

if TYPE_CHECKING:
    from thermal_model.report.pictures.record import Picture

LARGEST = 50_000_000
"""Of a result file. [bytes]"""

EXAMPLE = "holdtime redraw result.json --plot tall.png --shape tall --dark"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What `holdtime redraw` is asked."""

    result: Annotated[
        Path, typer.Argument(metavar="RESULT", help="A JSON file that a command with a picture wrote with --output.")
    ]
    plot: Annotated[Path, typer.Option("--plot", metavar="FILE", help="Draw it here: .png, .svg or .pdf.")]
    looks: LookOptions


@command(Asked, EXAMPLE)
def redraw(asked: Asked) -> None:
    """Draw the picture of a result file again, in another shape or look, without computing."""
    options = PictureOptions(plot=asked.plot, looks=asked.looks)
    picture, _ = at_once(lambda: picture_of(asked.result), options.check)
    options.draw(picture)
    typer.echo(f"written: {asked.plot}", err=True)


def picture_of(file: Path) -> "Picture":
    """Return the picture that a result file holds.

    Raises
    ------
    InputError
        If it is no JSON file, holds no picture, or one that is damaged.
    """
    from geometries.validation import validated
    from thermal_model.report.pictures.record import Picture

    try:
        document = json.loads(read_text(file, LARGEST))
    except (ValueError, RecursionError) as error:
        raise InputError(InputProblem(f"is no JSON file: {error}", source=str(file))) from None
    shown = document.get("picture") if isinstance(document, dict) else None
    if not isinstance(shown, dict):
        message = "holds no picture; a command that has --plot writes one into its --output FILE.json"
        raise InputError(InputProblem(message, source=str(file)))
    return validated(Picture, shown, str(file), needs_unit=False)
