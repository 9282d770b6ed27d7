"""Clearance and loss of outlines in ``paths`` against products of Fresnel integrals.

A rectangle square to the ray: field = 1 - (1/2i) X Y with X and Y differences of the Fresnel
integrals C + iS between its edges (Rec. ITU-R P.526 section 5.2.2), from scipy.special.fresnel.
"""

from __future__ import annotations

import cmath
import math

import pytest
from scipy.special import fresnel

LIGHT = 299.792458
STATION_M = 40_000.0
CHANNEL_MHZ = {4: 69.0, 9: 189.0, 21: 515.0, 36: 605.0}


def first_zone_m(channel: int, near_m: float) -> float:
    wavelength = LIGHT / CHANNEL_MHZ[channel]
    return math.sqrt(wavelength * near_m * (STATION_M - near_m) / STATION_M)


def rectangle_loss_db(wall, antenna, bearing: float, elevation: float, channel: int) -> float:
    """Loss behind the rectangle alone, for a ray nearly square to it."""
    across, up, near = wall.crossing(antenna, bearing, elevation)
    scale = math.sqrt(2.0) / first_zone_m(channel, near)
    slant = math.radians(bearing - wall.azimuth_deg)

    def stretch(low: float, high: float) -> complex:
        s_low, c_low = fresnel(low * scale)
        s_high, c_high = fresnel(high * scale)
        return complex(c_high - c_low, s_high - s_low)

    w = wall.half_width_m
    x = stretch((-w - across) * math.cos(slant), (w - across) * math.cos(slant))
    lean = math.cos(math.radians(elevation))
    y = stretch((wall.bottom_m - up) * lean, (wall.top_m - up) * lean)
    return -20.0 * math.log10(abs(1.0 - x * y / 2j))


def word_of(loss_db: float) -> str:
    return "clear" if loss_db <= 1.0 else "grazing" if loss_db <= 6.0 else "blocked"


def test_own_formula_agrees_with_the_published_half_plane(make_wall) -> None:
    """P.526 eq. 30: 6.02 dB at nu = 0, 13.864 dB at nu = 1 (exact form)."""
    wall = make_wall(0.0, 60.0, 5000.0, -5000.0, 8.0)
    antenna = (0.0, 0.0, 8.0)
    assert rectangle_loss_db(wall, antenna, 0.0, 0.0, 21) == pytest.approx(6.021, abs=0.02)
    higher = make_wall(0.0, 60.0, 5000.0, -5000.0, 8.0 + first_zone_m(21, 60.0) / math.sqrt(2))
    assert rectangle_loss_db(higher, antenna, 0.0, 0.0, 21) == pytest.approx(13.864, abs=0.02)


@pytest.mark.parametrize("channel", [4, 9, 21, 36])
@pytest.mark.parametrize("top_m", [4.0, 6.5, 7.8, 8.9, 10.5])
@pytest.mark.parametrize("spot_enu", [[0.0, 0.0, 6.5], [2.0, 1.0, 7.4], [-1.5, 0.0, 9.5]])
def test_loss_of_a_rectangle(roof, make_wall, channel, top_m, spot_enu) -> None:
    wall = make_wall(30.0, 60.0, 6.0, 0.5, top_m)
    roof.data["spots"][0]["enu_m"] = spot_enu
    roof.wall("block", wall)
    roof.station("QA", 30.0, 0.5, channel=channel)
    row = roof.path()
    expected = rectangle_loss_db(wall, roof.antenna(), 30.0, row["arrival_elevation_deg"], channel)
    assert row["shares_db"].get("block", 0.0) == pytest.approx(expected, abs=0.06)
    assert row["obstruction_loss_db"] == pytest.approx(expected, abs=0.06)
    if min(abs(expected - 1.0), abs(expected - 6.0)) > 0.1:
        assert row["path"] == word_of(expected)


@pytest.mark.parametrize("channel", [9, 36])
@pytest.mark.parametrize(
    ("distance", "half_width", "bottom", "top"),
    [(200.0, 40.0, 0.0, 60.0), (22.0, 6.0, 0.0, 20.0), (22.0, 2.0, 0.0, 20.0),
     (1000.0, 150.0, -100.0, 100.0), (60.0, 6.0, 0.0, 30.0), (60.0, 30.0, 0.0, 8.4)],
)  # fmt: skip
def test_deep_behind_a_wall_the_loss_is_the_fresnel_product(
    roof, make_wall, channel, distance, half_width, bottom, top
) -> None:
    """A level ray, so that the wall and the screen square to the ray are one plane."""
    wall = make_wall(30.0, distance, half_width, bottom, top)
    roof.wall("block", wall)
    roof.station("QA", 30.0, 0.0, channel=channel)
    row = roof.path()
    expected = rectangle_loss_db(wall, roof.antenna(), 30.0, row["arrival_elevation_deg"], channel)
    assert row["obstruction_loss_db"] == pytest.approx(expected, abs=0.02)
    assert row["path"] == word_of(expected)


