"""The loss in every direction of a survey, against single directions through the same outlines."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator
from survey_scene import box_ring

from skyview.angles import Array
from skyview.constants import wavelength_m
from skyview.errors import InputError
from skyview.mount.sight import ray_axes, see
from skyview.survey.cameras import camera_of
from skyview.survey.loss_view import LossLayer, loss_layer, screens_about
from skyview.survey.losses import amplitude_of
from skyview.survey.models import Survey, validate
from skyview.survey.screens import ViewScreen, screens_of
from skyview.wave.aperture import loss_db
from skyview.wave.screens import Screen, field

ANTENNA = np.array([0.0, 0.0, 6.5])
SECTOR = (-60.0, 60.0), (0.0, 38.0)

HOUSE = {"kind": "building", "distance_m": 60.0, "ring": box_ring(-8.0, 6.0, -4.0, 7.0)}
NARROW_HOUSE = {"kind": "building", "distance_m": 60.0, "ring": box_ring(-3.0, 3.0, -4.0, 7.0)}
OAK = {"kind": "broadleaf", "distance_m": 24.0, "ring": box_ring(-3.0, 12.0, -10.0, 18.0)}
SPRUCE = {"kind": "mast", "distance_m": 25.0, "ring": box_ring(-5.0, 5.0, -14.0, 30.0)}


def seen_by(survey: Survey) -> dict[str, list[ViewScreen]]:
    return screens_of(survey, {view.id: camera_of(survey, view) for view in survey.views})[0]


def at(layer: LossLayer, azimuth_deg: Array, elevation_deg: Array) -> Array:
    look_up = RegularGridInterpolator((layer.elevation_deg, layer.azimuth_deg), layer.loss_db)
    return np.asarray(look_up(np.stack([elevation_deg, azimuth_deg], -1)))


def alone(
    things: dict[str, list[ViewScreen]], azimuth_deg: float, elevation_deg: float, mhz: float
) -> float:
    """Loss of one ray: each outline carried square to it, without holes. [dB]"""
    azimuth, elevation = (np.radians([[v]]) for v in (azimuth_deg, elevation_deg))
    standing = []
    for view in (views[0] for views in things.values()):
        upright = view.screen
        for part in upright.parts:
            ring = see(
                (upright.points(part[0]),), upright.azimuth, ANTENNA[None], azimuth, elevation
            )
            shape = np.stack([v[0, 0] for v in ring.rings[0]], 1)
            amplitude = float(amplitude_of(view, np.array([mhz]), "in")[0])
            standing.append(Screen(float(ring.distance_m[0, 0]), [shape], [amplitude]))
    return float(loss_db(field(standing, float(wavelength_m(mhz)))))


def by_detours(view: ViewScreen, azimuth_deg: float, elevation_deg: float, mhz: float) -> float:
    """Loss behind one opaque outline from the detours over its edge, without approximating them.

    The boundary-line form of Kirchhoff's integral, the phase being that of the whole detour over
    each point of the edge instead of the square of its offset. [dB]
    """
    ring = view.screen.points(view.screen.parts[0][0]) - ANTENNA
    share = np.linspace(0.0, 1.0, 2000, endpoint=False)[:, None]
    after = np.roll(ring, -1, axis=0)
    edge = np.concatenate([a + share * (b - a) for a, b in zip(ring, after, strict=True)])
    right, up, ahead = ray_axes(*np.radians([azimuth_deg, elevation_deg]))
    detour = np.linalg.norm(edge, axis=1) - edge @ ahead
    turned = np.unwrap(np.arctan2(np.append(edge @ up, 0.0), np.append(edge @ right, 0.0)))[:-1]
    turned = np.unwrap(np.append(turned, np.arctan2(edge[0] @ up, edge[0] @ right)))
    phase = np.exp(2j * np.pi * detour / wavelength_m(mhz))
    phase = 0.5 * (phase + np.roll(phase, -1))
    inside = (turned[-1] - turned[0]) / (2.0 * np.pi)
    behind = inside - np.sum(phase * np.diff(turned)) / (2.0 * np.pi)
    return float(loss_db(1.0 - np.sign(_area(edge, right, up)) * behind))


def _area(edge: Array, right: Array, up: Array) -> float:
    x, y = edge @ right, edge @ up
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


@pytest.mark.parametrize("mhz", [69.0, 200.0, 551.0])
def test_behind_one_house_the_layer_is_what_the_detours_give(
    scene: Callable[..., Survey], mhz: float
) -> None:
    screens = seen_by(scene({"house": dict(HOUSE)}, []))
    azimuth, elevation = np.random.default_rng(2).uniform((-16.0, 0.1), (20.0, 9.0), (40, 2)).T
    rays = list(zip(azimuth, elevation, strict=True))
    truth = np.array([by_detours(screens["house"][0], a, e, mhz) for a, e in rays])
    error = at(loss_layer(screens, ANTENNA, mhz, *SECTOR), azimuth, elevation) - truth
    shallow = truth < 20.0
    assert shallow.sum() > 15
    assert np.sqrt(np.mean(error[shallow] ** 2)) < 0.3


@pytest.mark.parametrize("mhz", [69.0, 200.0, 551.0])
@pytest.mark.parametrize("names", ["house", "oak", "house oak"])
def test_the_layer_is_what_single_rays_meet(
    scene: Callable[..., Survey], names: str, mhz: float
) -> None:
    near = {"house": NARROW_HOUSE, "oak": OAK}
    screens = seen_by(scene({name: dict(near[name]) for name in names.split()}, []))
    azimuth, elevation = np.random.default_rng(2).uniform((-3.0, 0.1), (10.0, 6.0), (30, 2)).T
    rays = zip(azimuth, elevation, strict=True)
    truth = np.array([alone(screens, a, e, mhz) for a, e in rays])
    error = at(loss_layer(screens, ANTENNA, mhz, *SECTOR), azimuth, elevation) - truth
    shallow = truth < 20.0
    assert shallow.sum() > 15
    assert np.sqrt(np.mean(error[shallow] ** 2)) < 0.3


def test_a_long_wall_seen_aslant_is_cut_by_distance(scene: Callable[..., Survey]) -> None:
    wall = {"kind": "building", "distance_m": 12.0, "ring": box_ring(-65.0, 65.0, -12.0, 4.0)}
    screens = seen_by(scene({"wall": wall}, []))
    distances = sorted({s.distance_m for s in screens_about(screens, ANTENNA, 551.0, 0.0)})
    assert distances[0] == pytest.approx(12.0, rel=0.08)
    assert distances[-1] == pytest.approx(12.0 / np.cos(np.radians(64.0)), rel=0.1)
    ratio = np.array(distances[1:]) / np.array(distances[:-1])
    assert 1.02 < ratio.max() < 1.2
    azimuth = np.linspace(-55.0, 55.0, 23)
    layer = loss_layer(screens, ANTENNA, 551.0, *SECTOR)
    truth = np.array([by_detours(screens["wall"][0], a, 6.0, 551.0) for a in azimuth])
    error = at(layer, azimuth, np.full(23, 6.0)) - truth
    assert np.sqrt(np.mean(error**2)) < 0.6


def test_low_frequencies_bend_round_what_high_ones_do_not(scene: Callable[..., Survey]) -> None:
    screens = seen_by(scene({"spruce": dict(SPRUCE)}, []))
    low, high = (loss_layer(screens, ANTENNA, mhz, *SECTOR) for mhz in (57.0, 551.0))
    behind = np.zeros(1), np.full(1, 10.0)
    assert float(at(low, *behind)[0]) < float(at(high, *behind)[0]) - 2.0
    aside = np.full(1, 30.0), np.full(1, 10.0)
    assert abs(float(at(high, *aside)[0])) < 1.0


def test_a_full_circle_closes(scene: Callable[..., Survey]) -> None:
    oak = {**OAK, "ring": box_ring(172.0, 188.0, -10.0, 18.0)}
    layer = loss_layer(
        seen_by(scene({"oak": oak}, [])), ANTENNA, 551.0, (-180.0, 180.0), (0.0, 30.0)
    )
    assert np.abs(layer.loss_db[:, 0] - layer.loss_db[:, -1]).max() < 0.1
    assert layer.loss_db[:, 0].max() > 1.0


def test_a_hole_lets_the_wave_through(scene: Callable[..., Survey]) -> None:
    wall = {"kind": "building", "distance_m": 30.0, "ring": box_ring(-20.0, 20.0, -8.0, 25.0)}
    survey = scene({"wall": wall}, [])
    hole = box_ring(-8.0, 8.0, 2.0, 18.0)
    data = survey.model_dump(mode="json", exclude_none=True)
    data["outlines"][0]["rings_px"].append(hole)
    at_hole = np.zeros(1), np.full(1, 10.0)
    closed, opened = (
        float(at(loss_layer(seen_by(s), ANTENNA, 551.0, *SECTOR), *at_hole)[0])
        for s in (survey, validate(data))
    )
    assert closed > 12.0
    assert abs(opened) < 3.0


def test_wires_cost_nothing(scene: Callable[..., Survey]) -> None:
    wire = {"kind": "power_line", "distance_m": 20.0, "ring": box_ring(-20.0, 20.0, 5.0, 6.0)}
    layer = loss_layer(seen_by(scene({"wire": wire}, [])), ANTENNA, 551.0, *SECTOR)
    assert np.abs(layer.loss_db).max() < 1e-6


def test_a_panorama_of_120_degrees_takes_less_than_two_seconds(demo_data: dict[str, Any]) -> None:
    screens = seen_by(validate(demo_data))
    antenna = np.array([-0.6, -1.16, 7.9])
    begin = time.process_time()
    layer = loss_layer(screens, antenna, 600.0, (-30.0, 90.0), (0.0, 38.0))
    assert time.process_time() - begin < 2.0
    assert layer.loss_db.max() > 12.0
    assert np.isfinite(layer.loss_db).all()


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(InputError, match="20 MHz"):
        loss_layer({}, ANTENNA, 20.0, *SECTOR)
    with pytest.raises(InputError, match="above level"):
        loss_layer({}, ANTENNA, 551.0, (0.0, 90.0), (0.0, -3.0))
