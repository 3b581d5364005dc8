"""`holdtime reproduce`: a bundle's results made again, and compared."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from geometries.errors import InputError, at_once
from geometries.quantities import Dimension
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.outputs import check_files
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.record import command
from thermal_model.cli.typed import typed_quantity
from thermal_model.words.documents import plain

if TYPE_CHECKING:
    from thermal_model.bundle.reproduce import Reproduction

EXAMPLE = "holdtime reproduce galley.zip"

OTHERWISE = 3
"""Exit code of results that did not come out the same."""

MOST_LINES = 20


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What `holdtime reproduce` is asked."""

    bundle: Annotated[Path, typer.Argument(metavar="BUNDLE", help="A .zip file or folder of holdtime bundle.")]
    tolerance: Annotated[
        str, typer.Option("--tolerance", metavar="%", help="By how much hold times and their intervals may differ.")
    ] = "0.5%"
    answer: AnswerOptions


@command(Asked, EXAMPLE)
def reproduce(asked: Asked) -> None:
    """Make a bundle's calibration and rankings again, and say where they differ; the exit code is 3 if they do."""
    from thermal_model.bundle.reproduce import reproduce as reproduced
    from thermal_model.bundle.unpack import opened

    tolerance, _ = at_once(lambda: _tolerance(asked.tolerance), lambda: check_files(None, asked.answer.output))
    with opened(asked.bundle) as folder, progress_bar("calibrating and ranking") as show:
        found = reproduced(folder, tolerance=tolerance, progress=show)
    asked.answer.give(lambda: _text(found, tolerance), _document(found, tolerance))
    if not found.is_same:
        raise typer.Exit(OTHERWISE)


def _tolerance(text: str) -> float:
    tolerance = typed_quantity(text, Dimension.FRACTION, "--tolerance")
    if not 0.0 <= tolerance <= 1.0:
        raise InputError(f"'{text}' is not allowed; from 0 to 100 %", source="--tolerance")
    return tolerance


def _document(found: "Reproduction", tolerance: float) -> dict[str, Any]:
    from thermal_model.bundle.reproduce import WIDTH_TOLERANCE

    return {
        "is_same": found.is_same,
        "differences": [{"where": one.where, "what": one.what} for one in found.differences],
        "lists_of_the_same_order_and_tiers": list(found.same_lists),
        "numbers_compared": found.compared,
        "largest_relative_difference_of_times": plain(found.largest_time),
        "allowed_relative_difference_of_times": tolerance,
        "largest_difference_of_unknowns": plain(found.largest_unknown),
        "allowed_difference_of_unknowns": WIDTH_TOLERANCE,
        "versions_that_differ": {name: {"then": then, "now": now} for name, (then, now) in found.versions.items()},
    }


def _text(found: "Reproduction", tolerance: float) -> str:
    from thermal_model.bundle.reproduce import WIDTH_TOLERANCE

    heading = (
        "Reproduced: the same rankings, and all numbers within what is allowed."
        if found.is_same
        else f"Not reproduced: {len(found.differences)} differences."
    )
    lines = [heading]
    lines += [f"  {one.where}: {one.what}" for one in found.differences[:MOST_LINES]]
    if len(found.differences) > MOST_LINES:
        lines.append(f"  and {len(found.differences) - MOST_LINES} more; --json has all of them")
    times, unknowns = f"{100.0 * found.largest_time:.2g} %", f"{found.largest_unknown:.2g}"
    if found.same_lists:
        lines.append(f"  Same order and same tiers: {'; '.join(found.same_lists)}.")
    lines.append(f"  {found.compared} numbers compared.")
    lines.append(f"  Hold times and ends of intervals: at most {times} apart, allowed {100.0 * tolerance:g} %.")
    lines.append(f"  What a ruler can't see: {unknowns} of the assumed width apart, allowed {WIDTH_TOLERANCE:g}.")
    lines += [f"  {name}: {then} in the bundle, {now} here" for name, (then, now) in found.versions.items()]
    return "\n".join(lines)
