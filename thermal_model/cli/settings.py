"""Overrides of single fields, `--set path=value`, and the design they change."""

from dataclasses import replace
from pathlib import Path

from geometries.container import Container
from geometries.design_file import load_container
from geometries.errors import InputError, InputProblem, nearest_hint, refuse
from geometries.overrides import with_overrides

DESIGN_ROOTS = ("body", "lid", "name", "title", "summary")
SCENARIO_ROOT = "scenario"


def assignment(text: str, option: str, example: str) -> tuple[str, str]:
    """Return name and value of "name=value", or raise an InputError that names the option."""
    name, equals, value = text.partition("=")
    if not equals or not name.strip() or not value.strip():
        raise InputError(f"{text!r} is not understood; write name=value, for example {option} {example}", source=option)
    return name.strip(), value.strip()


def split_settings(settings: tuple[str, ...]) -> tuple[dict[str, str], dict[str, str]]:
    """Return what --set sets in the design and in the scenario, the latter without its prefix.

    Raises
    ------
    InputError
        If a path belongs to neither.
    """
    design: dict[str, str] = {}
    scenario: dict[str, str] = {}
    problems = []
    for text in settings:
        path, value = assignment(text, "--set", "body.neck.mouth_diameter='45 mm'")
        root, _, rest = path.partition(".")
        if root == SCENARIO_ROOT and rest:
            scenario[rest] = value
        elif root in DESIGN_ROOTS:
            design[path] = value
        else:
            near = nearest_hint(root, (*DESIGN_ROOTS, SCENARIO_ROOT))
            message = f"unknown path; {near}paths begin with body., lid. or scenario."
            problems.append(InputProblem(message, path, source="--set"))
    refuse(problems)
    return design, scenario


def read_design(design: str, settings: tuple[str, ...], calibration: Path | None = None) -> Container:
    """Return a container from a file, a calibration or the catalogue, with what --set changes in it.

    Parameters
    ----------
    design : str
        A file; or a name that a container has on the bench of the calibration, or in the catalogue.
    settings : tuple of str
    calibration : Path, optional

    Raises
    ------
    InputError
        As `load_container` and `with_overrides`.
    """
    if not design.strip():
        raise InputError("is empty; give a design file, or a name from: holdtime designs list", "design")
    container = (None if calibration is None else _benched(design, calibration)) or load_container(design)
    changes = split_settings(settings)[0]
    return with_overrides(container, changes, source="--set") if changes else container


def _benched(design: str, calibration: Path) -> Container | None:
    """Return the container that goes under a name in a calibration, None if there is none or the name is a file."""
    from thermal_model.bench.calibration.calibration_file import read_calibration

    if Path(design).is_file():
        return None
    known = read_calibration(calibration)
    try:
        return known.container(design) or (load_container(design) if design not in known.containers else None)
    except InputError as error:
        if not known.designs:
            raise
        names = f"; calibrated in {calibration}: {', '.join(known.designs)}"
        raise InputError(
            replace(p, message=p.message + names) if p.field == "design" else p for p in error.problems
        ) from None
