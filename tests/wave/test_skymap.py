"""The field of every direction at once, against closed forms and against single directions."""

from __future__ import annotations

import numpy as np
import pytest
from knife_edge import knife_edge_loss_db
from scipy.interpolate import RectBivariateSpline

from skyview.errors import InputError
from skyview.wave import skymap
from skyview.wave.aperture import loss_db
from skyview.wave.screens import Screen, fields
from skyview.wave.skymap import SkyMap, sky_map

LOW, HIGH = (-0.35, 0.0), (0.35, 0.5)


def at(seen: SkyMap, slopes: np.ndarray) -> np.ndarray:
    """Loss at directions (..., 2). [dB]"""
    modulus = RectBivariateSpline(seen.y, seen.x, np.abs(seen.field))
    return loss_db(modulus.ev(slopes[..., 1], slopes[..., 0]))


def box(left: float, right: float, bottom: float, top: float) -> np.ndarray:
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top]])


def house(distance_m: float, left: float, right: float, top: float) -> Screen:
    """Standing on ground 8 m below the antenna; sides and top in slopes."""
    ring = box(left * distance_m, right * distance_m, -8.0, top * distance_m)
    return Screen(distance_m, [ring], [0.0])


def spruce(distance_m: float, middle: float, half: float, top: float, share: complex) -> Screen:
    """A jagged cone; middle, half width and top in slopes."""
    height = np.linspace(0.0, 1.0, 12)
    side = half * (1.0 - height) * (1.0 + 0.2 * np.sin(9.0 * np.arange(12)))
    up = -8.0 / distance_m + (top + 8.0 / distance_m) * height
    left, right = np.stack([middle - side, up], 1), np.stack([middle + side, up], 1)
    return Screen(distance_m, [distance_m * np.concatenate([left, right[::-1]])], [share])


def test_without_anything_nothing_is_lost() -> None:
    absent = Screen(30.0, [box(-5.0, 5.0, -5.0, 5.0)], [1.0])
    for screens in ([], [absent], [Screen(30.0, [], [])]):
        seen = sky_map(screens, 1.0, LOW, HIGH)
        assert np.abs(loss_db(seen.field)).max() < 1e-4
        assert seen.x[0] <= LOW[0] + 0.1
        assert seen.x[-1] >= HIGH[0] - 0.1


@pytest.mark.parametrize("wavelength_m", [4.3, 1.5, 0.5])
def test_a_half_plane_loses_what_fresnel_says(wavelength_m: float) -> None:
    """Rec. ITU-R P.526-15, section 4.1: nu = h sqrt(2 / (wavelength d)), J(nu) by its integrals."""
    distance = 40.0
    edge = Screen(distance, [box(-4e3, 4e3, -4e3, 0.0)], [0.0])
    seen = sky_map([edge], wavelength_m, (-0.3, -0.4), (0.3, 0.4))
    slope = np.linspace(-0.35, 0.35, 57)
    nu = -slope * np.sqrt(2.0 * distance / wavelength_m)
    truth = knife_edge_loss_db(nu)
    for x in (-0.2, 0.0, 0.25):
        error = at(seen, np.stack([np.full(57, x), slope], 1)) - truth
        assert np.abs(error[truth < 20.0]).max() < 0.2


SCENES = {
    "house": [house(40.0, -0.2, 0.15, 0.12)],
    "spruce": [spruce(22.0, 0.05, 0.12, 0.4, 0.4)],
    "spruce before house": [spruce(18.0, -0.1, 0.1, 0.35, 0.5), house(60.0, -0.25, 0.2, 0.1)],
    "two houses": [house(25.0, -0.4, 0.0, 0.08), house(90.0, -0.1, 0.3, 0.15)],
    "house before hill": [house(35.0, -0.1, 0.2, 0.06), house(3000.0, -0.5, 0.5, 0.03)],
}


@pytest.mark.parametrize("frequency_mhz", [69.0, 200.0, 600.0])
@pytest.mark.parametrize("scene", SCENES)
def test_every_direction_is_as_computed_alone(scene: str, frequency_mhz: float) -> None:
    wavelength = 299.792458 / frequency_mhz
    slopes = np.random.default_rng(4).uniform((-0.33, 0.0), (0.33, 0.3), (40, 2))
    alone = loss_db(fields(SCENES[scene], wavelength, slopes=slopes))
    error = at(sky_map(SCENES[scene], wavelength, LOW, HIGH), slopes) - alone
    shallow = alone < 20.0
    assert shallow.sum() > 15
    assert np.sqrt(np.mean(error[shallow] ** 2)) < 0.3


def test_what_stands_beside_the_patch_does_not_come_in_at_the_other_side() -> None:
    wall = house(30.0, 0.3, 0.8, 0.5)
    low = np.stack([np.linspace(-0.34, -0.25, 10), np.full(10, 0.1)], 1)
    error = at(sky_map([wall], 1.0, LOW, HIGH), low) - loss_db(fields([wall], 1.0, slopes=low))
    assert np.abs(error).max() < 0.2


def test_a_shape_stands_at_every_turn() -> None:
    turn = 2.0 * np.pi
    there = sky_map([house(30.0, -0.1, 0.1, 0.2)], 1.0, LOW, HIGH)
    elsewhere = house(30.0, turn - 0.1, turn + 0.1, 0.2)
    assert np.allclose(sky_map([elsewhere], 1.0, LOW, HIGH, period=turn).field, there.field)
    bare = sky_map([elsewhere], 1.0, LOW, HIGH)
    assert np.abs(loss_db(bare.field)).max() < 0.5 < loss_db(there.field).max()


def test_low_frequencies_bend_round_a_narrow_spruce() -> None:
    trunk = [spruce(25.0, 0.0, 0.12, 0.5, 0.0)]
    behind = np.array([[0.0, 0.0]])
    low, high = (float(at(sky_map(trunk, w, LOW, HIGH), behind)[0]) for w in (4.3, 0.5))
    assert low < high - 3.0


def test_too_few_pixels_are_said_and_still_near(monkeypatch: pytest.MonkeyPatch) -> None:
    scene = SCENES["spruce before house"]
    fine = sky_map(scene, 0.5, LOW, HIGH)
    monkeypatch.setattr(skymap, "MOST_PIXELS", 20_000)
    coarse = sky_map(scene, 0.5, LOW, HIGH)
    assert fine.widened == 1.0 < coarse.widened
    slopes = np.random.default_rng(5).uniform((-0.3, 0.02), (0.3, 0.3), (40, 2))
    truth = at(fine, slopes)
    error = (at(coarse, slopes) - truth)[truth < 12.0]
    assert 0.0 < np.sqrt(np.mean(error**2)) < 1.5


def test_screens_nearly_together_act_as_one() -> None:
    left, right = house(50.0, -0.2, 0.0, 0.1), house(50.5, 0.0, 0.2, 0.1)
    one = Screen(50.0, [*left.polygons_m, right.polygons_m[0] * 50.0 / 50.5], [0.0, 0.0])
    both = sky_map([right, left], 1.0, LOW, HIGH)
    assert np.allclose(both.field, sky_map([one], 1.0, LOW, HIGH).field, atol=1e-5)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="wavelength"):
        sky_map([], 0.0, LOW, HIGH)
    with pytest.raises(InputError, match="no area"):
        sky_map([], 1.0, LOW, (0.3, 0.0))
