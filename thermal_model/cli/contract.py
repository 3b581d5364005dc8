"""What every command keeps: one plain line for each problem, exit codes, no traceback, quiet pipes."""

import errno
import gc
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import cache
from importlib import import_module
from typing import Any, ClassVar, TextIO, cast

import typer
from typer.core import TyperGroup

from geometries.errors import CONTROL, InputError, InputProblem, printable, shortened
from thermal_model.cli.outputs import guard_outputs

DONE, INTERNAL_ERROR, BAD_INPUT, INTERRUPTED, BROKEN_PIPE = 0, 1, 2, 130, 141
"""Exit codes; the last two are 128 + the number of the signal, as shells count."""

DEBUG_OPTION = "--debug"


class Commands(TyperGroup):
    """A group of commands that turns every way to end into an exit code."""

    modules: ClassVar[dict[str, str]] = {}
    """Commands in the order of the help page, each with its line there; the module of the same name has the command."""

    def main(self, args: Any = None, *positional: Any, **others: Any) -> Any:
        """Run a command line and exit."""
        arguments = list(sys.argv[1:] if args is None else args)
        wants_traceback = DEBUG_OPTION in arguments
        arguments = [argument for argument in arguments if argument != DEBUG_OPTION]
        others["standalone_mode"] = False
        main = super().main

        def run() -> Any:
            _prepare_streams()
            _refuse_control_characters(arguments)
            try:
                code = main(arguments, *positional, **others)
            except SystemExit as end:
                if isinstance(end.__context__, BrokenPipeError):  # the parser of the line makes a plain 1 of it
                    raise end.__context__ from None
                raise
            sys.stdout.flush()
            if "thermal_model.solver.engine" in sys.modules:
                from thermal_model.cli.compile_ahead import compile_ahead

                compile_ahead()
            return code

        sys.exit(exit_code(run, wants_traceback=wants_traceback))

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        # Names to list and to suggest; the commands themselves come by `get_command`.
        self.commands = {**dict.fromkeys(self.modules, cast("Any", None)), **self.commands}

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Return a command, imported now if it is one of `modules`."""
        if cmd_name in self.modules:
            return _imported(cmd_name, self.modules[cmd_name])
        return super().get_command(ctx, cmd_name)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the list of commands; those of `modules` are not imported for it."""
        if not self.modules:
            super().format_commands(ctx, formatter)
            return
        with formatter.section("Commands"):
            formatter.write_dl([*self.modules.items()])


def _prepare_streams() -> None:
    if sys.stderr is None:
        sys.stderr = _nowhere()
    if sys.stdout is None:
        sys.stdout = _nowhere()
        raise InputError("standard output is closed; send it to a file")
    for stream in (sys.stdout, sys.stderr):
        # A terminal that can't show a degree sign gets a question mark, not an error.
        stream.reconfigure(errors="replace")  # type: ignore[union-attr]


def _refuse_control_characters(arguments: Sequence[str]) -> None:
    """Refuse what a terminal would obey before any of it, a name or a path, is shown there."""
    wrong = [text for text in arguments if CONTROL.search(text) or not {*"\t\n\r"}.isdisjoint(text)]
    if wrong:
        message = "has a control character; type it without, and give such a file another name"
        raise InputError(InputProblem(message, source=shortened(text)) for text in wrong)


def _nowhere() -> TextIO:
    return open(os.devnull, "w", encoding="utf-8")


