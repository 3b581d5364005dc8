"""The command `holdtime`: a table of contents. What is slow to import is imported by the command that needs it."""

import sys
import warnings
from typing import Annotated

import typer

from thermal_model.cli.bench import bench
from thermal_model.cli.calibrate import calibrate
from thermal_model.cli.carry import carry
from thermal_model.cli.check import check
from thermal_model.cli.compare import compare
from thermal_model.cli.contract import DEBUG_OPTION, Commands
from thermal_model.cli.designs import designs
from thermal_model.cli.explain import explain
from thermal_model.cli.new import new
from thermal_model.cli.plan import plan
from thermal_model.cli.predict import predict
from thermal_model.cli.screen import screen
from thermal_model.cli.sensitivity import sensitivity
from thermal_model.cli.sweep import sweep
from thermal_model.cli.unknowns import unknowns
from thermal_model.cli.validate import validate


class Contents(Commands):
    """One container, several, the bench, many designs, what there is."""

    order = (
        *("predict", "carry", "check", "compare", "explain"),
        *("bench", "calibrate", "validate", "plan"),
        *("sweep", "sensitivity", "screen"),
        *("new", "designs", "unknowns"),
    )


app = typer.Typer(
    name="holdtime",
    cls=Contents,
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"]},
)
app.command(short_help="Hold times of a container, and where the heat goes.")(predict)
app.command(short_help="The same in other conditions: night watch, car, ice.")(carry)
app.command(short_help="A claim or a standard's test, judged.")(check)
app.command(short_help="Rank containers, hot and cold, or a whole bench.")(compare)
app.command(short_help="Why one container holds longer than another.")(explain)
app.add_typer(bench, name="bench", short_help="Readings: new folder, demo, check, reduce.")
app.command(short_help="Let readings correct the model.")(calibrate)
app.command(short_help="Predict each run of a bench from the others.")(validate)
app.add_typer(plan, name="plan", short_help="Length of runs, soak, repeats, schedule, next run.")
app.command(short_help="Hold times of many variants of a design.")(sweep)
app.command(short_help="What a hold time hangs on.")(sensitivity)
app.command(short_help="Best designs, and the value that holds so long.")(screen)
app.command(short_help="A design of your own, from a few questions.")(new)
app.add_typer(designs, name="designs", short_help="Starter designs: list, show, copy, schema.")
app.command(short_help="What is not known, and how far it may be off.")(unknowns)


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
    if DEBUG_OPTION not in sys.argv:
        warnings.simplefilter("ignore")  # they are for developers; what a user has to know is in the output
    app(prog_name="holdtime")
