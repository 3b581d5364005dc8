"""What the questions of `holdtime explain` have in common: what is asked, and what a calibration adds to an answer."""

from dataclasses import dataclass
from typing import Annotated, Any

import typer

from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.calibration_options import Calibrated, CalibratedAs, Calibration
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.question_options import Until
from thermal_model.cli.record import TEXTS
from thermal_model.cli.scenario_options import ScenarioOptions


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What `holdtime explain` is asked."""

    given: ScenarioOptions
    designs: Annotated[
        TEXTS,
        typer.Argument(
            metavar="A [B]", help="Design files (TOML), or names from: holdtime designs list; one with --against-..."
        ),
    ] = ()
    until: Until = None
    set_b: Annotated[
        TEXTS,
        typer.Option("--set-b", metavar="PATH=VALUE", help="As --set, but in B only: scenario.fill='250mL'."),
    ] = ()
    if_: Annotated[
        TEXTS,
        typer.Option("--if", metavar="PART", help="Give A this part of B: 'lid layers', 'mouth', ...; repeatable."),
    ] = ()
    against_fill: Annotated[
        str | None,
        typer.Option("--against-fill", metavar="FILL", help="A against itself filled 'half', 'quarter' or '250mL'."),
    ] = None
    against_preheat: Annotated[
        str | None,
        typer.Option("--against-preheat", metavar="TEXT", help="A against itself preheated, '5 min at 95 C'."),
    ] = None
    after: Annotated[
        str, typer.Option("--after", metavar="TIME", help="When A is compared with itself in other conditions.")
    ] = "6h"
    all_: Annotated[
        bool,
        typer.Option("--all", help="Which features go with hold time, in designs or a bench folder; none: catalogue."),
    ] = False
    calibration: Calibration = None
    calibrated_as: CalibratedAs = None
    calibrated_as_b: Annotated[
        str | None, typer.Option("--calibrated-as-b", metavar="NAME", help="As --calibrated-as, for B.")
    ] = None
    draws: options.Draws = 32
    seed: options.Seed = 1
    no_interval: options.NoInterval = False
    picture: PictureOptions
    answer: AnswerOptions

    @property
    def sample(self) -> int:
        """Draws that are made."""
        return 0 if self.no_interval else self.draws

    @property
    def is_story(self) -> bool:
        """Whether one container is compared with itself in other conditions."""
        return len(self.designs) == 1 and bool(
            self.against_fill or self.against_preheat or any(text.startswith("scenario.") for text in self.set_b)
        )


def with_calibration(text: str, calibrated: tuple[Calibrated | None, ...]) -> str:
    """Return a text with what was taken from a calibration in front."""
    lines = [
        f"{letter}: {known.line()}" if len(calibrated) > 1 else known.line()
        for letter, known in zip("AB", calibrated, strict=False)
        if known is not None
    ]
    return "\n".join([*lines, *([""] if lines else []), text])


def calibration_document(calibrated: tuple[Calibrated | None, ...]) -> dict[str, Any]:
    """Return what was taken from a calibration, for a JSON object; nothing if there is none."""
    known = [entry.document() for entry in calibrated if entry is not None]
    return {"calibration": known} if known else {}
