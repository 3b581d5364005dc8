"""Where a command writes: every option that names an output is held to the same rules.

No input is written over, whatever the options; a file that is there is replaced with --force alone; no two options
name one file. All of it is checked before the work is done, and again when a file is put in its place.
"""

import inspect
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from functools import partial, wraps
from pathlib import Path
from typing import Annotated, Any

import typer

import geometries
import thermal_model
from geometries.errors import InputProblem, at_once, refuse
from geometries.files import check_target, is_there, write_rules

OUTPUTS = frozenset({"plot", "drawing", "csv", "calendar", "output", "target", "save"})
"""Names of the parameters that name a file to write."""

Force = Annotated[bool, typer.Option("--force", help="Replace output files that are there.")]


def guard_outputs(app: typer.Typer) -> None:
    """Hold every command of an application, and of those below it, to the rules of its outputs."""
    for below in app.registered_groups:
        assert below.typer_instance is not None
        guard_outputs(below.typer_instance)
    for command in app.registered_commands:
        assert command.callback is not None
        command.callback = guarded(command.callback)


def guarded(run: Callable[..., Any]) -> Callable[..., Any]:
    """Return a command that writes by the rules, with --force if it has outputs; others stay as they are."""
    signature = inspect.signature(run, eval_str=True)
    names = signature.parameters.keys()
    if not names & OUTPUTS:
        return run

    @wraps(run)
    def command(force: bool, **given: Any) -> Any:
        with _rules(given, may_replace=force):
            return run(**given)

    added = inspect.Parameter("force", inspect.Parameter.KEYWORD_ONLY, default=False, annotation=Force)
    shown = [parameter.replace(kind=added.kind) for parameter in signature.parameters.values()]
    command.__signature__ = signature.replace(parameters=[*shown, added])  # type: ignore[attr-defined]
    command.__annotations__ = {**run.__annotations__, "force": Force}
    return command


def _rules(given: Mapping[str, Any], *, may_replace: bool) -> AbstractContextManager[None]:
    paths = list(_paths(value for name, value in given.items() if name not in OUTPUTS))
    own = [Path(package.__path__[0]) for package in (geometries, thermal_model)]
    return write_rules(
        may_replace=may_replace,
        inputs=[path for path in paths if not path.is_dir()],
        folders=[*own, *(path for path in paths if path.is_dir())],
    )


def _paths(values: Iterator[Any] | Sequence[Any]) -> Iterator[Path]:
    """Yield what may be the name of a file or folder that is there."""
    for value in values:
        if isinstance(value, list | tuple):
            yield from _paths(value)
        elif isinstance(value, Path | str) and value and is_there(Path(value)):
            yield Path(value)


def check_files(plot: Path | None, *others: Path | None, drawing: Path | None = None) -> None:
    """Refuse files that can't or may not be written before the work is done, not after.

    Parameters
    ----------
    plot, drawing : Path, optional
        Pictures.
    others : Path, optional

    Raises
    ------
    InputError
        Naming each, and files that two options name.
    """
    wanted = [path for path in (plot, drawing, *others) if path is not None]
    pictures = [path for path in (plot, drawing) if path is not None]
    at_once(
        *(partial(_check_picture, path) for path in pictures),
        *(partial(check_target, path) for path in wanted),
        lambda: _refuse_one_file(wanted),
    )


def _check_picture(path: Path) -> None:
    from thermal_model.report.pictures.look import check_format

    check_format(path)


def _refuse_one_file(paths: Sequence[Path]) -> None:
    targets = [_resolved(path) for path in paths]
    refuse(
        InputProblem("is named by two options; give each its own file", source=str(path))
        for number, path in enumerate(paths)
        if targets[number] in targets[:number]
    )


def _resolved(path: Path) -> Path:
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError):
        return path.absolute()
