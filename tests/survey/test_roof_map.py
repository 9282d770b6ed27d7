"""The roof's map: refused points, values between nodes, a coarse map first."""

from __future__ import annotations

import numpy as np
import pytest
from cure_case import edited, roof, survey

import skyview.survey.roof_map as roof_map_module
from skyview.errors import InputError
from skyview.survey.mounts import mounts_of
from skyview.survey.roof_map import _between, _spread, roof_map

FACES = [
    [[-4.0, -5.0, 4.0], [4.0, -5.0, 4.0], [4.0, 0.0, 5.0], [-4.0, 0.0, 5.0]],
    [[-4.0, 0.0, 5.0], [4.0, 0.0, 5.0], [4.0, 5.0, 4.0], [-4.0, 5.0, 4.0]],
]


def house(**limits):
    def edit(data):
        data["limits"].update(roof_enu_m=FACES, **limits)

    return survey(edited(roof(), edit))


def test_a_small_map_is_computed_at_every_point():
    found = roof_map(house(), 2.0, 1.5)
    assert len(found.points_m) == 20
    assert found.computed.all()
    assert found.error_db is None
    assert not found.coarse
    point = found.points_m[7]
    spot = {"id": "here", "enu_m": point.tolist(), "heights_m": [1.5]}
    alone = mounts_of(survey(edited(roof(), lambda d: d["spots"].append(spot))), spots=["here"])
    chance = dict(zip(found.tally.stations, found.tally.probability[7], strict=True))
    for name, p in alone.rows[0].probabilities.items():
        # The map draws half as many sets of what is unsure.
        assert chance[name] == pytest.approx(p, abs=0.06)


def test_between_nodes_is_read_off_and_its_error_measured(monkeypatch):
    monkeypatch.setattr(roof_map_module, "NODES", 24)
    heard, maps = [], []
    found = roof_map(house(), 1.0, 1.5, progress=lambda *a: heard.append(a), first=maps.append)
    assert found.computed.sum() == 24 + roof_map_module.CHECKED
    assert heard[-1] == (32, 32)
    assert maps[0].coarse
    assert maps[0].computed.sum() < 24
    assert 0.0 < found.error_db < 1.5
    monkeypatch.setattr(roof_map_module, "NODES", 500)
    exact = roof_map(house(), 1.0, 1.5)
    off = found.tally.loss_db - exact.tally.loss_db
    assert np.abs(off[found.computed]).max() < 1e-9
    # What was measured at points left out is what all the others are off by.
    assert np.sqrt(np.mean(off[~found.computed] ** 2)) == pytest.approx(found.error_db, rel=0.7)


def test_refused_points_are_not_computed():
    strip = [[-4.0, -5.0, 4.0], [0.0, -5.0, 4.0], [0.0, 5.0, 4.0], [-4.0, 5.0, 4.0]]
    found = roof_map(house(keep_out_enu_m=strip), 2.0, 1.5)
    refused = np.array([r is not None for r in found.refused])
    assert np.array_equal(refused, found.points_m[:, 0] <= 0.0)
    assert np.isnan(found.tally.probability[refused]).all()
    assert not found.computed[refused].any()
    everything = roof_map(house(unguyed_mast_m=1.0), 2.0, 1.5)
    assert all(r.code == "mast" for r in everything.refused)


def test_what_stops_a_map():
    with pytest.raises(InputError, match="no roof to map"):
        roof_map(survey(roof()), 1.0, 1.5)
    with pytest.raises(InputError, match="power lines were looked for"):
        roof_map(house(lines_checked=False), 1.0, 1.5)


def test_any_beginning_of_the_order_is_spread():
    points = np.column_stack([v.ravel() for v in np.mgrid[0:10, 0:10]] + [np.zeros(100)])
    order = _spread(points)
    assert sorted(order) == list(range(100))
    gap = np.hypot(
        *(points[order[:16], None, :2] - points[None, order[:16], :2]).transpose(2, 0, 1)
    )
    assert gap[gap > 0.0].min() >= 2.0


def test_a_plane_is_read_exactly_and_a_row_of_nodes_too():
    known = np.array([[0, 0], [4, 0], [0, 4], [4, 4]], float)
    values = (known @ [1.0, 2.0])[:, None]
    assert _between(known, values, np.array([[1.0, 3.0]]))[0, 0] == pytest.approx(7.0)
    row = np.array([[0, 0], [1, 0], [2, 0], [3, 0], [4, 0]], float)
    assert _between(row, row[:, :1], np.array([[2.1, 0.0]]))[0, 0] == 2.0
