"""Dimensions that were not measured: the range each may lie in, as a design file gives it.

    [unsure]
    "body.gap.width" = "3..6 mm"

says that nine in ten such containers have a gap between 3 and 6 mm wide; the design holds the best guess.
"""

import numpy as np

from geometries.container import Container
from geometries.errors import InputError, InputProblem, nearest_hint, refuse
from geometries.numeric import Numeric
from geometries.overrides import with_values
from geometries.ranges import Range, numbers_of, read_range

NINE_IN_TEN = 1.6449
"""Standard normal quantile of 95 %: nine in ten lie within as many standard deviations."""


def unsure_ranges(container: Container) -> dict[str, Range]:
    """Return the ranges of dimensions that were not measured, by path.

    Raises
    ------
    InputError
        If a path leads nowhere, a text is no range, or the design's own value lies outside it; all are named.
    """
    fields = {field.path: field for field in numbers_of(container)}
    found: dict[str, Range] = {}
    problems: list[InputProblem] = []
    for path, text in container.unsure:
        field = fields.get(path)
        if field is None:
            hint = nearest_hint(path, fields)
            problems.append(InputProblem(f"unknown path; {hint}take one that this design has", f"unsure.{path}"))
            continue
        try:
            spread = read_range(field, text, "")
        except InputError as error:
            problems += [InputProblem(problem.message, f"unsure.{path}", text) for problem in error.problems]
            continue
        if field.value is None:
            problems.append(InputProblem("has no value in this design; give a best guess there", f"unsure.{path}"))
        elif not spread.low <= field.value <= spread.high or spread.low <= 0.0:
            message = "must hold the design's own value, and lie above zero"
            problems.append(InputProblem(message, f"unsure.{path}", text))
        else:
            found[path] = spread
    refuse(problems)
    return found


def log_width(spread: Range) -> float:
    """Return the standard deviation of the logarithm of a value that lies in a range nine times in ten. [-]

    Examples
    --------
    >>> from geometries.design_file import load_container
    >>> container = load_container("thin_disc_lid").model_copy(update={"unsure": (("body.gap.width", "2..8 mm"),)})
    >>> round(log_width(unsure_ranges(container)["body.gap.width"]), 3)
    0.421
    """
    return float(np.log(spread.high / spread.low) / (2.0 * NINE_IN_TEN))


def log_widths(container: Container) -> dict[str, float]:
    """Return the same of each dimension that was not measured, by path; one with a value for each lane is known. [-]"""
    fields = {field.path: field for field in numbers_of(container)}
    return {path: log_width(read_range(fields[path], text, "")) for path, text in container.unsure if path in fields}


def with_unsure(container: Container, factors: dict[str, Numeric]) -> Container:
    """Return a container whose unsure dimensions are multiplied by factors, (n,) arrays of lanes; not validated."""
    fields = {field.path: field for field in numbers_of(container)}
    values: dict[str, Numeric] = {}
    for path, factor in factors.items():
        value = fields[path].value
        assert value is not None
        values[path] = value * factor
    return with_values(container, values) if values else container
