"""`holdtime unknowns`: what a ruler can't see, how far each may be off, and what would narrow it."""

from typing import TYPE_CHECKING

import typer

from thermal_model.cli import options

if TYPE_CHECKING:
    from thermal_model.uncertainty import Prior


def unknowns(json: options.Json = False) -> None:
    """List what is not known of a container: how far it may be off, why, and what would narrow it.

    Example: holdtime unknowns
    """
    from thermal_model.uncertainty import PRIORS

    if json:
        from thermal_model.results import json_text

        rows = [_document(name, prior) for name, prior in PRIORS.items()]
        typer.echo(json_text({"unknowns": rows}), nl=False)
        return
    typer.echo("Nine in ten containers lie within the range given; 'x 1.2' means from a 1.2th to 1.2 times.\n")
    for name, prior in PRIORS.items():
        typer.echo(_paragraph(name, prior))


def _document(name: str, prior: "Prior") -> dict[str, object]:
    return {
        "name": name,
        "label": prior.label,
        "spread": prior.spread.value,
        "width": prior.width,
        "range_90": width_words(name, prior),
        "source": prior.source,
        "advice": prior.advice,
    }


def _paragraph(name: str, prior: "Prior") -> str:
    advice = f"\n    to narrow it: {prior.advice}" if prior.advice else ""
    return f"{prior.label}  ({name}, {width_words(name, prior)})\n    why: {prior.source}{advice}"


def width_words(name: str, prior: "Prior") -> str:
    """Return the range that holds nine in ten, as a factor or a shift with its unit."""
    import math

    from thermal_model.uncertainty import Spread

    reach = 1.6449 * prior.width
    if prior.spread is Spread.FACTOR:
        return f"x {math.exp(reach):.3g}"
    return f"± {1e3 * reach:.2g} mm" if name in ("mouth_diameter",) else f"± {reach:.2g} K"
