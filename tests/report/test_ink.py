"""Contrast on paper, colours under simulated colour blindness, sizes and type faces."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from skyview.report import ink

# Machado, Oliveira, Fernandes 2009, "A physiologically-based model for simulation of color
# vision deficiency", severity 1.0, for linear RGB; the matrices are from memory.
SIMULATIONS = {
    "normal": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
FLOOR_CIEDE2000 = 20.0


def linear(colour: str) -> np.ndarray:
    """Linear RGB of "#RRGGBB": IEC 61966-2-1."""
    coded = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIE L*a*b* of linear sRGB, white D65: IEC 61966-2-1 and CIE 15."""
    to_xyz = np.array(
        [
            [0.4124, 0.3576, 0.1805],
            [0.2126, 0.7152, 0.0722],
            [0.0193, 0.1192, 0.9505],
        ]
    )
    t = to_xyz @ np.clip(rgb, 0.0, 1.0) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def ciede2000(one: np.ndarray, two: np.ndarray) -> float:
    """Colour difference: Sharma, Wu, Dalal 2005, equations 2 to 22, all weights 1."""
    (l1, a1, b1), (l2, a2, b2) = one, two
    mean_c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    g = 0.5 * (1 - np.sqrt(mean_c7 / (mean_c7 + 25.0**7)))
    a1, a2 = (1 + g) * a1, (1 + g) * a2
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = (np.degrees(np.arctan2(b, a)) % 360 for a, b in ((a1, b1), (a2, b2)))
    dh = (h2 - h1 + 180) % 360 - 180 if c1 * c2 else 0.0
    dl, dc, dhh = l2 - l1, c2 - c1, 2 * np.sqrt(c1 * c2) * np.sin(np.radians(dh / 2))
    ml, mc = (l1 + l2) / 2, (c1 + c2) / 2
    mh = (h1 + dh / 2) % 360 if c1 * c2 else h1 + h2
    t = (
        1
        - 0.17 * np.cos(np.radians(mh - 30))
        + 0.24 * np.cos(np.radians(2 * mh))
        + 0.32 * np.cos(np.radians(3 * mh + 6))
        - 0.20 * np.cos(np.radians(4 * mh - 63))
    )
    rotation = 30 * np.exp(-(((mh - 275) / 25) ** 2))
    rc = 2 * np.sqrt(mc**7 / (mc**7 + 25.0**7))
    sl = 1 + 0.015 * (ml - 50) ** 2 / np.sqrt(20 + (ml - 50) ** 2)
    sc, sh = 1 + 0.045 * mc, 1 + 0.015 * mc * t
    rt = -np.sin(np.radians(2 * rotation)) * rc
    parts = (dl / sl) ** 2 + (dc / sc) ** 2 + (dhh / sh) ** 2 + rt * dc / sc * dhh / sh
    return float(np.sqrt(parts))


@pytest.mark.parametrize(
    ("one", "two", "expected"),
    [  # Sharma, Wu, Dalal 2005, table 1, pairs 1, 4 and 25, from memory
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, -1.3802, -84.2814), (50.0, 0.0, -82.7485), 1.0000),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ],
)
def test_the_colour_difference_itself(one: tuple, two: tuple, expected: float) -> None:
    assert ciede2000(np.array(one), np.array(two)) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("eyes", SIMULATIONS)
def test_word_colours_stay_apart(eyes: str) -> None:
    seen = [lab(SIMULATIONS[eyes] @ linear(c)) for c in ink.WORD_COLOURS.values()]
    closest = min(ciede2000(a, b) for a, b in itertools.combinations(seen, 2))
    assert closest >= FLOOR_CIEDE2000


def contrast(one: str, two: str) -> float:
    """Contrast ratio: WCAG 2.2, definitions "contrast ratio" and "relative luminance"."""
    light = sorted(float(np.dot([0.2126, 0.7152, 0.0722], linear(c))) for c in (one, two))
    return (light[1] + 0.05) / (light[0] + 0.05)


def test_contrast_formula_at_its_ends() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#777777", "#777777") == pytest.approx(1.0)


@pytest.mark.parametrize("ground", [ink.PAPER, ink.PANEL])
@pytest.mark.parametrize("colour", [ink.INK, ink.INK_2, ink.PENCIL, *ink.WORD_COLOURS.values()])
def test_text_contrast(colour: str, ground: str) -> None:
    """WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text."""
    assert contrast(colour, ground) >= 4.5


def test_every_path_word_has_its_own_colour() -> None:
    assert len(set(ink.WORD_COLOURS.values())) == len(ink.WORD_COLOURS) == 5


def test_scale_is_even_between_telephone_and_print() -> None:
    assert ink.scale_for(600) == ink.scale_for(900) == 1.35
    assert ink.scale_for(1150) == pytest.approx(1.175)
    assert ink.scale_for(1400) == ink.scale_for(5000) == 1.0


@pytest.mark.parametrize("face", ["sans", "serif"])
def test_the_list_of_type_faces_ends_with_what_is_always_there(face: ink.Face) -> None:
    names = ink.families(face)
    assert "DejaVu Sans" in names
    assert names[-1] in ("sans-serif", "serif")
