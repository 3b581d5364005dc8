"""Options that bound what a design may be, say how far its pieces spread, and how long they shall hold."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Annotated

import typer

from geometries.errors import InputError, at_once, refuse_repeated
from thermal_model.cli.settings import assignment
from thermal_model.cli.typed import typed_duration
from thermal_model.follow import DEFAULT_HORIZON
from thermal_model.study.measures import Constraint, Measure, read_constraint
from thermal_model.study.question import Question
from thermal_model.study.ranges import number_field
from thermal_model.study.tolerance import ProductionSpread, read_spread


@dataclass(frozen=True, kw_only=True)
class ConstraintOptions:
    """Bounds as typed."""

    at_most: Annotated[
        tuple[str, ...],
        typer.Option("--at-most", metavar="NAME=VALUE", help="mass=400g, diameter, height, depth, mouth, layers, ..."),
    ] = ()
    at_least: Annotated[
        tuple[str, ...],
        typer.Option("--at-least", metavar="NAME=VALUE", help="mouth=40mm, capacity, hold=6h, or a path; repeatable."),
    ] = ()

    @property
    def names(self) -> list[str]:
        """What is bounded."""
        return [text.partition("=")[0].strip() for text in (*self.at_most, *self.at_least)]

    def read(self, question: Question, own: Mapping[str, Measure] | None = None) -> list[Constraint]:
        """Return the constraints.

        Parameters
        ----------
        question : Question
        own : mapping of str to Measure, optional
            Measures that one command has besides those of all.

        Raises
        ------
        InputError
            With the problems of all of them.
        """

        def read(text: str, is_upper: bool, option: str) -> Constraint:
            name, value = assignment(text, option, "mass=400g")
            return read_constraint(name, value, is_upper, question.container, question.scenario, option, own or {})

        upper = [partial(read, text, True, "--at-most") for text in self.at_most]
        lower = [partial(read, text, False, "--at-least") for text in self.at_least]
        return at_once(*upper, *lower)


Hold = Annotated[str | None, typer.Option("--hold", metavar="TIME", help="Wanted hold time, '8h'.")]


def read_hold(text: str) -> float:
    """Return what --hold says; a run is followed no longer. [s]

    Raises
    ------
    InputError
    """
    return typed_duration(text, "--hold", DEFAULT_HORIZON)


def read_tolerances(texts: tuple[str, ...], question: Question) -> list[ProductionSpread]:
    """Return the spread that each --tolerance says; a number has one."""
    spreads = at_once(*(partial(_read, text, question) for text in texts))
    refuse_repeated([spread.field.path for spread in spreads], "has two spreads; give one", "--tolerance")
    return spreads


def _read(text: str, question: Question) -> ProductionSpread:
    """Return the spread that PATH=SPREAD of --tolerance says.

    Raises
    ------
    InputError
        If it is no spread of a number of the design or scenario, or three of it reach what can't be.
    """
    path, value = assignment(text, "--tolerance", "body.neck.mouth_diameter='0.3 mm'")
    spread = read_spread(number_field(path, question.container, question.scenario, "--tolerance"), value, "--tolerance")
    middle, reach = float(spread.field.value or 0.0), 3.0 * spread.deviation
    # Rounded: 20 C less 60 K is -40 C, which is allowed, not what a last bit makes of it.
    ends = [float(f"{end:.6g}") for end in (middle - reach, middle + reach)]
    try:
        question.check_values(path, ends, "--tolerance")
    except InputError as error:
        message = f"three spreads reach too far: {error.problems[0].message}"
        raise InputError(message, path, value, "--tolerance") from None
    return spread
