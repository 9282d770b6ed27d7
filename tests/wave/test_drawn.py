"""Draws of screens against the joint field of the screens so placed."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.wave.aperture import loss_db
from skyview.wave.drawn import Drawn, drawn_fields
from skyview.wave.screens import Screen, field

HOUSE = np.array([[-9.0, -8.0], [9.0, -8.0], [9.0, 0.5], [0.0, 3.0], [-9.0, 0.5]])
CROWN = np.array([[-2.0, -3.0], [2.5, -3.0], [3.0, 1.0], [0.0, 3.0], [-2.5, 1.5]])
SCREENS = [Screen(60.0, [HOUSE], [0.0]), Screen(25.0, [CROWN], [0.4])]
FAR_M = 30e3


def draws(**more):
    distance = np.array([[60.0, 25.0], [66.0, 22.0], [30.0, 40.0], [60.0, 25.0]])
    given = {
        "screens": SCREENS,
        "wavelength_m": 0.6,
        "transmitter_m": FAR_M,
        "distances_m": distance,
        "across_m": distance.copy(),
        "moves": np.array(
            [
                [[0.0, 0.0], [0.0, 0.0]],
                [[0.02, -0.01], [-0.03, 0.02]],
                [[-0.05, 0.0], [0.0, 0.03]],
                [[0.0, -0.06], [0.04, -0.1]],
            ]
        ),
        "floor": np.full((4, 2), -np.inf),
        "amplitudes": np.array([[0.0, 0.4], [0.0, 0.5], [0.1, 0.4], [0.0, 0.9]]),
        **more,
    }
    return Drawn(**given)


def placed(drawn, number):
    return [
        Screen(
            distance,
            [(ring / screen.distance_m + move) * across for ring in screen.polygons_m],
            [amplitude],
        )
        for screen, distance, across, move, amplitude in zip(
            drawn.screens,
            drawn.distances_m[number],
            drawn.across_m[number],
            drawn.moves[number],
            drawn.amplitudes[number],
            strict=True,
        )
    ]


@pytest.mark.parametrize("larger", [1.0, 1.05])
def test_each_draw_is_the_field_of_what_it_places(larger):
    """Screens that move, change their order, their size and what they let through."""
    drawn = draws()
    drawn = drawn._replace(across_m=larger * drawn.across_m)
    found = loss_db(drawn_fields(drawn))
    exact = [float(loss_db(field(placed(drawn, n), 0.6, FAR_M))) for n in range(4)]
    assert found == pytest.approx(exact, abs=0.3)
    assert np.ptp(exact) > 3.0


def test_one_screen_is_exact():
    one = draws()
    one = one._replace(
        screens=SCREENS[:1],
        **{
            name: getattr(one, name)[:, :1]
            for name in ("distances_m", "across_m", "moves", "floor", "amplitudes")
        },
    )
    exact = [field(placed(one, n), 0.6, FAR_M) for n in range(4)]
    assert drawn_fields(one) == pytest.approx(exact, abs=1e-9)


def test_a_floor_cuts_the_shape_off():
    """The house cut at 3 m below the ray, at 2 and at none."""
    floors = np.array([-3.0, -2.0, -np.inf])
    cut = Drawn(
        SCREENS[:1],
        3.0,
        np.inf,
        np.full((3, 1), 60.0),
        np.full((3, 1), 60.0),
        np.zeros((3, 1, 2)),
        floors[:, None] / 60.0,
        np.zeros((3, 1)),
    )
    found = loss_db(drawn_fields(cut))
    for floor, loss in zip(floors, found, strict=True):
        house = HOUSE.copy()
        house[:2, 1] = max(floor, -8.0)
        exact = float(loss_db(field([Screen(60.0, [house], [0.0])], 3.0)))
        assert loss == pytest.approx(exact, abs=0.2)
    assert np.ptp(found) > 1.0


def test_nothing_in_the_way_leaves_the_free_field():
    none = np.zeros((3, 0))
    free = Drawn([], 1.0, np.inf, none, none, np.zeros((3, 0, 2)), none, none)
    assert drawn_fields(free).tolist() == [1.0, 1.0, 1.0]
