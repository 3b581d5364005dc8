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