@pytest.mark.parametrize(
    ("spot_enu", "bearing", "elevation", "half_width", "bottom", "top"),
    [
        ([0.0, 0.0, 6.5], 30.0, 0.5, 6.0, 0.0, 5.0),
        ([0.0, 0.0, 6.5], 30.0, 0.5, 6.0, 0.0, 11.0),
        ([0.0, 0.0, 6.5], 30.0, 0.5, 6.0, 0.0, 30.0),
        ([0.0, 0.0, 6.5], 24.0, 0.5, 3.0, 0.0, 12.0),
        ([0.0, 0.0, 6.5], 33.5, 0.5, 3.0, 0.0, 12.0),
        ([0.0, 0.0, 6.5], 33.5, 5.5, 3.0, 0.0, 12.0),
        ([0.0, 0.0, 6.5], 30.0, 0.5, 6.0, 10.0, 14.0),
        ([2.0, -1.0, 10.5], 30.0, 0.5, 6.0, 0.0, 9.0),
        ([-2.0, 1.0, 9.5], 29.0, 1.5, 3.0, 0.0, 15.0),
    ],
)
def test_clearance_to_the_nearest_edge_in_any_direction(
    roof, make_wall, spot_enu, bearing, elevation, half_width, bottom, top
) -> None:
    wall = make_wall(30.0, 60.0, half_width, bottom, top)
    roof.data["spots"][0]["enu_m"] = spot_enu
    roof.wall("block", wall)
    roof.station("QA", bearing, elevation)
    row = roof.path()
    across, up, near = wall.crossing(
        roof.antenna(), row["bearing_deg"], row["arrival_elevation_deg"]
    )
    expected = wall.clearance(across, up)
    slack = 0.012 * abs(expected) + 0.02
    assert row["clearance_m"] == pytest.approx(expected, abs=slack)
    assert row["clearance_fresnel_radii"] == pytest.approx(
        expected / first_zone_m(21, near), abs=slack / first_zone_m(21, near)
    )
    assert row["clearance_deg"] == pytest.approx(
        math.degrees(math.atan(expected / near)), abs=math.degrees(2.0 * slack / near)
    )


def test_one_metre_of_mast_is_2_6_degrees_at_22_metres(roof, make_wall) -> None:
    wall = make_wall(30.0, 22.0, 8.0, 0.0, 7.0)
    roof.data["spots"][0]["heights_m"] = [1.5, 2.5]
    roof.wall("block", wall)
    roof.station("QA", 30.0, 0.0)
    roof.solve()
    rows = roof.runner.ok("paths", roof.folder, "--json").rows
    low, high = (row["clearance_deg"] for row in rows)
    assert low == pytest.approx(math.degrees(math.atan(1.0 / 22.0)), abs=0.03)
    assert high - low == pytest.approx(2.6, abs=0.05)


def test_the_antenna_aside_sees_past_the_wall(roof, make_wall) -> None:
    """Four metres to the side the ray misses a wall that hid the station from the camera."""
    wall = make_wall(30.0, 22.0, 2.0, 0.0, 20.0)
    aside = [4.5 * math.cos(math.radians(30)), -4.5 * math.sin(math.radians(30)), 6.5]
    roof.data["spots"].append({"id": "side", "enu_m": aside, "heights_m": [1.5]})
    roof.wall("block", wall)
    roof.station("QA", 30.0, 0.0, channel=36)
    roof.solve()
    rows = roof.runner.ok("paths", roof.folder, "--json").rows
    at = {row["spot"]: row for row in rows}
    assert at["ridge"]["clearance_m"] == pytest.approx(-2.0, abs=0.03)
    assert at["side"]["clearance_m"] == pytest.approx(2.5, abs=0.04)
    for name, index in (("ridge", 0), ("side", 1)):
        expected = rectangle_loss_db(wall, roof.antenna(spot=index), 30.0, 0.0, 36)
        assert at[name]["obstruction_loss_db"] == pytest.approx(expected, abs=0.02)


def test_a_thin_pole_costs_under_one_decibel(roof, make_wall) -> None:
    pole = make_wall(30.0, 20.0, 0.15, 0.0, 14.0)
    roof.wall("pole", pole, "mast", ground=True)
    roof.station("QA", 30.0, 0.5)
    row = roof.path()
    expected = rectangle_loss_db(pole, roof.antenna(), 30.0, 0.5, 21)
    assert 0.3 < expected < 1.0
    assert row["obstruction_loss_db"] == pytest.approx(expected, abs=0.03)
    assert row["path"] == "clear"
    assert row["clearance_m"] == pytest.approx(-0.15, abs=0.01)


