"""`holdtime unknowns`: what a ruler can't see, how far each may be off, and what would narrow it."""

import math

from geometries.unsure import NINE_IN_TEN
from thermal_model.cli import options
from thermal_model.cli.answer import print_json
from thermal_model.uncertainty import PRIORS, Prior, Spread
from thermal_model.words.documents import entries

_IN_MILLIMETRES = ("mouth_diameter",)


def unknowns(json: options.Json = False) -> None:
    """List what is not known of a container: how far it may be off, why, and what would narrow it.

    Example: holdtime unknowns
    """
    if json:
        rows = [_document(name, prior) for name, prior in PRIORS.items()]
        print_json({"unknowns": rows})
        return
    _print_table(PRIORS)


def _document(name: str, prior: Prior) -> dict[str, object]:
    return {
        "name": name,
        **entries(prior, "label", "spread", "width"),
        "nine_in_ten": range_words(name, prior),
        **entries(prior, "source", "advice"),
    }


def _print_table(priors: dict[str, Prior]) -> None:
    from rich.box import HORIZONTALS
    from rich.console import Console
    from rich.table import Table

    table = Table(box=HORIZONTALS, show_lines=True, header_style="bold", pad_edge=False)
    for heading in ("what is not known", "nine in ten lie within", "why", "to narrow it"):
        table.add_column(heading, overflow="fold")
    for name, prior in priors.items():
        table.add_row(prior.label, range_words(name, prior), prior.source, prior.advice)
    Console().print(table)


def range_words(name: str, prior: Prior) -> str:
    """Return the range that holds nine in ten, as percentages or as a shift with its unit.

    A factor of lognormal spread reaches further up than down.
    """
    reach = NINE_IN_TEN * prior.width
    if prior.spread is Spread.SHIFT:
        return f"± {1e3 * reach:.2g} mm" if name in _IN_MILLIMETRES else f"± {reach:.2g} K"
    factor = math.exp(reach)
    if factor >= 2.0:
        return f"1/{factor:.2g} to {factor:.2g} times"
    return f"-{100.0 * (1.0 - 1.0 / factor):.0f} % to +{100.0 * (factor - 1.0):.0f} %"
