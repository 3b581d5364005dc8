"""Pictures of results, for a notebook or a file."""

from pathlib import Path
from typing import Any

from geometries.errors import InputError
from thermal_model.bench.calibration.calibration import Calibration
from thermal_model.judge.compare import Ranking
from thermal_model.prediction import Prediction
from thermal_model.reasons.pair import PairExplanation
from thermal_model.report.pictures.record import Picture
from thermal_model.scenario import Scenario


class SavablePicture(Picture):
    """A picture that a notebook shows and `save` writes to a file."""

    def save(
        self, path: str | Path, *, shape: str | None = None, is_dark: bool = False, has_large_type: bool = False
    ) -> None:
        """Draw it into a file, whole or not at all.

        Parameters
        ----------
        path : str or Path
            Its ending, .png, .svg or .pdf, chooses the format.
        shape : str, optional
            "wide", "square" or "tall"; wide if left out.
        is_dark, has_large_type : bool
            Light letters on a dark ground; large letters, for video.

        Raises
        ------
        InputError
            If the ending or the shape is not known, or the file can't be written.
        """
        from thermal_model.report.pictures.draw import draw
        from thermal_model.report.pictures.look import Appearance, Shape

        shapes = [each.value for each in Shape]
        if shape is not None and shape not in shapes:
            raise InputError(f"there is no shape {shape!r}; take one of {', '.join(shapes)}")
        chosen = None if shape is None else Shape(shape)
        draw(self, Path(path), Appearance(chosen, is_dark=is_dark, is_large=has_large_type))

    def __repr__(self) -> str:
        return f"<Picture {self.title}>"

    __str__ = __repr__

    def _repr_png_(self) -> bytes:
        from thermal_model.report.pictures.draw import png_of

        return png_of(self)


def picture(result: Any, beside: Ranking | None = None) -> SavablePicture:
    """Return the picture of a result; a notebook shows it, `save` writes it to a file.

    Parameters
    ----------
    result : Prediction, Ranking, PairExplanation or Calibration
        As `predict`, `compare`, `explain` and `calibrate` return.
    beside : Ranking, optional
        Of the same containers in other conditions, cold ones for instance: shown beside a ranking.

    Returns
    -------
    SavablePicture

    Raises
    ------
    InputError
        If the result is none of these.
    """
    return SavablePicture(**dict(_picture_of(result, beside)))


def _picture_of(result: Any, beside: Ranking | None) -> Picture:
    from thermal_model.report.calibration_plots import calibration_picture
    from thermal_model.report.compare_plots import ranking_picture
    from thermal_model.report.explain_plots import pair_picture
    from thermal_model.report.prediction_plots import prediction_picture

    if isinstance(result, Prediction):
        return prediction_picture(result)
    if isinstance(result, Calibration):
        return calibration_picture(result)
    if isinstance(result, PairExplanation):
        return pair_picture(result, _given(result.first.scenario))
    if isinstance(result, Ranking):
        return ranking_picture(result, beside, _given(result.scenario))
    kinds = "a Prediction, a Ranking, a PairExplanation or a Calibration"
    raise InputError(f"there is no picture of a {type(result).__name__}; give {kinds}")


def _given(scenario: Scenario) -> str:
    from thermal_model.report.compare_text import fill_words
    from thermal_model.report.summary import conditions_text
    from thermal_model.words.numbers import Scale

    return conditions_text(scenario, fill_words(scenario), frozenset(), Scale.CELSIUS)
