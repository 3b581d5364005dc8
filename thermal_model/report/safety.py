"""What can hurt someone: cautions for a prediction, each with its usual figure and source, and headspace pressure.

The figures are the usual ones; local codes and licensed practice decide. A prediction is no food-safety record.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.container import Container, closed_capacity
from geometries.numeric import Numeric
from geometries.shapes import circle_area
from thermal_model.assemble.contents import filled_volume
from thermal_model.assemble.timeline import PourEvent, pour_events
from thermal_model.physics.constants import STANDARD_PRESSURE
from thermal_model.properties import water
from thermal_model.scenario import Scenario, contents_kind

if TYPE_CHECKING:
    from thermal_model.prediction import Prediction

BURN_TEMPERATURES = np.array([48.0, 49.0, 51.0, 55.0, 60.0, 65.6, 68.3]) + ZERO_CELSIUS
"""Contact temperatures of `BURN_TIMES`. [K]"""

BURN_TIMES = np.array([900.0, 480.0, 120.0, 17.0, 3.0, 2.0, 1.0])
"""Time to a second-degree or serious burn of an adult's skin [s]; credited to Moritz and Henriques 1947, second-hand.

The last two values are from memory; sources disagree by about a factor of two near 49 C.
"""

HOT_HOLDING_US, HOT_HOLDING_ENGLAND, COLD_HOLDING_US = 330.15, 336.15, 278.15
"""57 C and 5 C: US FDA Food Code 3-501.16; 63 C: Food Safety and Hygiene Regulations 2013, England, from memory. [K]"""

PRESSURE_WORTH_A_WORD = 5e3
"""Overpressure from which a closed lid may spit when it is opened [Pa]; judgement, no source."""

LEAST_HEADSPACE_DEPTH = 2e-3
"""Depth of air that is taken to be trapped in a container filled to its lid [m]; judgement, no source."""

ICE_DENSITY = 917.0
"""At 0 C [kg m-3]; handbook value, from memory."""

FOODS_TO_HOLD = ("broth", "milk", "thick_soup")
"""Contents in which germs grow: they are to be kept hot or cold. Common practice, no source."""

GASSY, FERMENTING = ("soda_water",), ("fruit_juice", "milk")


@dataclass(frozen=True)
class Caution:
    """A line to print, and the word by which it is known.

    Attributes
    ----------
    topic, text : str
    brief : str
        The same in a few words, empty where the line alone says it.
    """

    topic: str
    text: str
    brief: str = ""


@dataclass(frozen=True)
class HeadspacePressure:
    """Absolute pressure under a closed lid, at the start and at the end of a run. [Pa]"""

    start: float
    end: float


# --- burns ----------------------------------------------------------------------------------------------------


def seconds_to_burn(temperature: Numeric) -> Numeric:
    """Return how long a liquid has to touch an adult's skin to burn it; children sooner. [s]

    Parameters
    ----------
    temperature : float or (n,) array
        Of the liquid. [K]

    Returns
    -------
    float or (n,) array
        Interpolated in the logarithm of time; infinite below 48 C, no less than a second above 68 C. [s]

    References
    ----------
    .. [1] Moritz and Henriques, Am. J. Pathol. 23 (1947) 695-720; second-hand, as tabulated by safety authorities.

    Examples
    --------
    >>> round(float(seconds_to_burn(333.15)), 1)
    3.0
    """
    logarithm = np.interp(temperature, BURN_TEMPERATURES, np.log(BURN_TIMES))
    return np.where(np.asarray(temperature) < BURN_TEMPERATURES[0], np.inf, np.exp(logarithm))


# --- pressure -------------------------------------------------------------------------------------------------


def closed_headspace_pressure(closing_temperature: Numeric, temperature: Numeric, expansion: Numeric = 1.0) -> Numeric:
    """Return the absolute pressure of air and vapour trapped above water. [Pa]

    Parameters
    ----------
    closing_temperature : float or (n,) array
        Of the headspace when the lid closes, at one atmosphere and saturated with vapour. [K]
    temperature : float or (n,) array
        Of contents and headspace now, at most at the boiling point. [K]
    expansion : float or (n,) array
        Volume of the headspace now over that at closing. [-]

    Notes
    -----
    Dry air as an ideal gas of constant amount, vapour at its saturation pressure; no gas dissolves or leaks.

    Examples
    --------
    >>> round(float(closed_headspace_pressure(328.15, 363.15)), -2)
    164900.0
    """
    air = STANDARD_PRESSURE - water.saturation_pressure(closing_temperature)
    return air * temperature / closing_temperature / expansion + water.saturation_pressure(temperature)


def headspace_pressure(prediction: "Prediction") -> HeadspacePressure | None:
    """Return the pressure under the lid at start and end of the nominal curve, None if the lid does not seal.

    Air is taken to be trapped at the mean of contents and room temperature, saturated, at one atmosphere, when the
    lid last closed; the liquid's own expansion is counted.
    """
    if not seals_tight(prediction.container):
        return None
    curve = prediction.curve
    over = _closed_by(prediction, float(curve.time[-1]))
    closing = max((event.at + event.duration for event in over), default=0.0)
    contents = float(np.interp(closing, curve.time, curve.nominal)) if closing else prediction.scenario.start
    return HeadspacePressure(
        start=_pressure(prediction, 0.0, prediction.scenario.start, prediction.scenario.start),
        end=_pressure(prediction, closing, contents, float(curve.nominal[-1])),
    )


def seals_tight(container: Container) -> bool:
    """Tell whether there is a lid with a seal and without an open vent."""
    lid = container.lid
    return lid is not None and len(lid.seals) > 0 and all(opening.closed for opening in lid.openings)


def _pressure(prediction: "Prediction", closing: float, contents: Numeric, later: Numeric) -> float:
    """Return the pressure at a later temperature of what was closed at a time with contents of a temperature."""
    trapped = 0.5 * (contents + room_at(prediction.scenario, closing))
    before = _headspace_volume(prediction, closing, contents)
    after = _headspace_volume(prediction, closing, later)
    now = np.minimum(later, water.BOILING_POINT)
    return float(closed_headspace_pressure(trapped, now, after / before))


def _headspace_volume(prediction: "Prediction", closing: float, temperature: Numeric) -> Numeric:
    """Return the volume over the liquid at a temperature, after what was poured out up to a time. [m3]"""
    container, scenario = prediction.container, prediction.scenario
    least = circle_area(container.body.mouth_radius) * LEAST_HEADSPACE_DEPTH
    poured = max((event.poured for event in _closed_by(prediction, closing)), default=0.0)
    held = filled_volume(container, scenario) - poured
    liquid = held * _density(scenario, scenario.start) / _density(scenario, temperature)
    is_frozen = closing == 0.0 and temperature == scenario.start
    ice = scenario.ice / (ICE_DENSITY if is_frozen else _density(scenario, temperature))
    return np.maximum(closed_capacity(container) - liquid - ice, least)


def _density(scenario: Scenario, temperature: Numeric) -> Numeric:
    kind = contents_kind(scenario.contents)
    return water.density(temperature) if kind.is_water else kind.density


def _closed_by(prediction: "Prediction", time: float) -> list[PourEvent]:
    """Return the openings that are over by a time."""
    events = pour_events(prediction.container, prediction.scenario)
    return [event for event in events if event.at + event.duration <= time]


def room_at(scenario: Scenario, time: float) -> float:
    """Return the room temperature at a time [s]. [K]"""
    if scenario.room_profile is None:
        return float(scenario.room)
    return float(np.interp(time, *scenario.room_profile.corners()))


# --- the lines ------------------------------------------------------------------------------------------------


def cautions(prediction: "Prediction") -> list[Caution]:
    """Return the cautions that apply to a prediction, the most urgent first."""
    return [
        *_scald(prediction),
        *_spill(prediction),
        *_pressure_under_lid(prediction),
        *_gas(prediction),
        *_holding(prediction),
        *_microwave(prediction),
        Caution(
            "record",
            "A prediction is no food-safety record; local codes and licensed practice decide.",
            "no food-safety record",
        ),
    ]


def caution_line(found: Sequence[Caution]) -> str:
    """Return cautions in one line, with the way to all of it."""
    return f"{brief_cautions(found)} (all of it: holdtime predict --explain)."


def brief_cautions(found: Sequence[Caution]) -> str:
    """Return cautions in a few words each."""
    briefs = list(dict.fromkeys(caution.brief for caution in found if caution.brief))
    # Last what holds of every prediction.
    briefs.sort(key=lambda brief: brief == "no food-safety record")
    return f"Take care: {'; '.join(briefs)}"


def _scald(prediction: "Prediction") -> Iterator[Caution]:
    hottest = max(float(prediction.scenario.start), prediction.final_temperature)
    seconds = float(seconds_to_burn(hottest))
    if not np.isfinite(seconds):
        return
    time = "within a second" if seconds <= 1.0 else f"in about {seconds:.0f} s"
    if seconds >= 100.0:
        time = f"in about {seconds / 60.0:.0f} min"
    yield Caution(
        "scald",
        f"Scalds: {_celsius(hottest)} burns skin {time}, 57 °C within some ten seconds, children sooner "
        "(credited to Moritz and Henriques 1947).",
        f"{_celsius(hottest)} scalds {time}",
    )


def _spill(prediction: "Prediction") -> Iterator[Caution]:
    lid, scenario = prediction.container.lid, prediction.scenario
    if lid is None or lid.seals or not np.isfinite(float(seconds_to_burn(float(scenario.start)))):
        return
    yield Caution("spill", "Not tight: a lid without a seal lets hot contents and steam out; keep it upright.")


def _pressure_under_lid(prediction: "Prediction") -> Iterator[Caution]:
    pressure = headspace_pressure(prediction)
    if pressure is None:
        return
    over = max(pressure.start, pressure.end) - STANDARD_PRESSURE
    under = STANDARD_PRESSURE - pressure.end
    if over > PRESSURE_WORTH_A_WORD:
        yield Caution(
            "pressure",
            f"Pressure: closed tight, the lid may hold up to {over / 1e5:.2f} bar over the room's air; open it slowly, "
            "away from the face.",
            f"{over / 1e5:.2f} bar under a tight lid",
        )
    elif under > PRESSURE_WORTH_A_WORD:
        yield Caution(
            "pressure",
            f"Pressure: {_why_under(prediction)}a tight lid is drawn down, {under / 1e5:.2f} bar under the room's air; "
            "vent it slowly.",
            f"a tight lid is drawn down by {under / 1e5:.2f} bar",
        )


def _why_under(prediction: "Prediction") -> str:
    """Return what lowers the pressure: cooling, or ice that melts to less than its volume."""
    if prediction.final_temperature < float(prediction.scenario.start):
        return "as it cools "
    return "as the ice melts " if prediction.scenario.ice > 0.0 else ""


def _gas(prediction: "Prediction") -> Iterator[Caution]:
    contents = prediction.scenario.contents
    if contents in GASSY:
        yield Caution(
            "gas",
            "Gas: carbonated contents press on a closed lid as they warm, more than the headspace figure says; "
            "do not warm them closed, open slowly, away from the face.",
            "carbonated contents press on a closed lid",
        )
    elif contents in FERMENTING and prediction.container.lid is not None:
        yield Caution(
            "gas",
            "Gas: contents that ferment or spoil build up pressure under a lid; do not store them closed.",
            "contents that ferment press on a closed lid",
        )


def _holding(prediction: "Prediction") -> Iterator[Caution]:
    scenario = prediction.scenario
    if scenario.contents not in FOODS_TO_HOLD:
        return
    if scenario.start >= prediction.final_temperature:
        yield Caution(
            "holding",
            f"Food kept hot: {_celsius(HOT_HOLDING_US)} or above (US FDA Food Code 3-501.16), "
            f"{_celsius(HOT_HOLDING_ENGLAND)} in England "
            "(Food Safety and Hygiene Regulations 2013).",
            f"food kept hot: {_celsius(HOT_HOLDING_US)} or above",
        )
    else:
        least = f"{_celsius(COLD_HOLDING_US)} or below"
        yield Caution("holding", f"Food kept cold: {least} (US FDA Food Code 3-501.16).", f"food kept cold: {least}")


def _microwave(prediction: "Prediction") -> Iterator[Caution]:
    if prediction.scenario.start >= HOT_HOLDING_US:
        yield Caution(
            "microwave",
            "Microwave: never put metal in one; water heated in one can superheat and erupt (US FDA notice, 2007).",
        )


def _celsius(kelvin: float) -> str:
    return f"{kelvin - ZERO_CELSIUS:.0f} °C"
