"""`--explain`: the heat paths of this container in plain words, what the interval means, what would narrow it."""

from geometries.container import Container, closed_capacity, headspace_depth
from geometries.lid import Lid, PocketLayer, SolidLayer
from geometries.materials import surface_emissivity
from geometries.numeric import Numeric
from thermal_model.assemble.contents import filled_volume, melted_volume
from thermal_model.prediction import Prediction
from thermal_model.report.results import path_label
from thermal_model.report.safety import cautions
from thermal_model.report.summary import excess_over_room, warms
from thermal_model.words.numbers import Scale, interval_texts, percent, quantity_text
from thermal_model.words.paragraphs import in_blocks, listed, titled, wrapped

NARROWING = 3


def explanation_text(prediction: Prediction, scale: Scale) -> str:
    """Return the explanation as paragraphs."""
    total = prediction.heat_loss_coefficient
    ordered = sorted(prediction.heat_paths.items(), key=lambda item: -abs(item[1]))
    paragraphs = [_opening(prediction, ordered[0][0], scale)]
    for path, value in ordered:
        share = value / total
        if abs(share) >= 0.005:
            label = path_label(path, prediction.container).capitalize()
            of_all = f", {percent(share)}" if total > 0.0 else ""
            paragraphs.append(f"{label}{of_all}: {_REASONS[path](prediction)}")
    paragraphs += [_interval(prediction), _validity(prediction)]
    blocks = [*(wrapped(p, hanging="") for p in paragraphs), _narrowing(prediction)]
    blocks.append(titled("Take care", (caution.text for caution in cautions(prediction))))
    return in_blocks(blocks)


def _opening(prediction: Prediction, largest: str, scale: Scale) -> str:
    container, total = prediction.container, prediction.heat_loss_coefficient
    if total <= 0.0:
        flow = float(total * excess_over_room(prediction))
        way = "lose" if flow > 0.0 else "take in"
        cause = "by evaporating, although the room is warmer" if flow > 0.0 else "from the sun, although it is colder"
        at = scale.text(prediction.reference_temperature)
        return (
            f"Why: at {at} inside the contents {way} {abs(flow):.2f} W {cause}. Most of it takes one path: "
            f"{path_label(largest, container)}."
        )
    share = percent(prediction.heat_paths[largest] / total)
    watts = abs(total * (prediction.reference_temperature - prediction.scenario.room))
    here = f", {watts:.2f} W here" if prediction.scenario.room_profile is None else ""
    return (
        f"Why: at {scale.text(prediction.reference_temperature)} inside, every degree between contents and room moves "
        f"{total * 1e3:.1f} mW{here}. Most of it, {share}, takes one path: "
        f"{path_label(largest, container)}. A change elsewhere can win no more than that path's own share."
    )


# --- one reason a path ----------------------------------------------------------------------------------------


def _lid_reason(prediction: Prediction) -> str:
    container = prediction.container
    mouth = mm(2.0 * container.body.mouth_radius)
    if container.lid is None:
        return f"nothing covers the {mouth} mouth; the contents evaporate, and the lost vapour takes most of the heat."
    return (
        f"the mouth is {mouth} wide; over it: {layers_text(container.lid)}. {_vapour_text(prediction)} "
        f"{_plug_text(container)}"
    ).strip()


def layers_text(lid: Lid) -> str:
    """Return the layers of a lid from the bottom up, such as "1 layer (5 mm polypropylene)"."""
    texts = [_layer_text(layer) for layer in lid.layers]
    count = "1 layer" if len(texts) == 1 else f"{len(texts)} layers"
    return f"{count} ({', '.join(texts)})"


def _layer_text(layer: SolidLayer | PocketLayer) -> str:
    if isinstance(layer, SolidLayer):
        return f"{mm(layer.thickness)} {layer.material.replace('_', ' ')}"
    what = {"air": "air pocket", "honeycomb": "honeycomb pocket", "foam": "foamed pocket"}[layer.filling]
    return f"{mm(layer.depth)} {what}"


def _vapour_text(prediction: Prediction) -> str:
    container, scenario = prediction.container, prediction.scenario
    # Ice that floats lifts the level by the water it displaces.
    level = float(filled_volume(container, scenario) + melted_volume(scenario))
    depth = float(headspace_depth(container, min(level, float(closed_capacity(container)))))
    if depth < LEAST_AIR:
        return "The contents reach up to the lid: the little air between holds hardly any heat back."
    if not warms(prediction):
        return (
            f"Between the hot contents and the lid ({mm(depth)} of air) vapour rises and condenses, which carries "
            "several times more heat than air or radiation would."
        )
    return (
        f"The air between cold contents and lid ({mm(depth)}) is layered, warm above cold, and hardly moves; no "
        "vapour helps the heat in, so a lid matters less than it does for hot contents."
    )


LEAST_AIR = 1e-3
"""Air between contents and lid that is worth a word. [m]"""


def _plug_text(container: Container) -> str:
    lid = container.lid
    if lid is None or lid.plug is None:
        return "No plug reaches into the mouth."
    kind = {
        "open": "plug that is open to the contents",
        "hollow": "hollow plug",
        "solid": "solid plug",
        "foam": "foamed plug",
    }
    depths = ", ".join(mm(seal.depth) for seal in lid.seals)
    where = f" ({depths} below the mouth)" if depths else ""
    count = {0: "no seal", 1: "one seal"}.get(len(lid.seals), f"{len(lid.seals)} seals") + where
    return f"A {kind[lid.plug.kind]} reaches {mm(lid.plug.depth)} down, with {count}."