def test_walls_go_on_down_to_the_ground(roof, make_wall) -> None:
    """An outline cut off at 6 m counts as far as the site's ground, up = 0."""
    seen = make_wall(30.0, 60.0, 6.0, 6.0, 9.0)
    whole = make_wall(30.0, 60.0, 6.0, 0.0, 9.0)
    roof.wall("block", seen, ground=True)
    roof.station("QA", 30.0, 0.5, channel=9)
    row = roof.path()
    as_whole = rectangle_loss_db(whole, roof.antenna(), 30.0, 0.5, 9)
    as_seen = rectangle_loss_db(seen, roof.antenna(), 30.0, 0.5, 9)
    assert abs(as_whole - as_seen) > 0.5
    assert row["obstruction_loss_db"] == pytest.approx(as_whole, abs=0.1)


def test_a_hill_under_the_ray_is_a_screen_of_its_own_distance(roof, make_wall) -> None:
    crest = 8.0 + 10_000.0 * math.tan(math.radians(0.6))
    hill = make_wall(90.0, 10_000.0, 1500.0, -20.0, crest)
    roof.wall("ridge_east", hill, "hill", sigma_m=300.0)
    roof.station("QA", 90.0, 0.72)
    row = roof.path()
    across, up, near = hill.crossing(roof.antenna(), 90.0, 0.72)
    assert row["beyond_horizon"] is False
    assert row["clearance_m"] == pytest.approx(hill.clearance(across, up), abs=2.0)
    assert row["clearance_fresnel_radii"] == pytest.approx(
        hill.clearance(across, up) / first_zone_m(21, near), abs=0.03
    )
    expected = rectangle_loss_db(hill, roof.antenna(), 90.0, 0.72, 21)
    assert row["obstruction_loss_db"] == pytest.approx(expected, abs=0.3)


@pytest.mark.parametrize("kind", ["wire", "power_line"])
def test_wires_cost_nothing(roof, make_wall, kind) -> None:
    roof.wall("line", make_wall(30.0, 20.0, 6.0, 7.5, 8.5), kind)
    roof.station("QA", 30.0, 0.0)
    row = roof.path()
    assert row["shares_db"].get("line", 0.0) == 0.0
    assert row["obstruction_loss_db"] == 0.0
    assert row["path"] == "clear"


def test_of_two_outlines_each_share_is_what_its_absence_would_give_back(roof, make_wall) -> None:
    near = make_wall(30.0, 40.0, 3.0, 0.0, 8.2)
    far = make_wall(31.0, 90.0, 10.0, 0.0, 10.5)
    roof.wall("shed", near)
    roof.wall("block", far)
    roof.station("QA", 30.5, 0.5)
    row = roof.path()
    alone = {
        name: rectangle_loss_db(wall, roof.antenna(), 30.5, 0.5, 21)
        for name, wall in (("shed", near), ("block", far))
    }
    together = row["obstruction_loss_db"]
    assert max(alone.values()) < together < sum(alone.values())
    expected = {"shed": together - alone["block"], "block": together - alone["shed"]}
    assert row["shares_db"] == pytest.approx(expected, abs=0.06)
    assert row["obstruction"] == max(expected, key=lambda name: expected[name])
    assert row["path"] == word_of(together)


def test_an_outline_on_the_other_side_costs_nothing(roof, make_wall) -> None:
    roof.wall("block", make_wall(210.0, 30.0, 10.0, 0.0, 30.0), ground=True)
    roof.station("QA", 30.0, 0.5)
    row = roof.path()
    assert row["path"] == "clear"
    assert row["obstruction_loss_db"] == pytest.approx(0.0, abs=0.05)


def test_a_hole_lets_the_ray_through(roof, make_wall) -> None:
    wall = make_wall(30.0, 30.0, 8.0, 0.0, 25.0)
    gap = make_wall(30.0, 30.0, 4.0, 4.0, 12.6)
    roof.wall("block", wall)
    roof.data["outlines"][0]["rings_px"].append(roof.camera.ring(gap))
    roof.station("QA", 30.0, 0.5, channel=36)
    row = roof.path()
    across, up, _ = gap.crossing(roof.antenna(), 30.0, 0.5)
    assert row["clearance_m"] == pytest.approx(-gap.clearance(across, up), abs=0.05)
    antenna = roof.antenna()
    field = 1.0
    for sign, part in ((-1.0, wall), (1.0, gap)):
        field = field + sign * _blocked(part, antenna)
    assert row["obstruction_loss_db"] == pytest.approx(-20 * math.log10(abs(field)), abs=0.1)


def _blocked(wall, antenna) -> complex:
    """Complex field that the rectangle takes from the ray of the test above."""
    across, up, near = wall.crossing(antenna, 30.0, 0.5)
    scale = math.sqrt(2.0) / first_zone_m(36, near)
    edges = [
        (-wall.half_width_m - across, wall.half_width_m - across),
        (wall.bottom_m - up, wall.top_m - up),
    ]
    product = 1.0 / 2j
    for low, high in edges:
        (s_low, c_low), (s_high, c_high) = fresnel(low * scale), fresnel(high * scale)
        product *= complex(c_high - c_low, s_high - s_low)
    assert cmath.isfinite(product)
    return product
