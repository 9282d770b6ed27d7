"""Spots and heights: against the plain assessment, refusals, the knee, what is good enough."""

from __future__ import annotations

import numpy as np
import pytest
from cure_case import edited, roof, survey, weak

from skyview.errors import InputError
from skyview.survey.assess import assess
from skyview.survey.mounts import mounts_of

HEIGHTS = (1.0, 1.5, 2.0, 2.5, 3.0)


def by_place(found):
    return {(row.spot, row.antenna_height_m): row for row in found.rows}


def test_it_says_what_paths_say():
    """Every place at once, on coarser grids: chances as in the plain answer, within their noise."""
    told = survey(roof())
    found = by_place(mounts_of(told, heights_m=HEIGHTS))
    plain = assess(told, heights_m=HEIGHTS)
    assert len(found) == 10
    for row in plain.rows:
        mine = found[row.spot, row.antenna_height_m]
        assert mine.probabilities[row.station] == pytest.approx(row.reception_probability, abs=0.08)
    for (spot, height), mine in found.items():
        words = [r.reception for r in plain.rows if (r.spot, r.antenna_height_m) == (spot, height)]
        assert abs(mine.sure - words.count("sure")) <= 1
        assert mine.worst_must_have == "QSOU"


def test_nothing_is_said_before_lines_were_looked_for():
    told = survey(edited(roof(), lambda d: d["limits"].update(lines_checked=False)))
    with pytest.raises(InputError, match="power lines were looked for"):
        mounts_of(told)


def test_refused_places_say_why_and_bring_no_figures():
    line = {"id": "feeder", "kind": "power_line", "voltage_kv": 10.0, "line_sigma_m": 0.2}
    line["line_enu_m"] = [[-40.0, 8.5, 9.0], [40.0, 8.5, 9.0]]
    told = survey(edited(roof(), lambda d: d["obstructions"].append(line)))
    found = by_place(mounts_of(told, heights_m=[1.5, 2.9, 3.5]))
    # The ridge is 8.5 m away, the gable 11.5; antenna 2 m, clearance 3.05 m, sigma 0.36 m.
    assert found["ridge", 1.5].refused is None
    assert found["ridge", 2.9].refused.code == "line"
    assert found["ridge", 3.5].refused.code == "line"
    assert found["gable", 2.9].refused is None
    assert found["gable", 3.5].refused.code == "mast"
    row = found["ridge", 2.9]
    assert (row.sure, row.likely, row.worst_must_have, row.expected) == (None,) * 4


def test_every_place_may_be_refused():
    told = survey(edited(roof(), lambda d: d["limits"].update(unguyed_mast_m=0.5)))
    found = mounts_of(told)
    assert found.best is None
    assert all(row.refused.code == "mast" for row in found.rows)
    assert (found.knees, found.enough) == ((), ())


def behind_a_wall():
    """One station that must be had, just behind a wall whose top is at 7.6 m."""
    data = roof()
    (wall,) = [t for t in data["obstructions"] if t["id"] == "house"]
    wall["distance_m"], wall["distance_sigma_m"] = 15.0, 0.1
    data["outlines"] = [o for o in data["outlines"] if o["obstruction"] == "house"]
    data["obstructions"] = [wall]
    (north,) = [s for s in data["stations"] if s["id"] == "QNOR"]
    data["stations"] = [{**north, "must_have": True, "erp_kw": 60.0}]
    data["limits"]["unguyed_mast_m"] = 6.0
    return survey(data)


def test_the_knee_and_the_smallest_height():
    """Once the antenna clears the wall, what stands behind it was never seen: at first the chance
    rises no more, and a height counts only if no greater one is worse than good enough."""
    heights = [0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0]
    found = mounts_of(behind_a_wall(), spots=["ridge"], heights_m=heights)
    chance = [row.probabilities["QNOR"] for row in found.rows]
    assert chance[0] < 0.4
    rises = dict(zip(heights[1:], np.diff(chance), strict=True))
    assert rises[2.5] < 0.02 < 0.04 < min(rises[2.0], rises[3.0])
    (knee,), (enough,) = found.knees, found.enough
    at = heights.index(knee.height_m)
    assert 0 < at < len(heights) - 1
    assert chance[at] >= max(chance) - 0.05
    assert chance[at - 1] < max(chance) - 0.05
    assert knee.lower_costs == pytest.approx(chance[at] - chance[at - 1])
    likely = next(h for i, h in enumerate(heights) if min(chance[i:]) >= 0.6)
    assert likely >= 2.0
    assert (enough.sure_from_m, enough.likely_from_m) == (None, likely)
    # Alike within a quarter of a station, one that must be had counting three times.
    lowest = next(h for h, p in zip(heights, chance, strict=True) if p >= max(chance) - 0.25 / 3)
    assert found.best == ("ridge", lowest)


def test_where_nothing_changes_the_lowest_is_best():
    strong = [weak("QA", 0.0, 5e3, 30), weak("QB", 10.0, 5e3, 24, must_have=True)]
    data = roof(obstructions=[], outlines=[], stations=strong)
    found = mounts_of(survey(data), spots=["ridge"], heights_m=[1.0, 2.0, 3.0])
    assert found.best == ("ridge", 1.0)
    assert found.knees[0].height_m == 1.0
    assert found.knees[0].lower_costs is None
    assert {height for _, height in found.alike} == {2.0, 3.0}
    losses = np.array([list(row.losses_db.values()) for row in found.rows])
    assert np.abs(losses).max() < 0.1
