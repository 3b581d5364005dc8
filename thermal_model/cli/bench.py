"""`holdtime bench`: an empty bench folder, an invented one, what is wrong in one, and what follows without a model."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from geometries.files import new_folder
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.read.gaps import missing_lines
from thermal_model.bench.reduce.reduction import reduce_bench
from thermal_model.bench.write.demo import write_demo
from thermal_model.bench.write.descriptor import is_current, write_descriptor
from thermal_model.bench.write.template import write_template
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions, print_json
from thermal_model.cli.limits import read_limits
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.cli.record import command
from thermal_model.report.bench_plots import reduction_picture
from thermal_model.report.bench_text import check_document, check_text, reduction_document, reduction_text
from thermal_model.words.numbers import scale_of

bench = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Bench readings: a new folder to fill in, a demo, a check, and what follows without a model.",
)

NewFolder = Annotated[Path, typer.Argument(metavar="FOLDER", help="Made if it is not there; must be empty.")]
Folder = Annotated[Path, typer.Argument(metavar="FOLDER", help="A bench folder: holdtime bench new makes one.")]


@bench.command()
def new(folder: NewFolder) -> None:
    """Make an empty bench folder whose files explain themselves.

    Example: holdtime bench new mybench
    """
    with new_folder(folder) as growing:
        write_template(growing, folder.resolve().name)
    typer.echo(f"written: {folder}/bench.toml, runs.csv, readings.csv and more; fill them in, then:", err=True)
    typer.echo(f"  holdtime bench check {folder}", err=True)


@bench.command()
def demo(
    folder: NewFolder,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Another seed makes other pieces and readings.")] = 1,
) -> None:
    """Invent a bench whose truth is known: a ferry's galley, 4 containers, 2 probes, 17 runs, 3 gone wrong.

    Example: holdtime bench demo galley_bench
    """
    with new_folder(folder) as growing, progress_bar("inventing readings"):
        write_demo(growing, seed)
    typer.echo(f"written: {folder}, invented; what is true stands in {folder}/truth.json", err=True)


@bench.command()
def check(
    folder: Folder,
    descriptor: Annotated[
        bool, typer.Option("--descriptor", help="Write datapackage.json anew, to describe the tables as they are.")
    ] = False,
    json: options.Json = False,
) -> None:
    """Say what is wrong in a bench folder, what is missing, and what is taken for granted.

    Example: holdtime bench check galley_bench
    """
    with progress_bar(READING):
        found = read_bench(folder)
        missing = missing_lines(found)
        is_described = descriptor or is_current(folder)
    if descriptor:
        write_descriptor(folder)
    elif not is_described:
        missing.append("datapackage.json does not describe the tables as they are; write it with --descriptor")
    if json:
        print_json(check_document(found, missing))
    else:
        typer.echo(check_text(found, missing))


@dataclass(frozen=True, kw_only=True)
class Reduce:
    """What `holdtime bench reduce` is asked."""

    folder: Folder
    until: options.Until = ()
    picture: PictureOptions
    answer: AnswerOptions


@bench.command("reduce")
@command(Reduce, "holdtime bench reduce galley_bench --until 60C")
def reduce(wanted: Reduce) -> None:
    """Say what follows from the readings without a model: hold times, thermometers, repeats, runs gone wrong."""
    wanted.picture.check(wanted.answer.output)
    with progress_bar(READING):
        reduction = reduce_bench(read_bench(wanted.folder), read_limits(wanted.until))
    scale = scale_of(*wanted.until)
    document = wanted.picture.drawn_into(reduction_document(reduction), reduction_picture(reduction, scale))
    wanted.answer.give(lambda: reduction_text(reduction, scale), document, wanted.picture.plot)
