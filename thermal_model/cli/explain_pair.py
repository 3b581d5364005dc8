"""`holdtime explain A B`: the difference between two containers, part by part."""

from dataclasses import dataclass, replace
from functools import partial

from geometries.errors import InputError, InputProblem, at_once, nearest_hint, refuse
from thermal_model.cli.assumed import assumed_inputs
from thermal_model.cli.calibration_options import Calibrated, read_calibrated
from thermal_model.cli.explain_common import Asked, calibration_document, with_calibration
from thermal_model.cli.limits import default_limit, options_named, read_limits
from thermal_model.cli.one_design import belief_of
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.scenario_options import read_scenario
from thermal_model.cli.settings import read_design
from thermal_model.prediction import Prediction, predict
from thermal_model.reasons.pair import Contender, PairExplanation, explain_pair
from thermal_model.reasons.parts import Group
from thermal_model.report.explain_pair_text import pair_document, pair_text
from thermal_model.report.explain_plots import pair_picture
from thermal_model.report.summary import given_conditions
from thermal_model.words.numbers import Scale, scale_of


@dataclass(frozen=True)
class _Asked:
    """The pair as read."""

    first: Contender
    second: Contender
    limit: float
    parts: tuple[Group, ...]
    assumed: tuple[frozenset[str], frozenset[str]]
    scale: Scale
    calibrated: tuple[Calibrated | None, Calibrated | None]


def run_pair(wanted: Asked) -> None:
    """Read the pair, swap their parts, and tell."""
    asked = _read_pair(wanted)
    with options_named():
        predictions = [predict(c.container, c.scenario, [asked.limit], draws=0) for c in (asked.first, asked.second)]
        with progress_bar("swapping parts") as tell:
            found = explain_pair(
                asked.first, asked.second, asked.limit, draws=wanted.sample, seed=wanted.seed, progress=tell
            )
    _write_pair(found, (predictions[0], predictions[1]), asked, wanted)


def _read_pair(wanted: Asked) -> _Asked:
    given, both = wanted.given, wanted.given.settings
    of_b = (*both, *wanted.set_b)
    pair, *_ = at_once(
        lambda: _two(wanted),
        lambda: _refuse_for_pair(wanted),
        lambda: wanted.picture.check(wanted.answer.output),
        lambda: _parts(wanted.if_),
    )
    first, second, scenario, scenario_b, typed, known, known_b = at_once(
        partial(read_design, pair[0], both, wanted.calibration),
        partial(read_design, pair[1], of_b, wanted.calibration),
        partial(read_scenario, given),
        partial(read_scenario, replace(given, settings=of_b)),
        lambda: read_limits(wanted.until),
        partial(read_calibrated, wanted.calibration, wanted.calibrated_as, pair[0]),
        partial(read_calibrated, wanted.calibration, wanted.calibrated_as_b, pair[1]),
    )
    return _Asked(
        Contender(first, scenario, belief_of(known)),
        Contender(second, scenario_b, belief_of(known_b)),
        typed[0] if typed else default_limit(scenario),
        tuple(_parts(wanted.if_)),
        (assumed_inputs(scenario, has_limit=bool(typed)), assumed_inputs(scenario_b)),
        scale_of(wanted.until, given.start, given.room),
        (known, known_b),
    )


def _refuse_for_pair(wanted: Asked) -> None:
    given = {"--against-fill": wanted.against_fill, "--against-preheat": wanted.against_preheat}
    refuse(
        InputProblem("goes with one design; for two write --set-b scenario.fill='250 mL'", source=option)
        for option, value in given.items()
        if value is not None
    )


def _two(wanted: Asked) -> tuple[str, str]:
    """Return A and B; a single design with --set-b is compared with itself changed."""
    designs = wanted.designs
    if len(designs) == 1 and wanted.set_b:
        return designs[0], designs[0]
    if len(designs) != 2:
        message = (
            f"give two designs to tell apart, or one with --against-fill, --against-preheat or --set-b; "
            f"given: {len(designs)}"
        )
        raise InputError(message, "designs")
    return designs[0], designs[1]


def _parts(names: tuple[str, ...]) -> list[Group]:
    known = {group.value: group for group in Group}
    refuse(
        InputProblem(f"'{name}' is no part; {nearest_hint(name, known)}parts: {', '.join(known)}", source="--if")
        for name in names
        if name.strip().lower() not in known
    )
    return [known[name.strip().lower()] for name in names]


def _write_pair(
    found: PairExplanation, predictions: tuple[Prediction, Prediction], asked: _Asked, wanted: Asked
) -> None:
    document = pair_document(found, predictions, asked.parts, asked.assumed) | calibration_document(asked.calibrated)
    document = wanted.picture.drawn_into(document, pair_picture(found, given_conditions(predictions[0], asked.scale)))
    text = partial(pair_text, found, predictions, asked.parts, asked.assumed, asked.scale)
    wanted.answer.give(lambda: with_calibration(text(), asked.calibrated), document, wanted.picture.plot)
