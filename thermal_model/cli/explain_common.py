"""What the questions of `holdtime explain` have in common: what is wanted, and how the answer is shown."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer

from thermal_model.cli.calibration_options import Calibrated
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.report.results import json_text, write_json


@dataclass(frozen=True)
class Wanted:
    """What is to be computed, shown and written."""

    designs: tuple[str, ...]
    until: str | None
    settings_b: tuple[str, ...]
    parts: tuple[str, ...]
    against_fill: str | None
    against_preheat: str | None
    after: str
    calibration: Path | None
    calibrated_as: tuple[str | None, str | None]
    draws: int
    seed: int
    picture: PictureOptions
    json: bool
    output: Path | None

    @property
    def is_story(self) -> bool:
        """Whether one container is compared with itself in other conditions."""
        return len(self.designs) == 1 and bool(
            self.against_fill or self.against_preheat or any(text.startswith("scenario.") for text in self.settings_b)
        )


def show_answer(text: Callable[[], str], document: dict[str, Any], wanted: Wanted) -> None:
    """Write the JSON object to a file if asked for, and print text or JSON."""
    if wanted.output is not None:
        write_json(wanted.output, document)
    typer.echo(json_text(document) if wanted.json else text(), nl=not wanted.json)
    if not wanted.json:
        for path in filter(None, (wanted.output, wanted.picture.plot)):
            typer.echo(f"\nwritten: {path}", err=True)


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
