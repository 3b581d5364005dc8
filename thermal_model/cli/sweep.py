"""`holdtime sweep`: the hold times of many variants of a design."""

import sys
from collections.abc import Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

import typer

from geometries.errors import InputError
from geometries.ranges import Range
from thermal_model.cli import options
from thermal_model.cli.answer import tell_written
from thermal_model.cli.calibration_options import CalibrationOptions
from thermal_model.cli.one_design import OneDesign, read_one_design
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.progress import progress_bar, tell_of_compiling
from thermal_model.cli.question_options import varied_axes
from thermal_model.cli.record import command
from thermal_model.cli.scenario_options import ScenarioOptions
from thermal_model.cli.slice_options import SliceOptions
from thermal_model.prediction import Prediction
from thermal_model.report.results import json_text, warning_lines
from thermal_model.report.sweep_plots import sweep_picture
from thermal_model.report.sweep_text import summary_document, summary_text
from thermal_model.solver.cores import cores
from thermal_model.study.crew import Crew, threads
from thermal_model.study.journal import SUFFIX, Journal, remove_finished
from thermal_model.study.question import Question
from thermal_model.study.sampling import planned
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.sweep import BLOCK, PATHS_UNASKED, Progress, Summary, Sweep, check_size, run, summary_of
from thermal_model.study.sweep_results import read_results
from thermal_model.words.paragraphs import in_blocks

EXAMPLE = "holdtime sweep slim_neck_double_seal --until 80C --vary lid.plug.depth='37..43 mm:3' --vary lid.seals=1,2"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What `holdtime sweep` is asked."""

    design: options.Design
    vary: Annotated[
        tuple[str, ...],
        typer.Option(
            "--vary",
            metavar="PATH=VALUES",
            help="A range with steps, body.neck.mouth_diameter='30..60 mm:7'; numbers, lid.layers.1.depth='8,12 mm'; "
            "texts, body.gap.gas=air,argon; how many of a list stay, lid.seals=0,1,2; a part, lid.plug=kept,none; what "
            "is done, scenario.fill='200..500 mL:4'. Repeatable.",
        ),
    ] = ()
    sample: Annotated[
        Sampling, typer.Option("--sample", help="Every combination; one axis at a time; or a sample of --count.")
    ] = Sampling.GRID
    count: Annotated[int | None, typer.Option("--count", metavar="N", help="Designs of a latin or sobol sample.")] = (
        None
    )
    seed: options.Seed = 1
    until: options.Until = ()
    given: ScenarioOptions
    calibrated: CalibrationOptions
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            metavar="FILE",
            help="Write the results: .csv, .parquet or .nc. Interrupted, the same command goes on where it was.",
        ),
    ] = None
    results: Annotated[
        Path | None,
        typer.Option(
            "--results",
            metavar="FILE",
            help="Take what the same sweep wrote earlier, .csv, .parquet or .nc, instead of computing: for a --plot.",
        ),
    ] = None
    picture: PictureOptions
    cut: SliceOptions
    paths: Annotated[
        bool | None,
        typer.Option(
            "--paths/--no-paths",
            help="Heat loss of every design and where it goes, in --output; left out: up to 10 000 designs.",
        ),
    ] = None
    draws: Annotated[
        int,
        typer.Option(
            "--draws",
            min=0,
            max=100_000,
            metavar="N",
            help="Containers drawn for an interval of every hold time, in --output; left out: no interval.",
        ),
    ] = 0
    quick: Annotated[
        bool,
        typer.Option(
            "--quick",
            help="Hold times within 0.1 % or 10 s, in about half the time: for maps of many designs. The file says so.",
        ),
    ] = False
    chunk: Annotated[int, typer.Option("--chunk", min=1, metavar="N", help="Designs between two writes.")] = BLOCK
    threads: Annotated[
        int | None, typer.Option("--threads", min=1, metavar="N", help="Threads that compute; left out: all cores.")
    ] = None
    workers: Annotated[
        int | None, typer.Option("--workers", min=1, metavar="N", help="Processes of this machine, by Dask, instead.")
    ] = None
    scheduler: Annotated[
        str | None,
        typer.Option("--scheduler", metavar="ADDRESS", help="Workers of a Dask scheduler, 'tcp://10.0.0.5:8786'."),
    ] = None
    json: options.Json = False


@command(Asked, EXAMPLE)
def sweep(wanted: Asked) -> None:
    """Compute the hold times of many variants of a design."""
    found, nominal, one = _read(wanted)
    # The crew first: where it can't be had, no journal is begun.
    with _started(_crew(found, wanted)) as crew, _journal(found, wanted) as journal:
        if wanted.results is not None:
            journal.keep(0, read_results(wanted.results, found))
        else:
            _compute(found, journal, crew, wanted)
        summary = summary_of(found, journal)
        _refuse_if_none_is_possible(found, journal, summary)
        # Before the output file: what fails here leaves the journal, and the same command goes on.
        answer = _answer(found, summary, journal, nominal, one, wants_json=wanted.json)
        if wanted.picture.plot is not None:
            wanted.picture.draw(sweep_picture(found, journal, one.scale, wanted.cut.of(found.plan)))
        if wanted.output is not None:
            from thermal_model.study.sweep_files import write_results

            write_results(found, journal, summary, wanted.output, one.scale)
        journal.remove()
    typer.echo(answer, nl=not wanted.json)
    if not wanted.json:
        tell_written(wanted.output, wanted.picture.plot)


# --- reading --------------------------------------------------------------------------------------------------


def _read(wanted: Asked) -> tuple[Sweep, Prediction, OneDesign]:
    """Return what is to be computed, the design's own prediction, and the design."""
    if wanted.output is not None:
        remove_finished(_partial(wanted.output), wanted.output)
    one = read_one_design(
        wanted.design,
        wanted.given,
        wanted.until,
        wanted.calibrated,
        lambda: wanted.picture.check(wanted.output),
        lambda: _check_output(wanted, 0),
        lambda: _check_crew(wanted),
        lambda: _check_results(wanted),
        lambda: _check_cut(wanted),
    )
    axes = varied_axes(wanted.vary, one.container, one.scenario, wanted.given)
    plan = planned(tuple(axes), wanted.sample, wanted.count, wanted.seed)
    nominal = one.best_guess()
    question = Question.calibrated(one.container, one.scenario, one.limits[0], one.belief)
    found = Sweep(
        question.container,
        one.scenario,
        one.limits,
        plan,
        unknowns=question.unknowns,
        wants_paths=_wants_paths(wanted, plan.count),
        draws=wanted.draws,
        belief=question.belief,
        is_quick=wanted.quick,
    )
    wanted.cut.of(plan)
    check_size(found)
    _check_output(wanted, plan.count)
    _advise(found)
    varied = {axis.path.removeprefix("scenario.") for axis in axes}
    return found, nominal, replace(one, assumed=one.assumed - varied)


