"""`holdtime predict`: how long a container holds its contents hot or cold, and where the heat goes."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.files import write_text
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.calibration_options import CalibrationOptions
from thermal_model.cli.limits import options_named
from thermal_model.cli.one_design import OneDesign, read_one_design
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.progress import DRAWING, progress_bar
from thermal_model.cli.record import command
from thermal_model.cli.scenario_options import ScenarioOptions
from thermal_model.prediction import Prediction
from thermal_model.prediction import predict as predicted
from thermal_model.report.results import curve_csv, prediction_document
from thermal_model.report.summary import summary_text
from thermal_model.words.paragraphs import in_blocks, wrapped

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
    calibrated: CalibrationOptions
    explain: Annotated[bool, typer.Option("--explain", help="Say in plain words why, path by path.")] = False
    expert: Annotated[
        bool, typer.Option("--expert", help="Add the terms of the field: formulas beyond their range, the sample.")
    ] = False
    picture: PictureOptions
    drawing: Annotated[
        Path | None, typer.Option("--drawing", metavar="FILE", help="Draw the container and its heat paths to scale.")
    ] = None
    csv: Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Write the curve as a CSV.")] = None
    answer: AnswerOptions

    @property
    def wants_document(self) -> bool:
        """Whether there is more to make than the text."""
        return self.answer.json or self.answer.output is not None or self.picture.plot is not None


@command(Asked, EXAMPLE, after_start="until")
def predict(wanted: Asked) -> None:
    """Predict how long a container holds its contents hot or cold, and where the heat goes."""
    one = read_one_design(
        wanted.design,
        wanted.given,
        wanted.until,
        wanted.calibrated,
        lambda: wanted.picture.check(wanted.csv, wanted.answer.output, drawing=wanted.drawing),
    )
    draws = 0 if wanted.no_interval else wanted.draws
    with options_named(), progress_bar(f"computing {draws} samples") as show:
        prediction = predicted(
            one.container, one.scenario, one.limits, draws=draws, seed=wanted.seed, belief=one.belief, progress=show
        )
    document = _document(prediction, one, wanted) if wanted.wants_document else {}
    if wanted.csv is not None:
        write_text(wanted.csv, curve_csv(prediction))
    if wanted.drawing is not None:
        with progress_bar(DRAWING):
            from thermal_model.report.drawing import draw_containers, drawn_prediction

            draw_containers([drawn_prediction(prediction)], wanted.drawing, look=wanted.picture.look)
    files = wanted.csv, wanted.picture.plot, wanted.drawing
    wanted.answer.give(lambda: _text(prediction, one, wanted), document, *files)


def _document(prediction: Prediction, one: OneDesign, wanted: Asked) -> dict[str, Any]:
    """Draw the picture, and return the result that holds it."""
    from thermal_model.report.prediction_plots import prediction_picture

    document = prediction_document(prediction, sorted(one.assumed)) | one.calibrated.entry()
    return wanted.picture.drawn_into(document, prediction_picture(prediction, one.scale))


def _text(prediction: Prediction, one: OneDesign, wanted: Asked) -> str:
    blocks = [summary_text(prediction, one.assumed, one.scale), wrapped(one.calibrated.line(), hanging="")]
    if wanted.explain or wanted.expert:
        from thermal_model.report.explanation import expert_text, explanation_text

        blocks += [explanation_text(prediction, one.scale)] if wanted.explain else []
        blocks += [expert_text(prediction)] if wanted.expert else []
    return in_blocks(blocks)
