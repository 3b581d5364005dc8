"""`holdtime predict`: how long a container holds its contents hot or cold, and where the heat goes."""

from dataclasses import dataclass
from pathlib import Path
from textwrap import fill
from typing import Annotated

import typer

from geometries.errors import InputError, at_once
from geometries.files import write_text
from thermal_model.cli import options
from thermal_model.cli.assumed import assumed_inputs
from thermal_model.cli.calibration_options import Calibrated, CalibratedAs, Calibration, read_calibrated
from thermal_model.cli.limits import default_limit, read_limits, with_option_names
from thermal_model.cli.picture_options import PictureOptions, with_picture
from thermal_model.cli.progress import DRAWING, progress_bar
from thermal_model.cli.record import command
from thermal_model.cli.scenario_options import ScenarioOptions, read_scenario
from thermal_model.cli.settings import read_design
from thermal_model.prediction import Prediction
from thermal_model.prediction import predict as predicted
from thermal_model.report.results import curve_csv, json_text, prediction_document, write_json
from thermal_model.report.summary import WIDTH, summary_text
from thermal_model.words.numbers import Scale, scale_of

EXAMPLE = "holdtime predict slim_neck_double_seal --fill 500mL --start 90C --until 60C --room 20C"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What `holdtime predict` is asked."""

    design: options.Design
    given: ScenarioOptions
    until: options.Until = ()
    draws: options.Draws = 200
    seed: options.Seed = 1
    no_interval: options.NoInterval = False
    calibration: Calibration = None
    calibrated_as: CalibratedAs = None
    explain: Annotated[bool, typer.Option("--explain", help="Say in plain words why, path by path.")] = False
    expert: Annotated[
        bool, typer.Option("--expert", help="Add the terms of the field: formulas beyond their range, the sample.")
    ] = False
    picture: PictureOptions
    drawing: Annotated[
        Path | None, typer.Option("--drawing", metavar="FILE", help="Draw the container and its heat paths to scale.")
    ] = None
    csv: Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Write the curve as a CSV.")] = None
    json: options.Json = False
    output: options.Output = None


@command(Asked, EXAMPLE, after_start="until")
def predict(wanted: Asked) -> None:
    """Predict how long a container holds its contents hot or cold, and where the heat goes."""
    container, scenario, typed, calibrated, _ = at_once(
        lambda: read_design(wanted.design, wanted.given.settings, wanted.calibration),
        lambda: read_scenario(wanted.given),
        lambda: read_limits(wanted.until),
        lambda: read_calibrated(wanted.calibration, wanted.calibrated_as, wanted.design),
        lambda: wanted.picture.check(wanted.csv, wanted.output, drawing=wanted.drawing),
    )
    limits = typed or [default_limit(scenario)]
    try:
        draws = 0 if wanted.no_interval else wanted.draws
        with progress_bar(f"computing {draws} samples") as show:
            belief = None if calibrated is None else calibrated.belief
            prediction = predicted(
                container, scenario, limits, draws=draws, seed=wanted.seed, belief=belief, progress=show
            )
    except InputError as error:
        raise with_option_names(error) from None
    assumed = assumed_inputs(scenario, has_limit=bool(typed))
    scale = scale_of(*wanted.until, wanted.given.start, wanted.given.room)
    if wanted.json or wanted.output is not None or wanted.picture.plot is not None:
        _write_document(prediction, sorted(assumed), calibrated, wanted, scale)
    _write_files(prediction, wanted)
    if not wanted.json:
        _show(prediction, assumed, calibrated, wanted, scale)


def _write_document(
    prediction: Prediction, assumed: list[str], calibrated: Calibrated | None, wanted: Asked, scale: Scale
) -> None:
    """Draw the picture, and write the result that holds it, to a file or as the answer."""
    from thermal_model.report.prediction_plots import prediction_picture

    picture = prediction_picture(prediction, scale)
    document = prediction_document(prediction, assumed)
    if calibrated is not None:
        document = {**document, "calibration": calibrated.document()}
    document = with_picture(document, picture)
    wanted.picture.draw(picture)
    if wanted.output is not None:
        write_json(wanted.output, document)
    if wanted.json:
        typer.echo(json_text(document), nl=False)


def _write_files(prediction: Prediction, wanted: Asked) -> None:
    if wanted.csv is not None:
        write_text(wanted.csv, curve_csv(prediction))
    if wanted.drawing is not None:
        with progress_bar(DRAWING):
            from thermal_model.report.drawing import draw_containers, drawn_prediction

            draw_containers([drawn_prediction(prediction)], wanted.drawing, look=wanted.picture.look)


def _show(
    prediction: Prediction,
    assumed: frozenset[str],
    calibrated: Calibrated | None,
    wanted: Asked,
    scale: Scale,
) -> None:
    typer.echo(summary_text(prediction, assumed, scale))
    if calibrated is not None:
        typer.echo(f"\n{fill(calibrated.line(), WIDTH)}")
    if wanted.explain:
        from thermal_model.report.explanation import explanation_text

        typer.echo(f"\n{explanation_text(prediction, scale)}")
    if wanted.expert:
        from thermal_model.report.explanation import expert_text

        typer.echo(f"\n{expert_text(prediction)}")
    for path in filter(None, (wanted.output, wanted.csv, wanted.picture.plot, wanted.drawing)):
        typer.echo(f"\nwritten: {path}", err=True)
