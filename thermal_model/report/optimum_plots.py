"""The picture of a front of two wishes."""

import numpy as np

from geometries.numeric import Array
from thermal_model.report.headings import made_by
from thermal_model.report.pictures.numbers import known
from thermal_model.report.pictures.record import Curves, Line, Picture
from thermal_model.study.measures import Measure
from thermal_model.study.optimum.optimise import BestDesigns
from thermal_model.words.numbers import HOUR


def optimum_picture(found: BestDesigns, given: str, seed: int) -> Picture:
    """Return the picture of the best designs: the first wish over the second."""
    first, second = found.space.objectives[:2]
    values = np.array([found.values(number)[:2] for number in range(len(found.designs))])
    order = np.argsort(values[:, 1])
    x, y = _shown(second, values[order, 1]), _shown(first, values[order, 0])
    container = found.space.questions[0].container
    line = Line(x=known(x), y=known(y), tone="more", has_dots=True)
    return Picture(
        subject=f"{container.name}, best designs",
        title=f"{container.called}: {first.label} against {second.label}",
        given=given,
        made_by=made_by(f"{found.evaluations} designs computed, seed {seed}"),
        panels=(
            Curves(x_label=_label(second), y_label=_label(first), lines=(line,), key=(("more", "none beats these"),)),
        ),
    )


def _shown(measure: Measure, values: Array) -> Array:
    if _is_time(measure):
        return np.asarray(values / HOUR)
    return np.array([measure.shown(float(value)) for value in values])


def _label(measure: Measure) -> str:
    return f"{measure.label} [{'h' if _is_time(measure) else measure.unit or '-'}]"


def _is_time(measure: Measure) -> bool:
    return measure.name.startswith("hold")
