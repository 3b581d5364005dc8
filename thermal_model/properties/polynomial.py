"""Evaluation of the fitted polynomials."""

from geometries.numeric import Numeric


def horner(coefficients: tuple[float, ...], x: Numeric) -> Numeric:
    """Evaluate a polynomial by Horner's rule.

    Parameters
    ----------
    coefficients : tuple of float
        Highest power first.
    x : float or (n,) array
        Where to evaluate. [-]

    Returns
    -------
    float or (n,) array
        Value of the polynomial.

    Examples
    --------
    >>> horner((2.0, -1.0, 0.5), 3.0)
    15.5
    """
    value = coefficients[0] * x + coefficients[1]
    for coefficient in coefficients[2:]:
        # In place: this loop is what a run spends most of its time in.
        value *= x
        value += coefficient
    return value


def about(coefficients: tuple[float, ...], centre: float) -> tuple[float, ...]:
    """Return the coefficients of the same polynomial by powers of the distance from a centre.

    Parameters
    ----------
    coefficients : tuple of float
        Highest power first.
    centre : float

    Returns
    -------
    tuple of float
        Highest power first; the last one is the value at the centre.

    Examples
    --------
    >>> about((1.0, 0.0, 0.0), 3.0)  # x^2 = (x - 3)^2 + 6 (x - 3) + 9
    (1.0, 6.0, 9.0)
    """
    left, found = list(coefficients), []
    while left:
        for place in range(1, len(left)):
            left[place] += centre * left[place - 1]
        found.append(left.pop())
    return tuple(reversed(found))