def _wants_paths(wanted: Asked, designs: int) -> bool:
    """Return whether heat paths are computed: where a file keeps them, and unless they take long or are not wanted."""
    if wanted.results is not None or wanted.output is None:
        return False
    return designs <= PATHS_UNASKED if wanted.paths is None else wanted.paths


def _check_output(wanted: Asked, designs: int) -> None:
    if wanted.output is not None:
        from thermal_model.study.sweep_files import check_format

        check_format(wanted.output, designs)


def _check_results(wanted: Asked) -> None:
    asked = {"--paths": wanted.paths, "--draws": wanted.draws or None}
    for option, given in asked.items():
        if given and wanted.output is None:
            raise InputError("goes into a file; add --output FILE", source=option)
    if wanted.results is not None and wanted.output is not None:
        raise InputError("goes without --output; what it holds is there already", source="--results")


def _check_cut(wanted: Asked) -> None:
    if wanted.picture.plot is None:
        wanted.cut.refuse("chooses what is drawn; add --plot FILE")


def _check_crew(wanted: Asked) -> None:
    options = {"--threads": wanted.threads, "--workers": wanted.workers, "--scheduler": wanted.scheduler}
    given = [name for name, value in options.items() if value is not None]
    if len(given) > 1:
        raise InputError(f"goes without {' and '.join(given[:-1])}; take one of them", source=given[-1])


def _advise(found: Sweep) -> None:
    """Say on standard error what is done otherwise than a reader may think."""
    if found.plan.sampling not in (Sampling.LATIN, Sampling.SOBOL):
        return
    if any(isinstance(axis.variation, Range) and axis.variation.count is not None for axis in found.plan.axes):
        typer.echo("holdtime: note: a sample draws from whole ranges; the steps behind ':' are not used", err=True)
    count = found.plan.count
    if found.plan.sampling is Sampling.SOBOL and count & (count - 1):
        near = 1 << (count.bit_length() - 1)
        message = f"a Sobol' sequence covers the ranges evenly at powers of two, such as {near} or {2 * near}"
        typer.echo(f"holdtime: note: {message}", err=True)


