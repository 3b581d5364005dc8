"""Simultaneous resistance and reactance: JCGM 100:2008 (GUM), annex H.2, every printed digit.

Observations: table H.2 of the annex (`gum_h2.csv`). Results as printed there; those of the inputs, and that u(X) is
0.296 (0.2956 unrounded) and not 0.295, are second-hand.
"""

import numpy as np
import pytest

from tests.published.check import Check, read_rows
from thermal_model.bench.reduce.propagation import propagate

OBSERVATIONS = np.array([[float(cell) for cell in row.values()] for row in read_rows("gum_h2.csv")])


def impedance(x: np.ndarray) -> np.ndarray:
    """R, X, Z from voltage, current and phase."""
    voltage, current, phase = x
    return np.array([voltage / current * np.cos(phase), voltage / current * np.sin(phase), voltage / current])


def _checks() -> list[Check]:
    # 4.2.2, 4.2.3 and eq. 17 of 5.2.3: means of quantities observed together, and the covariance of these means.
    mean, covariance = OBSERVATIONS.mean(axis=0), np.cov(OBSERVATIONS.T) / len(OBSERVATIONS)
    values, output = propagate(impedance, mean, covariance)
    spread, u = np.sqrt(np.diag(output)), np.sqrt(np.diag(covariance))
    r, r_in = output / np.outer(spread, spread), covariance / np.outer(u, u)
    figures = [
        ("V", mean[0], "4.9990"),
        ("I", 1e3 * mean[1], "19.6610"),
        ("phi", mean[2], "1.04446"),
        ("u(V)", u[0], "0.0032"),
        ("u(I)", 1e3 * u[1], "0.0095"),
        ("u(phi)", u[2], "0.00075"),
        ("r(V, I)", r_in[0, 1], "-0.36"),
        ("r(V, phi)", r_in[0, 2], "0.86"),
        ("r(I, phi)", r_in[1, 2], "-0.65"),
        ("R", values[0], "127.732"),
        ("X", values[1], "219.847"),
        ("Z", values[2], "254.260"),
        ("u(R)", spread[0], "0.071"),
        ("u(X)", spread[1], "0.296"),
        ("u(Z)", spread[2], "0.236"),
        ("r(R, X)", r[0, 1], "-0.588"),
        ("r(R, Z)", r[0, 2], "-0.485"),
        ("r(X, Z)", r[1, 2], "0.993"),
    ]
    return [Check(name, float(ours), printed, "JCGM 100:2008, H.2") for name, ours, printed in figures]


@pytest.mark.parametrize("check", _checks(), ids=lambda check: check.name)
def test_every_printed_digit(check: Check) -> None:
    assert check.agrees, str(check)
