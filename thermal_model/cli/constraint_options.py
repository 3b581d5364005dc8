"""Options that bound what a design may be, and the hold time that is wanted, read in one place."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Annotated

import typer

from geometries.errors import at_once
from thermal_model.cli.settings import assignment
from thermal_model.cli.typed import typed_duration
from thermal_model.follow import DEFAULT_HORIZON
from thermal_model.study.measures import Constraint, Measure, read_constraint
from thermal_model.study.question import Question


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
