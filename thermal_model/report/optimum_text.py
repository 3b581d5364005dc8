"""The best designs in plain words, as a JSON object and as a CSV."""

import json
from typing import Any

import numpy as np

from geometries import container as geometry
from geometries.quantities import UNITS, Dimension
from geometries.ranges import Range
from thermal_model.report.screen_text import constraint_documents, held_text
from thermal_model.study.axes import Axis
from thermal_model.study.measures import MEASURES, Constraint, Measure
from thermal_model.study.optimum.designs import DesignSpace
from thermal_model.study.optimum.nearness import SMALL_MOVE
from thermal_model.study.optimum.optimise import SAME, BestDesigns
from thermal_model.study.optimum.pieces import SHARE
from thermal_model.version import version
from thermal_model.words.cells import csv_text
from thermal_model.words.dimensions import dimension_words, step_of
from thermal_model.words.documents import entries, plain
from thermal_model.words.numbers import aligned, duration_text, percent
from thermal_model.words.paragraphs import in_blocks

MOST_OTHERS = 3
"""Designs of other kinds that are told beside the best."""

WORTH_TELLING = 1e-6
"""Of the objective: what more room is worth is told from there on. [-]"""

FRONT_WORDS = (
    "Each of them is the best in the first wish that has no more of the others, refined as a single best design "
    "is;\nbetween two of them lie more, which --count finds."
)


def optimum_text(found: BestDesigns) -> str:
    """Return what was found, what holds it back, and how sure it is."""
    blocks = [_asked(found.space)]
    if found.was_stopped:
        blocks.append("Stopped before the end; this is the best so far, not refined.")
    if len(found.space.objectives) > 1 and not found.was_stopped:
        blocks += [_front_table(found), FRONT_WORDS]
    else:
        blocks += [_design_table(found), *_held_back(found), *_others(found)]
    return in_blocks([*blocks, _promises_text(found), _sureness(found)])


def _asked(space: DesignSpace) -> str:
    wanted = " and ".join(_wish(measure) for measure in space.objectives)
    bounds = "; ".join(constraint.text() for constraint in space.constraints)
    varied = "; ".join(_varied(axis, space) for axis in space.axes)
    return f"Wanted: {wanted}" + (f"\nUnder: {bounds}" if bounds else "") + f"\nVaried: {varied}"


def _wish(measure: Measure) -> str:
    if measure.dimension is Dimension.DURATION:
        return f"longest {measure.label}"
    return f"{'least' if measure.less_is_better else 'largest'} {measure.label}"


def _varied(axis: Axis, space: DesignSpace) -> str:
    name = _name(axis, space)
    if isinstance(axis.variation, Range) and axis.variation.count is None:
        return f"{name} {axis.text(axis.variation.low)} to {axis.text(axis.variation.high)}"
    return f"{name} {', '.join(axis.text(point) for point in axis.points)}"


def _name(axis: Axis, space: DesignSpace) -> str:
    return dimension_words(axis.path, space.questions[0].container)[0] if axis.is_number else axis.path


# --- one design -------------------------------------------------------------------------------------------------


def _design_table(found: BestDesigns) -> str:
    space, chosen, container = found.space, found.designs[0], found.container(0)
    texts = space.texts_of(chosen.points, 0)
    rows = [
        (measure.label, measure.text(found.values()[number]), _counted_how(space, measure))
        for number, measure in enumerate(space.objectives)
    ]
    shown = {measure.name for measure in space.objectives}
    bounded = {measure.name: (measure, value) for measure, value in found.bounded() if measure.name not in shown}
    rows += [
        (measure.label, measure.text(value) if np.isfinite(value) else held_text(value), _counted_how(space, measure))
        for measure, value in bounded.values()
    ]
    shown |= set(bounded)
    rows += [(_name(axis, space), texts.get(axis.path, "none"), axis.path) for axis in space.axes]
    rows += [
        (measure.label, measure.text(float(measure.of(container, space.questions[0].scenario))), "")
        for name, measure in MEASURES.items()
        if name not in shown and name in ("mass", "height", "diameter", "capacity")
    ]
    return f"The best design found\n{aligned(rows)}"