@contextmanager
def _nothing_collected() -> Iterator[None]:
    """Look for no garbage while modules are imported, nor among what they made after: it lasts as long as the process.

    That is a tenth of a second of processor time for each command.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        if was_on:
            gc.enable()


@cache
def _imported(name: str, short_help: str) -> Any:
    with _nothing_collected():
        found = getattr(import_module(f"thermal_model.cli.{name}"), name)
    holder = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
    if isinstance(found, typer.Typer):
        holder.add_typer(found, name=name, short_help=short_help)
    else:
        holder.command(name, short_help=short_help)(found)
    guard_outputs(holder)
    holder.callback()(lambda: None)  # or a single command would be all there is
    return typer.main.get_group(holder).commands[name]


def exit_code(run: Callable[[], Any], *, wants_traceback: bool) -> int:
    """Call a function and say on standard error, in plain lines, why it failed.

    Parameters
    ----------
    run : callable
        What it returns is the exit code, None or anything but a number counts as done.
    wants_traceback : bool
        Let unexpected exceptions through.
    """
    try:
        code = run()
    except KeyboardInterrupt:
        code = INTERRUPTED
    except BrokenPipeError:  # a reader that has had enough, such as `head`, is no error
        _silence_standard_output()
        code = BROKEN_PIPE
    except Exception as error:
        if wants_traceback and not is_input_error(error):
            raise
        code = _report(error)
    if code == INTERRUPTED:
        _say("interrupted; nothing more was written")
    return code if isinstance(code, int) else DONE


def is_input_error(error: Exception) -> bool:
    """Tell whether the user can mend it: a bad input or a bad option."""
    return isinstance(error, InputError) or hasattr(error, "format_message") or isinstance(error, typer.Abort)


def _report(error: Exception) -> int:
    if isinstance(error, typer.Abort):
        return INTERRUPTED
    if isinstance(error, InputError):
        _say_all(error.problems)
        return BAD_INPUT
    if type(error).__name__ == "NoArgsIsHelpError":
        print(error, file=sys.stderr)
        return BAD_INPUT
    if hasattr(error, "format_message"):
        _say(_usage_line(error))
        return BAD_INPUT
    if isinstance(error, OSError) and error.strerror:
        if error.filename is None and error.errno in _NO_ROOM:
            _silence_standard_output()
            _say(f"standard output: can't be written: {error.strerror}")
        else:
            _say(f"{shortened(error.filename)}: can't be used: {error.strerror}")
        return BAD_INPUT
    _say(f"internal error: {type(error).__name__}: {_one_line(error)}, please report with {DEBUG_OPTION}")
    return INTERNAL_ERROR


_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EBADF, errno.EIO, errno.EROFS)

MOST_PROBLEMS = 20
"""Most lines that say what is wrong."""


def _say_all(problems: Sequence[object]) -> None:
    lines = list(dict.fromkeys(map(str, problems)))
    shown = lines if len(lines) <= MOST_PROBLEMS else lines[: MOST_PROBLEMS - 1]
    for line in shown:
        _say(line)
    if len(shown) < len(lines):
        _say(f"and at least {len(lines) - len(shown)} more problems like these; mend these first")


def _usage_line(error: Any) -> str:
    """Return a wrong option or a missing argument in one line, with the way to help."""
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "holdtime"
    return f"{_refused_value(error) or _one_line(error.format_message())} (see {command} --help)"


def _refused_value(error: Any) -> str:
    """Return option, value and what is allowed where a value was refused by its type; "" for other errors."""
    option, cause = getattr(error, "param", None), error.__cause__
    if option is None or not hasattr(cause, "errors"):
        return ""
    detail = cause.errors(include_url=False)[0]
    name = option.opts[0] if option.opts[0].startswith("-") else option.opts[0].upper()
    if detail["type"] == "value_error":
        return f"{name}: {_one_line(detail['ctx']['error']).rstrip('.')}"
    what = "a number" if "float" in detail["type"] else "a whole number"
    ends = {"at least": getattr(option, "min", None), "at most": getattr(option, "max", None)}
    bounds = " and".join(f" {word} {end}" for word, end in ends.items() if end is not None)
    return f"{name}: {shortened(detail['input'])} is not allowed; it must be {what}{f',{bounds}' if bounds else ''}"


def _one_line(text: object) -> str:
    return " ".join(str(text).split())


def _say(line: str) -> None:
    with suppress(OSError, ValueError):  # standard error itself may be closed or full
        print(f"holdtime: {printable(line)}", file=sys.stderr)


def _silence_standard_output() -> None:
    """Send what is still buffered to nowhere, so that the interpreter does not complain on its way out."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, sys.stdout.fileno())
    except OSError:
        sys.stdout = _nowhere()
    finally:
        os.close(nowhere)
