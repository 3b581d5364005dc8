"""Numbers typed as options, read with their units and held to what is allowed; every message names the option."""

from functools import partial

from geometries.errors import InputError, told_of
from geometries.quantities import Dimension, exact_text, parse_quantity
from thermal_model.words.numbers import duration_text


def typed_quantity(
    text: str, dimension: Dimension, option: str, *, above: float = float("-inf"), at_most: float = float("inf")
) -> float:
    """Return a quantity in SI units.

    Parameters
    ----------
    text : str
    dimension : Dimension
    option : str
        It was typed for.
    above, at_most : float
        What is allowed. [SI]

    Raises
    ------
    InputError
    """
    with told_of(source=option):
        value = parse_quantity(text, dimension)
    if above < value <= at_most:
        return value
    shown = duration_text if dimension is Dimension.DURATION else partial(exact_text, dimension=dimension)
    upper = f", at most {shown(at_most)}" if at_most < float("inf") else ""
    raise InputError(f"'{text}' is not allowed; it must be above {shown(above)}{upper}", source=option)


def typed_duration(text: str, option: str, longest: float = 7.0 * 86400.0) -> float:
    """Return a duration above zero, no longer than the longest. [s]"""
    return typed_quantity(text, Dimension.DURATION, option, above=0.0, at_most=longest)


def typed_share(text: str, option: str) -> float:
    """Return a share between 0 and 1, typed as '5 %' or 0.05."""
    share = typed_quantity(text, Dimension.FRACTION, option)
    if not 0.0 < share < 1.0:
        raise InputError(f"'{text}' is not allowed; it must lie between 0 and 100 %", source=option)
    return share