def _counted_how(space: DesignSpace, measure: Measure) -> str:
    if not space.pieces.count or measure.dimension is not Dimension.DURATION:
        return ""
    return f"{percent(space.pieces.share)} of the pieces hold it"


def _held_back(found: BestDesigns) -> list[str]:
    space, chosen = found.space, found.designs[0]
    if chosen.nearness is None:
        return []
    size = abs(float(chosen.values.objectives[0, 0]))
    rows: list[tuple[str, ...]] = []
    for number, worth in chosen.nearness.constraints.items():
        constraint = space.constraints[number]
        gain, step = _worth_of_bound(constraint, worth)
        if gain > WORTH_TELLING * size:
            rows.append((constraint.text(), f"{step} {'more' if constraint.is_upper else 'less'}", _gain(space, gain)))
    for number, worth in chosen.nearness.bounds.items():
        axis = space.numbers[number]
        assert isinstance(axis.variation, Range)
        is_upper = chosen.nearness.is_upper[number]
        end = axis.variation.high if is_upper else axis.variation.low
        length, text = step_of(end, axis.dimension)
        gain = worth * length / (axis.variation.high - axis.variation.low)
        if gain > WORTH_TELLING * size:
            what = f"{_name(axis, space)} at the end of its range, {axis.text(end)}"
            rows.append((what, f"{text} {'more' if is_upper else 'less'}", _gain(space, gain)))
    if not rows:
        return ["Nothing that was set holds it back: the best lies inside all ranges and bounds."]
    return [f"What holds it back, and what a little more room would give\n{aligned(rows)}"]


def _worth_of_bound(constraint: Constraint, worth: float) -> tuple[float, str]:
    """Return by how much the objective would be better for a step of room in a constraint, and the step."""
    dimension = constraint.measure.dimension
    step, text = (600.0, "10 min") if dimension is Dimension.DURATION else step_of(constraint.bound, dimension)
    return worth * step / max(abs(constraint.bound), 1e-9), text


def _gain(space: DesignSpace, gain: float) -> str:
    measure = space.objectives[0]
    if measure.dimension is Dimension.DURATION:
        return f"{gain / 60.0:+.2g} min"
    sign = -1.0 if measure.less_is_better else 1.0
    factor = 1.0 if measure.dimension is None else float(UNITS[measure.dimension][0].factor)
    return f"{sign * gain / factor:+.2g} {measure.unit}".strip()


def _others(found: BestDesigns) -> list[str]:
    space, others = found.space, found.next_kinds[:MOST_OTHERS]
    if not others:
        return []
    sign = 1.0 if space.objectives[0].less_is_better else -1.0
    rows = []
    for end in others:
        texts = space.texts_of(end.points, 0)
        kinds = ", ".join(f"{axis.path} {texts[axis.path]}" for axis in space.counted)
        rows.append((kinds, space.objectives[0].text(sign * end.objective)))
    return [f"The best with something else counted or chosen\n{aligned(rows)}"]


# --- a front ----------------------------------------------------------------------------------------------------


def _front_table(found: BestDesigns) -> str:
    space = found.space
    head = (*(measure.label for measure in space.objectives), *(_name(axis, space) for axis in space.axes))
    rows: list[tuple[str, ...]] = [head]
    for place, chosen in enumerate(found.designs):
        texts = space.texts_of(chosen.points, 0)
        values = [measure.text(value) for measure, value in zip(space.objectives, found.values(place), strict=True)]
        rows.append((*values, *(_short(texts.get(axis.path, "none")) for axis in space.axes)))
    return f"None of these is beaten by another in everything that is wanted\n{aligned(rows)}"


def _short(text: str) -> str:
    number, _, unit = text.partition(" ")
    try:
        return f"{float(number):.4g} {unit}".strip()
    except ValueError:
        return text


# --- how sure ---------------------------------------------------------------------------------------------------


