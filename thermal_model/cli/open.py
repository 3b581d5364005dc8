"""`holdtime open`: the page on one's own machine."""

from pathlib import Path
from typing import Annotated

import typer

from geometries.errors import InputError

EXAMPLE = "holdtime open mykitchen"


def open(  # noqa: A001
    folder: Annotated[
        Path, typer.Argument(metavar="[FOLDER]", help="Of your containers and benches; made if it is not there.")
    ] = Path("."),
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Left out: any that is free.")] = 0,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Print the link only.")] = False,
    phone: Annotated[
        bool, typer.Option("--phone", help="Let a phone on the local network in, by a link that works once.")
    ] = False,
) -> None:
    """Describe, bench and decide in the browser; nothing leaves this machine."""
    from thermal_model.workbench.server import serve

    serve(_there(folder), port=port, wants_browser=not no_browser, wants_phone=phone, say=_say)


def _say(line: str) -> None:
    typer.echo(line)


def _there(folder: Path) -> Path:
    try:
        folder.mkdir(exist_ok=True)
    except FileExistsError:
        raise InputError("is a file; give a folder", source=str(folder)) from None
    except FileNotFoundError:
        raise InputError(f"there is no folder {folder.parent}; make it first", source=str(folder)) from None
    return folder


open.__doc__ = f"{open.__doc__}\n\nExample: {EXAMPLE}"
