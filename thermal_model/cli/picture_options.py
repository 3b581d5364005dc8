"""Options of every picture, as one record: the file, and how it looks."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from geometries.errors import refuse_given
from thermal_model.cli.outputs import check_files
from thermal_model.cli.progress import DRAWING, progress_bar
from thermal_model.report.pictures.look import Appearance, Shape

if TYPE_CHECKING:
    from thermal_model.report.pictures.record import Picture

Plot = Annotated[Path | None, typer.Option("--plot", metavar="FILE", help="Draw a picture: .png, .svg or .pdf.")]


@dataclass(frozen=True, kw_only=True)
class LookOptions:
    """How a picture looks."""

    shape: Annotated[
        Shape | None, typer.Option("--shape", help="Of the picture: 16 to 9, square, or 9 to 16; left out: its own.")
    ] = None
    dark: Annotated[bool, typer.Option("--dark", help="Light letters on a dark ground.")] = False
    large_type: Annotated[bool, typer.Option("--large-type", help="Large letters, for video.")] = False

    @property
    def look(self) -> Appearance:
        """As pictures take it."""
        return Appearance(self.shape, is_dark=self.dark, is_large=self.large_type)

    @property
    def given(self) -> dict[str, object]:
        """What was given, by option."""
        return {"--shape": self.shape, "--dark": self.dark, "--large-type": self.large_type}


@dataclass(frozen=True, kw_only=True)
class PictureOptions:
    """The file of a picture, and how it looks."""

    plot: Plot = None
    looks: LookOptions

    @property
    def look(self) -> Appearance:
        """As pictures take it."""
        return self.looks.look

    def check(self, *others: Path | None, drawing: Path | None = None) -> None:
        """Refuse files that may not be written, and looks of no picture, before the work is done.

        Raises
        ------
        InputError
        """
        check_files(self.plot, *others, drawing=drawing)
        if self.plot is None and drawing is None:
            refuse_given(self.looks.given, "only changes a picture; add --plot FILE")

    def draw(self, picture: "Picture") -> None:
        """Draw the picture if a file was named."""
        if self.plot is not None:
            with progress_bar(DRAWING):
                from thermal_model.report.pictures.draw import draw

                draw(picture, self.plot, self.look)

    def drawn_into(self, document: Mapping[str, Any], picture: "Picture") -> dict[str, Any]:
        """Draw the picture if a file was named; return a result with it, for `holdtime redraw`."""
        self.draw(picture)
        return {**document, "picture": picture.document()}