def _promises_text(found: BestDesigns) -> str:
    lines = []
    for chosen in found.designs if len(found.designs) == 1 else found.designs[:: max(len(found.designs) // 4, 1)]:
        for promise in chosen.promises:
            what = "" if promise.name in ("hold", SHARE) else f" in {promise.name.partition('@')[2]}"
            lines.append(
                f"  {duration_text(promise.promised)}{what}: promised {100 * promise.wanted:.1f} %, "
                f"kept by {100 * promise.kept:.1f} % of {promise.pieces} others"
            )
    return "Tried on pieces that the search has never seen\n" + "\n".join(lines) if lines else ""


def _sureness(found: BestDesigns) -> str:
    lines = []
    ends = zip(found.space.objectives, found.alone, found.agreeing, strict=False)
    for measure, best, (agreeing, starts, worst) in ends:
        is_apart = worst > SAME * abs(best.end.objective)
        apart = f"; the worst ends {_gain_of(measure, worst)} off" if is_apart else ""
        lines.append(
            f"  {_wish(measure)}: {agreeing} of {starts} starts, far apart, end within {100 * SAME:g} % of it{apart}"
        )
    nearness = found.designs[0].nearness
    if nearness is not None and len(found.designs) == 1:
        left = _gain_of(found.space.objectives[0], nearness.left_over)
        lines.append(f"  moving every number by {percent(SMALL_MOVE)} of its range would gain at most {left} more")
    lines.append(f"  {found.evaluations} designs computed, those beside a design for its slopes included")
    return "How near the best it is\n" + "\n".join(lines)


def _gain_of(measure: Measure, value: float) -> str:
    if measure.dimension is Dimension.DURATION:
        return duration_text(value) if value >= 60.0 else f"{value:.2g} s"
    factor = 1.0 if measure.dimension is None else float(UNITS[measure.dimension][0].factor)
    return f"{value / factor:.2g} {measure.unit}".strip()


# --- files ------------------------------------------------------------------------------------------------------


def optimum_document(found: BestDesigns) -> dict[str, Any]:
    """Return what was found as a JSON object."""
    space = found.space
    return {
        "objectives": [m.name for m in space.objectives],
        "constraints": constraint_documents(space.constraints),
        "varied": [axis.path for axis in space.axes],
        "designs": [_chosen_document(found, number) for number in range(len(found.designs))],
        "starts": [
            {"objective": m.name, "agreeing": a, "starts": s, "worst_off_SI": w}
            for m, (a, s, w) in zip(space.objectives, found.agreeing, strict=False)
        ],
        "pieces": space.pieces.count,
        **entries(found, "evaluations", "was_stopped"),
    }


def _chosen_document(found: BestDesigns, number: int) -> dict[str, Any]:
    space, chosen, container = found.space, found.designs[number], found.container(number)
    document: dict[str, Any] = {
        "values_SI": {m.name: found.values(number)[k] for k, m in enumerate(space.objectives)},
        "bounded_SI": plain({m.name: value for m, value in found.bounded(number)}),
        "misses": {c.text(): float(chosen.values.misses[0, k]) for k, c in enumerate(space.constraints)},
        "varied": space.texts_of(chosen.points, 0),
        "measures_SI": {
            name: float(np.asarray(m.of(container, space.questions[0].scenario))) for name, m in MEASURES.items()
        },
        "design": container.model_dump(mode="json", exclude_unset=True),
        "promises": [{"hold": p.name} | entries(p, "promised_s", "wanted", "kept", "pieces") for p in chosen.promises],
    }
    if chosen.nearness is not None:
        near = chosen.nearness
        document["shadow_prices"] = {
            "constraints_per_relative_unit": {space.constraints[k].text(): v for k, v in near.constraints.items()},
            "ends_of_ranges_per_range": {space.numbers[k].path: v for k, v in near.bounds.items()},
            "left_over": near.left_over,
        }
    return document


def optimum_csv(found: BestDesigns) -> str:
    """Return the designs that were found as a CSV, one a row."""
    space = found.space
    names = [axis.path for axis in space.axes]
    asked = json.dumps({"version": version(), "varied": names})
    measures = [f"{m.name} [SI]" for m in space.objectives]
    rows = [[*measures, *names, "empty mass [kg]"]]
    for number, chosen in enumerate(found.designs):
        texts = space.texts_of(chosen.points, 0)
        values = [f"{found.values(number)[k]:.8g}" for k in range(len(space.objectives))]
        mass = f"{float(geometry.empty_mass(found.container(number))):.6g}"
        rows.append([*values, *(texts.get(name, "none") for name in names), mass])
    return csv_text(rows, comments=[f"holdtime optimise {asked}"])
