"""How an answer is given: printed as text or as one JSON object, and written to a file; as one record of options."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer

from thermal_model.cli import options
from thermal_model.report.results import json_text, write_json


@dataclass(frozen=True, kw_only=True)
class AnswerOptions:
    """Text or JSON, and the file of the latter."""

    json: options.Json = False
    output: options.Output = None

    def give(
        self,
        text: Callable[[], str],
        document: dict[str, Any],
        *files: Path | None,
        write: Callable[[Path, dict[str, Any]], None] = write_json,
    ) -> None:
        """Write the JSON object to its file if there is one; print it alone, or the text and which files are written.

        Parameters
        ----------
        text : callable
            Returns the text; called if it is printed.
        document : dict
        *files : Path or None
            What else was written.
        write : callable
            Writes the JSON object to the file.
        """
        if self.output is not None:
            write(self.output, document)
        if self.json:
            print_json(document)
            return
        typer.echo(text())
        tell_written(self.output, *files)


def print_json(document: dict[str, Any]) -> None:
    """Print a JSON object and nothing else."""
    typer.echo(json_text(document), nl=False)


def tell_written(*files: Path | None) -> None:
    """Say on standard error which files were written."""
    for path in filter(None, files):
        typer.echo(f"\nwritten: {path}", err=True)