def _bridge_reason(prediction: Prediction) -> str:
    body = prediction.container.body
    way = f"the wall to a mouth {mm(2.0 * body.mouth_radius)} wide"
    if body.neck is not None:
        way = f"a neck {mm(2.0 * body.mouth_radius)} wide and {mm(body.neck.length)} long"
    shell = "the lip into the outer wall" if body.gap is not None else "the lip"
    return (
        f"the inner wall, {mm(body.inner_thickness)} {body.wall.material.replace('_', ' ')}, conducts heat along "
        f"{way} and over {shell}. It grows with the mouth and the wall's thickness. {_dry_neck_text(prediction)}"
    ).strip()


def _dry_neck_text(prediction: Prediction) -> str:
    """Return what vapour does to the wall above hot contents."""
    lid = prediction.container.lid
    if warms(prediction) or lid is None:
        return ""
    seal = max((float(seal.depth) for seal in lid.seals), default=0.0)
    if lid.plug is not None and seal > 0.25 * float(lid.plug.depth):  # clearly below the rim
        return f"The seal {mm(seal)} down keeps vapour off the wall above it, so that heat has a long dry way to go."
    if lid.plug is not None:
        return "Vapour gets up beside the plug and warms the wall nearly to the lip; a lower seal would keep it off."
    return "Vapour warms the bare wall up to the lid, so that only the last bit of it holds heat back."


def _side_reason(prediction: Prediction) -> str:
    body, gap = prediction.container.body, prediction.container.body.gap
    if gap is None:
        return (
            f"a single wall, {mm(body.inner_thickness)} thick, holds next to nothing back; what limits the heat is "
            "the air outside and the shine of the surface."
        )
    if gap.kind == "foam":
        return f"{mm(gap.width)} of {gap.foam_material.replace('_', ' ')} conduct, over the whole side."
    if gap.kind == "air":
        return f"{mm(gap.width)} of {gap.gas} conduct, and radiation crosses; both over the whole side."
    inner = surface_emissivity(gap.inner_surface, gap.inner_emissivity)
    outer = surface_emissivity(gap.outer_surface, gap.outer_emissivity)
    shields = f" and {gap.shields} shield(s) between them" if gap.shields else ""
    return (
        f"across the vacuum of {mm(gap.width)} heat radiates from wall to wall (they send out {percent(float(inner))} "
        f"and {percent(float(outer))} of what a black wall would{shields}), and what gas is left "
        f"({quantity_text(gap.pressure, 'Pa', 3)}) conducts. The width of the gap does not matter, the shine and the "
        "vacuum do; it is a large area, so that under a good lid it is the main path."
    )


def _base_reason(prediction: Prediction) -> str:
    stands = prediction.scenario.stands_on
    where = "it hangs free" if stands == "nothing" else f"it stands on {stands}"
    recess = mm(prediction.container.body.base.recess)
    return f"through the floor; {where}, with {recess} of air under the base."


def _vent_reason(prediction: Prediction) -> str:
    lid = prediction.container.lid
    holes = [] if lid is None else [o for o in lid.openings if not o.closed]
    named = [f"{mm(o.diameter)} {o.kind.replace('_', ' ')}" for o in holes]
    if lid is not None and not lid.seals:
        named.append("the gap under a lid without a seal")
    return f"air and vapour pass through what stays open in the lid ({', '.join(named)})."


_REASONS = {
    "lid": _lid_reason,
    "steel_bridge": _bridge_reason,
    "gap_side": _side_reason,
    "base": _base_reason,
    "vent": _vent_reason,
}


# --- the interval ---------------------------------------------------------------------------------------------


def _interval(prediction: Prediction) -> str:
    if not prediction.draws:
        return ""
    first = prediction.hold_times[0]
    bounds = ""
    if first.low is not None and first.high is not None:
        low, _, high = interval_texts(first.low, first.median or first.low, first.high)
        bounds = f", here from {low} to {high}"
    return (
        f"The interval: {prediction.draws} containers were computed that all look the same to a ruler but differ in "
        f"what it can't see or reads only roughly (see: holdtime unknowns). Nine in ten of them lie in the "
        f"interval{bounds}; one in ten lies outside. What the model leaves out altogether is not in it."
    )


def _validity(prediction: Prediction) -> str:
    if not prediction.outside_validity:
        return ""
    count = len(prediction.outside_validity)
    which = "one formula is" if count == 1 else f"{count} formulas are"
    return (
        f"Beyond what was measured: {which} used where the source did not measure, mostly since lids and bases are "
        "small plates; --expert names them."
    )


def expert_text(prediction: Prediction) -> str:
    """Return what only the field's own terms say: correlations beyond their range, the draws from the priors."""
    sample = (
        f"{prediction.draws} draws from the priors (holdtime unknowns --json), seed {prediction.seed}"
        if prediction.draws
        else "no draws: every unknown at its median"
    )
    lines = [
        f"UA {prediction.heat_loss_coefficient:.5g} W/K at {prediction.reference_temperature:.2f} K",
        sample,
        f"energy balance closed to {prediction.energy_balance_error:.1e}",
        *(f"correlation beyond its range: {what}" for what in prediction.outside_validity),
    ]
    return titled("For experts", lines)


def _narrowing(prediction: Prediction) -> str:
    """Return what to do about the widest unknowns; "" if there is nothing."""
    lines = listed(
        f"{c.label} ({percent(c.share)} of the spread): {c.advice}"
        for c in prediction.contributions[:NARROWING]
        if c.advice and c.share >= 0.01
    )
    return "\n".join(["To narrow it, the most useful first:", *lines]) if lines else ""


def mm(metres: Numeric) -> str:
    """Return a length [m] in millimetres."""
    return quantity_text(metres, "mm", 3)
