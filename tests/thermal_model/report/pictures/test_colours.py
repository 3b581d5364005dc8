"""Colours that mean different things stay apart for all eyes, and letters stand out from their ground.

Colour blindness is simulated with the matrices of Machado, Oliveira and Fernandes, "A physiologically-based model for
simulation of color vision deficiency", IEEE Trans. Vis. Comput. Graph. 15(6), 2009, 1291-1298, severity 1.0, on linear
RGB. Distances are those of CIELAB (CIE 1976, D65); 2.3 is a just noticeable difference (Mahy et al., Color Res. Appl.
19(2), 1994, 105-121). Contrast is that of WCAG 2.2, success criteria 1.4.3 and 1.4.11.
"""

from itertools import combinations

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from geometries.numeric import Array
from geometries.section import AIR, CONTENTS, VACUUM
from thermal_model.report.drawing import look as filling_look
from thermal_model.report.pictures.look import DARK, LIGHT, Theme

SIMULATED = {
    "usual": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
"""Of linear sRGB, IEC 61966-2-1."""

APART = 20.0
"""Of colours that stand for different things in one picture."""

THEMES = {"light": LIGHT, "dark": DARK}
TOGETHER = (
    ("hot", "cold"),
    ("hot", "limit"),
    ("cold", "limit"),
    ("more", "less"),
    *combinations(("lid", "steel_bridge", "gap_side", "base", "vent"), 2),
    *combinations(("first", "second", "third", "fourth"), 2),
)


def linear(colour: str) -> Array:
    rgb = np.array(to_rgb(colour))
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def lab(rgb: Array) -> Array:
    ratio = TO_XYZ @ rgb / (TO_XYZ @ np.ones(3))
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def seen(colour: str, eyes: str) -> Array:
    return lab(np.clip(SIMULATED[eyes] @ linear(colour), 0.0, 1.0))


def contrast(colour: str, ground: str) -> float:
    light, dark = sorted((float(TO_XYZ[1] @ linear(c)) for c in (colour, ground)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_lab_of_known_colours() -> None:
    """sRGB red and blue, CIELAB under D65: Lindbloom, brucelindbloom.com, colour calculator, to its printed digits."""
    assert lab(linear("#ff0000")) == pytest.approx([53.24, 80.09, 67.20], abs=0.05)
    assert lab(linear("#0000ff")) == pytest.approx([32.30, 79.19, -107.86], abs=0.05)
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("eyes", SIMULATED)
@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_colours_of_one_picture_are_told_apart(theme: Theme, eyes: str) -> None:
    near = {
        (one, other): float(np.linalg.norm(seen(theme.tones[one], eyes) - seen(theme.tones[other], eyes)))
        for one, other in TOGETHER
    }
    assert {pair: round(distance, 1) for pair, distance in near.items() if distance < APART} == {}


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_hot_is_the_warmest_and_cold_the_coolest(theme: Theme) -> None:
    """Warm towards yellow and red: a + b of CIELAB; no other tone goes as far either way."""
    warmth = {name: float(lab(linear(colour))[1:].sum()) for name, colour in theme.tones.items()}
    assert max(warmth, key=warmth.__getitem__) == "hot"
    assert min(warmth, key=warmth.__getitem__) == "cold"


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_letters_and_marks_stand_out(theme: Theme) -> None:
    for letters in (theme.ink, theme.muted):
        assert contrast(letters, theme.ground) >= 4.5
    # Names are written in these.
    for tone in ("hot", "cold", "limit"):
        assert contrast(theme.tones[tone], theme.ground) >= 4.5
    for tone in ("more", "less", "plain", "first", "second", "third", "fourth"):
        assert contrast(theme.tones[tone], theme.ground) >= 3.0
    # A heat path's bar has its name and its number beside it, so that colour alone carries nothing.
    assert min(contrast(colour, theme.ground) for colour in theme.tones.values()) >= 1.9


FILLINGS = (
    CONTENTS,
    AIR,
    VACUUM,
    "closed opening",
    "polyurethane_foam",
    "polypropylene",
    "cork",
    "stainless_304",
    "stoneware",
    "silicone_rubber",
)
"""One of each kind that a drawing fills."""


@pytest.mark.parametrize("filling", FILLINGS)
@pytest.mark.parametrize("is_hot", [True, False])
def test_a_dark_drawing_is_dark(filling: str, is_hot: bool) -> None:
    """Lightness of CIELAB: no large face shines out of a dark ground, and each has its letters' contrast."""
    face, _ = filling_look(filling, is_hot, is_dark=True)
    assert seen(face, "usual")[0] < 65.0
    assert seen(face, "usual")[0] <= seen(filling_look(filling, is_hot)[0], "usual")[0] + 10.0
    assert contrast(DARK.ink, face) > 2.5


@pytest.mark.parametrize("eyes", SIMULATED)
@pytest.mark.parametrize("is_dark", [False, True])
def test_hot_and_cold_contents_are_told_apart(eyes: str, is_dark: bool) -> None:
    hot, cold = (filling_look(CONTENTS, is_hot, is_dark=is_dark)[0] for is_hot in (True, False))
    assert np.linalg.norm(seen(hot, eyes) - seen(cold, eyes)) > APART
