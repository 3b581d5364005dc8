"""A prediction as a reader who is no engineer wants it: hold times, where the heat goes, what is least certain."""

from geometries.container import Container
from thermal_model.assemble.contents import filled_volume
from thermal_model.physics.constants import STANDARD_PRESSURE
from thermal_model.prediction import HoldTime, Prediction
from thermal_model.report.results import note_lines, path_label
from thermal_model.report.safety import caution_line, cautions, headspace_pressure, room_at
from thermal_model.scenario import Orientation, Scenario, WallStart
from thermal_model.uncertainty import least_draws
from thermal_model.words.numbers import (
    Scale,
    aligned,
    bar,
    duration_text,
    interval_texts,
    percent,
    quantity_text,
)
from thermal_model.words.paragraphs import in_blocks, titled, wrapped


def summary_text(prediction: Prediction, assumed: frozenset[str], scale: Scale) -> str:
    """Return the whole table.

    Parameters
    ----------
    prediction : Prediction
    assumed : frozenset of str
        Inputs that were not given.
    scale : Scale
        Of the temperatures shown.
    """
    blocks = [
        given_line(prediction, assumed, scale),
        hold_time_lines(prediction, assumed, scale),
        heat_path_lines(prediction, scale),
        least_certain_line(prediction),
        pressure_line(prediction),
        note_block(prediction),
        caution_lines(prediction),
    ]
    return in_blocks(blocks)


def given_line(
    prediction: Prediction, assumed: frozenset[str], scale: Scale, varied: frozenset[str] = frozenset()
) -> str:
    """Return container and scenario in a line, with what was assumed and what varies."""
    return f"{prediction.container.name}: {given_conditions(prediction, scale, assumed, varied)}"


def given_conditions(
    prediction: Prediction, scale: Scale, assumed: frozenset[str] = frozenset(), varied: frozenset[str] = frozenset()
) -> str:
    """Return the scenario in a line, as in the subtitle of a picture, with what was assumed and what varies."""
    fill_text = _fill_text(prediction.container, prediction.scenario)
    return conditions_text(prediction.scenario, fill_text, assumed, scale, varied)


def given_pair(
    predictions: tuple[Prediction, Prediction], assumed: tuple[frozenset[str], frozenset[str]], scale: Scale
) -> str:
    """Return containers and scenarios of A and B, a line each."""
    lines = [f"{k}  {given_line(p, a, scale)}" for k, p, a in zip("AB", predictions, assumed, strict=True)]
    return "\n".join(lines)


def limit_text(limit: float, scenario: Scenario, scale: Scale, *, is_assumed: bool = False) -> str:
    """Return on which side of a limit the contents are at first, "above 60 °C"."""
    return f"{'below' if limit > scenario.start else 'above'} {_noted(scale.text(limit), is_assumed)}"


def conditions_text(
    scenario: Scenario,
    fill_text: str,
    assumed: frozenset[str],
    scale: Scale,
    varied: frozenset[str] = frozenset(),
) -> str:
    """Return a scenario in a line, with what was assumed and what varies.

    What the fill is called depends on the container.
    """
    parts = {
        "fill": fill_text,
        "contents": scenario.contents.replace("_", " "),
        "start": f"start {scale.text(scenario.start)}",
        "room": _room_text(scenario, scale),
    }
    shown = [f"{name} varied" if name in varied else _noted(text, name in assumed) for name, text in parts.items()]
    return ", ".join([*shown, *_special_conditions(scenario, scale)])


def _noted(text: str, is_assumed: bool) -> str:
    return f"{text} (assumed)" if is_assumed else text


def _fill_text(container: Container, scenario: Scenario) -> str:
    if scenario.fill is not None:
        return quantity_text(scenario.fill, "mL", 4)
    closure = "lid" if container.lid is not None else "brim"
    air = "" if scenario.air_under_lid == 0.0 else f"{quantity_text(scenario.air_under_lid, 'mm', 3)} under "
    return f"full to {air}the {closure}, {float(filled_volume(container, scenario)) * 1e6:.0f} mL"


