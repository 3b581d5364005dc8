"""The command `holdtime`: a table of contents. A command's module is imported when it is called."""

import os
import sys
import warnings
from typing import Annotated, ClassVar

try:
    import typer

    from thermal_model.cli.contract import DEBUG_OPTION, Commands
except KeyboardInterrupt:
    print("holdtime: interrupted; nothing was written", file=sys.stderr)
    sys.exit(130)


class TableOfContents(Commands):
    """One container, several, the bench, many designs, what there is."""

    modules: ClassVar = {
        "predict": "Hold times of a container, and where the heat goes.",
        "carry": "The same in other conditions: night watch, car, ice.",
        "check": "A claim or a standard's test, judged.",
        "compare": "Rank containers, hot and cold, or a whole bench.",
        "explain": "Why one container holds longer than another.",
        "bench": "Readings: new folder, demo, check, reduce.",
        "calibrate": "Let readings correct the model.",
        "validate": "Predict each run of a bench from the others.",
        "report": "One page of a bench, to explore and to pass on.",
        "plan": "Length of runs, soak, repeats, schedule, next run.",
        "sweep": "Hold times of many variants of a design.",
        "sensitivity": "What a hold time depends on.",
        "screen": "Best designs, and the value that holds so long.",
        "optimise": "The best design under constraints, or a front.",
        "redraw": "The picture of a result again, without computing.",
        "bundle": "A bench with all that was made of it, to be made again.",
        "reproduce": "Make a bundle again, and compare.",
        "open": "The page on your own machine: describe, bench, decide.",
        "new": "A design of your own, from a few questions.",
        "designs": "Starter designs: list, show, copy, schema.",
        "unknowns": "What is not known, and how far it may be off.",
    }


app = typer.Typer(
    name="holdtime",
    cls=TableOfContents,
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"]},
)


def _show_version(is_wanted: bool) -> None:
    if is_wanted:
        from thermal_model.version import version

        typer.echo(f"holdtime {version()}")
        raise typer.Exit


@app.callback()
def holdtime(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Print the version.")
    ] = False,
    debug: Annotated[
        bool, typer.Option(DEBUG_OPTION, help="Show the traceback of an internal error; goes anywhere in the line.")
    ] = False,
) -> None:
    """Predict how long an insulated drink container keeps its contents hot or cold."""


def run() -> None:
    """Enter from the shell."""
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "true")  # to look for them reads all that is installed
    if DEBUG_OPTION not in sys.argv:
        warnings.simplefilter("ignore")  # they are for developers; what a user has to know is in the output
    app(prog_name="holdtime")
