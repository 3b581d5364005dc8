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
from thermal_model.cli.plan import plan
from thermal_model.cli.predict import predict
from thermal_model.cli.screen import screen
from thermal_model.cli.sensitivity import sensitivity
from thermal_model.cli.sweep import sweep
from thermal_model.cli.unknowns import unknowns
from thermal_model.cli.validate import validate

app = typer.Typer(
    name="holdtime",
    cls=Commands,
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"]},
)
app.add_typer(bench, name="bench")
app.command()(compare)
app.command()(predict)
app.add_typer(plan, name="plan")
app.command()(carry)
app.command()(check)
app.add_typer(designs, name="designs")
app.command()(explain)
app.command()(calibrate)
app.command()(screen)
app.command()(sensitivity)
app.command()(sweep)
app.command()(unknowns)
app.command()(validate)


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