def _room_text(scenario: Scenario, scale: Scale) -> str:
    profile = scenario.room_profile
    if profile is None:
        return f"room {scale.text(scenario.room)}"
    low, high = min(profile.temperatures), max(profile.temperatures)
    return f"room {scale.text(low)} to {scale.text(high)}, from a table"


def _special_conditions(scenario: Scenario, scale: Scale) -> list[str]:
    """Return what is unlike an upright container in a quiet room."""
    conditions = {
        f"{quantity_text(scenario.ice, 'g', 4)} ice": scenario.ice > 0.0,
        "walls preheated": scenario.walls is WallStart.PREHEATED,
        f"wind {quantity_text(scenario.wind, 'm/s', 3)}": scenario.wind > 0.0,
        f"sunlight {quantity_text(scenario.sunlight, 'W/m2', 4)}": scenario.sunlight > 0.0,
        "upside down": scenario.orientation is Orientation.INVERTED,
        "hanging free": scenario.stands_on == "nothing",
        _openings_text(scenario): len(scenario.openings) > 0,
        "pinned: " + ", ".join(scenario.pins.model_dump(exclude_none=True)): scenario.pins.model_fields_set,
    }
    texts = [text for text, holds in conditions.items() if holds]
    if scenario.preheat is not None:
        hot = scale.text(scenario.preheat.temperature)
        texts.append(f"preheated {duration_text(scenario.preheat.duration)} at {hot}")
    return texts


def _openings_text(scenario: Scenario) -> str:
    """Return when the lid comes off."""
    texts = []
    for opening in scenario.openings:
        at = duration_text(opening.at)
        when = f"at {at}" if opening.every is None else f"every {duration_text(opening.every)} from {at}"
        poured = f" to pour {quantity_text(opening.pour, 'mL')}" if opening.pour > 0.0 else ""
        texts.append(when + poured)
    return "opened " + " and ".join(texts)


# --- hold times -----------------------------------------------------------------------------------------------


def hold_time_lines(prediction: Prediction, assumed: frozenset[str], scale: Scale) -> str:
    """Return a line for each limit."""
    return "\n".join(
        f"  stays {limit_text(one.limit, prediction.scenario, scale, is_assumed='until' in assumed)} "
        f"{held_text(one, prediction, scale)}"
        for one in prediction.hold_times
    )


def held_text(hold_time: HoldTime, prediction: Prediction, scale: Scale) -> str:
    """Return how long a limit is held, with the interval."""
    low, median, high = hold_time.low, hold_time.median, hold_time.high
    if not prediction.draws and hold_time.nominal is not None:
        return f"for {duration_text(hold_time.nominal)} (no interval asked for)"
    if low is None:
        return f"for the whole {duration_text(prediction.final_time)} followed{_end_text(prediction, scale)}"
    if median is None or high is None:
        least = f"at least {duration_text(low)}"
        held = f"for {least}" if median is None else f"for {duration_text(median)}, {least}"
        share = percent(1.0 - hold_time.share_reached)
        return f"{held}; in {share} of the samples it always does{_end_text(prediction, scale)}"
    least, middle, most = interval_texts(low, median, high)
    return f"for {middle} (probably between {least} and {most})"


def _end_text(prediction: Prediction, scale: Scale) -> str:
    """Return where a run that does not get to its limit ends."""
    after = duration_text(prediction.final_time)
    return f"; the best guess ends at {scale.text(prediction.final_temperature)} after {after}"


# --- heat paths -----------------------------------------------------------------------------------------------


def heat_path_lines(prediction: Prediction, scale: Scale) -> str:
    """Return the share of each path with a bar, the largest first."""
    total = prediction.heat_loss_coefficient
    if total <= 0.0:
        return _flow_lines(prediction, scale)
    shown = _largest_first(prediction)
    rows = [
        (path_label(path, prediction.container), percent(value / total), f"{value:.4f} W/K", bar(value / total))
        for path, value in shown
    ]
    verb = "Where heat comes in" if warms(prediction) else "Where the heat goes"
    at = scale.text(prediction.reference_temperature)
    against = [path_label(path, prediction.container) for path, value in shown if value < 0.0]
    note = f"\n  below zero: heat goes the other way there ({', '.join(against)})" if against else ""
    return f"{verb} (at {at}; {total:.4f} W/K in all)\n{aligned(rows)}{note}"


