"""A slice of a grid of designs: which axes are shown, and where the others are held."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from geometries.errors import InputError, at_once, nearest_hint, told_of
from geometries.quantities import parse_quantity
from thermal_model.study.axes import Axis
from thermal_model.study.sampling import Plan
from thermal_model.study.sampling_kind import Sampling

ACROSS, UP, LINES, AT = "--across", "--up", "--lines", "--at"

SAME = 1e-6
"""Of the distance between two values of an axis, within which a typed one is meant. [-]"""


@dataclass(frozen=True)
class Slice:
    """What of a grid is shown.

    Attributes
    ----------
    across : Axis or None
        Numbers along a picture.
    up : Axis or None
        Numbers up a map.
    lines : Axis or None
        A line for each of its values.
    at : mapping of str to int
        Path of an axis that is held, and the place among its points.
    """

    across: Axis | None = None
    up: Axis | None = None
    lines: Axis | None = None
    at: Mapping[str, int] = field(default_factory=dict)

    @property
    def is_given(self) -> bool:
        """Whether anything was chosen."""
        return self.across is not None or bool(self.at)


def slice_of(plan: Plan, across: str | None, up: str | None, lines: str | None, at: Mapping[str, str]) -> Slice:
    """Return a slice by what was typed; axes that are not named are chosen from those that are not held.

    Parameters
    ----------
    plan : Plan
    across, up, lines : str or None
        Paths, or as much of their ends as tells them apart.
    at : mapping of str to str
        Path to the value at which it is held.

    Raises
    ------
    InputError
        In one line each: no grid, no such axis, no such value, or an axis that is to be two things.
    """
    named = {ACROSS: across, UP: up, LINES: lines}
    if not at and not any(named.values()):
        return Slice()
    if plan.sampling is not Sampling.GRID:
        message = f"cuts a grid of every combination; this is '{plan.sampling.value}'"
        raise InputError(message, source=next((o for o, path in named.items() if path), AT))
    if up is not None and lines is not None:
        raise InputError(f"goes without {UP}: a map has no lines; take one of them", source=LINES)
    found = dict(zip(named, at_once(*(_reader(plan, path, option) for option, path in named.items())), strict=True))
    held = dict(at_once(*(lambda path=path, text=text: _held(plan, path, text) for path, text in at.items())))
    _refuse_twice([axis for axis in found.values() if axis is not None], held)
    free = [axis for axis in plan.axes if axis.path not in held and axis not in found.values()]
    first = found[ACROSS] or next((axis for axis in free if axis.is_number and len(axis.points) > 1), None)
    if first is None:
        raise InputError(f"no numbers are left to draw over; hold fewer axes than {', '.join(held)}", source=AT)
    rest = [axis for axis in free if axis is not first]
    family = found[LINES]
    if found[UP] is None and family is None and across is None:
        second = next((axis for axis in rest if axis.is_number and len(axis.points) > 1), None)
        return Slice(first, second, next(iter(rest), None) if second is None else None, held)
    return Slice(first, found[UP], family, held)


def _reader(plan: Plan, path: str | None, option: str) -> Callable[[], Axis | None]:
    def read() -> Axis | None:
        if path is None:
            return None
        axis = _axis(plan, path, option)
        if option != LINES and not (axis.is_number and len(axis.points) > 1):
            message = f"needs numbers, two at least; draw it as {LINES}, or hold it with {AT}"
            raise InputError(message, axis.path, source=option)
        return axis

    return read


def _axis(plan: Plan, path: str, option: str) -> Axis:
    fitting = [axis for axis in plan.axes if axis.path == path] or [
        axis for axis in plan.axes if f".{axis.path}".endswith(f".{path}")
    ]
    if len(fitting) == 1:
        return fitting[0]
    paths = [axis.path for axis in plan.axes]
    ends = [path.rpartition(".")[2] for path in paths]
    message = f"is not varied in this sweep; {nearest_hint(path, (*paths, *ends))}varied are: {', '.join(paths)}"
    if fitting:
        message = f"fits several; write one of: {', '.join(axis.path for axis in fitting)}"
    raise InputError(message, path, source=option)


def _held(plan: Plan, path: str, text: str) -> tuple[str, int]:
    axis = _axis(plan, path, AT)
    texts = [axis.text(float(value)) for value in axis.points]
    if text in texts:
        return axis.path, texts.index(text)
    if axis.is_number and axis.dimension is not None:
        with told_of(axis.path, AT):
            value = parse_quantity(text, axis.dimension)
        place = int(np.argmin(np.abs(axis.points - value)))
        span = float(np.ptp(axis.points)) or max(abs(value), 1.0)
        if abs(axis.points[place] - value) <= SAME * span:
            return axis.path, place
    message = f"was not computed; these were: {', '.join(texts[:12])}{', ...' if len(texts) > 12 else ''}"
    raise InputError(message, axis.path, text, AT)


def _refuse_twice(shown: list[Axis], held: Mapping[str, int]) -> None:
    for axis in shown:
        if shown.count(axis) > 1:
            raise InputError("is to be two things; name another axis for one of them", axis.path, source=ACROSS)
        if axis.path in held:
            raise InputError("is drawn, and can't be held as well", axis.path, source=AT)