# --- computing ------------------------------------------------------------------------------------------------


def _partial(output: Path) -> Path:
    """Return where a sweep keeps what is done until its output is there."""
    return output.with_name(output.name + SUFFIX)


@contextmanager
def _journal(found: Sweep, wanted: Asked) -> Iterator[Journal]:
    """Yield the journal beside the output, or one that goes with this run if there is no output."""
    import tempfile

    if wanted.output is None:
        with tempfile.TemporaryDirectory(prefix="holdtime-") as folder:
            yield Journal(Path(folder) / "sweep", found.inputs(), is_kept=False)
        return
    journal = Journal(_partial(wanted.output), found.inputs())
    try:
        yield journal
    except KeyboardInterrupt:
        typer.echo(f"holdtime: what is done is kept in {journal.folder}; the same command goes on there", err=True)
        raise


@contextmanager
def _started(crew: AbstractContextManager[Crew | None]) -> Iterator[Crew | None]:
    """Yield the workers once they are there; someone who watches sees that they are waited for."""
    with ExitStack() as stack:
        with progress_bar("starting the workers"):
            workers = stack.enter_context(crew)
        yield workers


def _crew(found: Sweep, wanted: Asked) -> AbstractContextManager[Crew | None]:
    """Return the workers; None stands for this thread alone."""
    blocks = sum(1 for _ in found.blocks(0, found.plan.count))
    if wanted.scheduler is not None:
        from thermal_model.study.cluster import workers_of

        return workers_of(wanted.scheduler)
    if wanted.workers is not None:
        from thermal_model.study.cluster import local_workers

        return local_workers(min(wanted.workers, blocks))

    if wanted.threads is not None:
        return threads(min(wanted.threads, blocks))
    # The plain stepper gains nothing by threads; a single block is shared out among the cores by the compiled one.
    return threads(min(cores(), blocks)) if found.is_compiled and blocks > 1 else nullcontext()


def _compute(found: Sweep, journal: Journal, crew: Crew | None, wanted: Asked) -> None:
    done = sum(stop - start for start, stop in journal.chunks())
    if done:
        typer.echo(f"holdtime: note: goes on after {done} of {found.plan.count} designs", err=True)
    with _bar(found.plan.count) as progress:
        run(found, journal, chunk=wanted.chunk, progress=progress, crew=crew)


@contextmanager
def _bar(total: int) -> Iterator[Progress]:
    """Yield a function to call with numbers of designs done; someone who watches sees rate and time left."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    tell_of_compiling()
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    rate = TextColumn("designs  {task.fields[rate]}")
    columns = (BarColumn(), MofNCompleteColumn(), rate, TimeRemainingColumn(), TextColumn("left"))
    with Progress(*columns, console=Console(stderr=True), transient=True, speed_estimate_period=120.0) as bar:
        task = bar.add_task("", total=total, rate="")
        first = True

        def show(count: int) -> None:
            nonlocal first
            if first:  # those done before say nothing of the speed
                bar.reset(task, completed=count, total=total, rate="")
                first = False
                return
            bar.advance(task, count)
            speed = bar.tasks[0].speed
            bar.update(task, rate=f"{speed:.3g}/s" if speed else "")

        yield show


def _refuse_if_none_is_possible(found: Sweep, journal: Journal, summary: Summary) -> None:
    if summary.valid:
        return
    journal.remove()
    reason, (_, first) = max(summary.reasons.items(), key=lambda item: item[1][0])
    message = f"none of the {found.plan.count} designs is possible; {found.message(first) or reason}"
    raise InputError(message, source="--vary")


# --- showing --------------------------------------------------------------------------------------------------


def _answer(
    found: Sweep, summary: Summary, journal: Journal, nominal: Prediction, one: OneDesign, *, wants_json: bool
) -> str:
    if not wants_json:
        text = summary_text(found, summary, journal, nominal, one.assumed, one.scale)
        return in_blocks([one.calibrated.line(), text])
    document = summary_document(found, summary, one.scale) | {"warnings": warning_lines(nominal)}
    document["picture"] = sweep_picture(found, journal, one.scale).document()
    return json_text(document | one.calibrated.entry())