def _largest_first(prediction: Prediction) -> list[tuple[str, float]]:
    """Return the heat paths that are worth a line."""
    least = 0.0005 * abs(prediction.heat_loss_coefficient)
    return [
        (path, value)
        for path, value in sorted(prediction.heat_paths.items(), key=lambda item: -abs(item[1]))
        if abs(value) >= least
    ]


def excess_over_room(prediction: Prediction) -> float:
    """Return how much warmer than the room the contents are where the heat paths are taken. [K]"""
    return prediction.reference_temperature - room_at(prediction.scenario, 0.0)


def _flow_lines(prediction: Prediction, scale: Scale) -> str:
    """Return the heat flow of each path in watts, where heat goes against the difference to the room.

    Open contents that evaporate cool below their room, and sunlight warms above it: watts for each degree have no
    meaning there.
    """
    excess, at = excess_over_room(prediction), scale.text(prediction.reference_temperature)
    flow = prediction.heat_loss_coefficient * excess
    side = "below" if excess < 0.0 else "above"
    what = f"they lose {flow:.2f} W by evaporating" if flow > 0.0 else f"they take in {-flow:.2f} W from the sun"
    heading = (
        f"Where the heat goes (at {at}, {abs(excess):.1f} K {side} the room: {what} all the same, so watts for each "
        "degree to the room have no meaning)"
    )
    rows = [
        (
            path_label(path, prediction.container),
            f"{abs(value * excess):.2f} W {'out' if value * excess > 0.0 else 'in'}",
        )
        for path, value in _largest_first(prediction)
    ]
    return f"{wrapped(heading)}\n{aligned(rows)}"


def warms(prediction: Prediction) -> bool:
    """Tell whether the contents are cold ones that warm up."""
    return bool(prediction.hold_times[0].limit > prediction.scenario.start)


# --- what else to know ----------------------------------------------------------------------------------------


def least_certain_line(prediction: Prediction) -> str:
    """Return what the width of the interval mostly comes from, and how to narrow it."""
    if not prediction.contributions:
        computed, least = prediction.draws - prediction.failed_draws, least_draws(prediction.container)
        if not 0 < computed < least:  # more samples would not help
            return ""
        return wrapped(f"Least certain: {computed} samples are too few to tell; {least} are enough (--draws {least})")
    first = prediction.contributions[0]
    advice = f"; to narrow it: {first.advice}" if first.advice else ""
    return wrapped(f"Least certain: {first.label} ({percent(first.share)} of the spread){advice}")


def pressure_line(prediction: Prediction) -> str:
    """Return the pressure under a tight lid at start and end."""
    pressure = headspace_pressure(prediction)
    if pressure is None:
        return ""
    start, end = (_against_room(value) for value in (pressure.start, pressure.end))
    return wrapped(f"Under the lid, if it is tight: {start} at the start, {end} at the end of the curve")


def _against_room(pressure: float) -> str:
    difference = (pressure - STANDARD_PRESSURE) / 1e5
    if abs(difference) < 0.005:
        return "as the room"
    return f"{abs(difference):.2f} bar {'over' if difference > 0.0 else 'under'} the room's air"


def note_block(prediction: Prediction) -> str:
    """Return notes on the computation, and how many formulas are used beyond their source."""
    lines = note_lines(prediction)
    beyond = len(prediction.outside_validity)
    if beyond:
        lines.append(
            f"{beyond} formula{'s are' if beyond > 1 else ' is'} used beyond what the source measured; "
            "--expert names them."
        )
    return titled("Note", lines)


def caution_lines(prediction: Prediction) -> str:
    """Return what can hurt someone in one line."""
    return caution_line(cautions(prediction))
