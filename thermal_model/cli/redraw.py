"""`holdtime redraw`: the picture of a result once more, or any slice of a sweep's file, without computing."""

import json
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Annotated

import typer

from geometries.errors import InputError, at_once
from geometries.files import read_text
from thermal_model.cli.picture_options import LookOptions, PictureOptions
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.record import command
from thermal_model.cli.slice_options import SliceOptions
from thermal_model.study.journal import Journal

if TYPE_CHECKING:
    from thermal_model.report.pictures.record import Picture

TABLES = (".csv", ".parquet", ".nc")

LARGEST = 50_000_000
"""Of a result file. [bytes]"""

EXAMPLE = "holdtime redraw result.json --plot tall.png --shape tall --dark"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What `holdtime redraw` is asked."""

    result: Annotated[
        Path,
        typer.Argument(
            metavar="RESULT",
            help="A JSON file that a command with a picture wrote with --output, or the table of a sweep.",
        ),
    ]
    plot: Annotated[Path, typer.Option("--plot", metavar="FILE", help="Draw it here: .png, .svg or .pdf.")]
    looks: LookOptions
    cut: SliceOptions


@command(Asked, EXAMPLE)
def redraw(asked: Asked) -> None:
    """Draw the picture of a result file again, in another shape or look, without computing."""
    options = PictureOptions(plot=asked.plot, looks=asked.looks)
    is_sweep = asked.result.suffix.lower() in TABLES
    picture, *_ = at_once(
        lambda: picture_of_sweep(asked.result, asked.cut) if is_sweep else picture_of(asked.result),
        options.check,
        lambda: None if is_sweep else asked.cut.refuse("chooses from the table of a sweep, .csv, .parquet or .nc"),
    )
    options.draw(picture)
    typer.echo(f"written: {asked.plot}", err=True)


def picture_of_sweep(file: Path, cut: SliceOptions) -> "Picture":
    """Return the picture of a sweep's file, or of a slice of it.

    Raises
    ------
    InputError
        If the file can't be read, or has no such slice.
    """
    from thermal_model.report.sweep_plots import sweep_picture
    from thermal_model.study.sweep_results import read_sweep

    with TemporaryDirectory(prefix="holdtime-") as folder, progress_bar("reading the sweep"):
        sweep, results, scale = read_sweep(file)
        journal = Journal(Path(folder) / "sweep", sweep.inputs(), is_kept=False)
        journal.keep(0, results)
        return sweep_picture(sweep, journal, scale, cut.of(sweep.plan))


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
        raise InputError(f"is no JSON file: {error}", source=str(file)) from None
    shown = document.get("picture") if isinstance(document, dict) else None
    if not isinstance(shown, dict):
        message = "holds no picture; a command that has --plot writes one into its --output FILE.json"
        raise InputError(message, source=str(file))
    return validated(Picture, shown, str(file), needs_unit=False)
