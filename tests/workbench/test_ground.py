"""The terrain's skyline on the page against the plate that ``draw`` makes."""

from __future__ import annotations

import numpy as np
import pytest
from bench_ground import write_ridge

from skyview.survey.assess import assess
from skyview.survey.plates import plate_of
from skyview.survey.storage import load


def test_the_skyline_is_that_of_the_drawn_plate(client, folder):
    write_ridge(folder)
    told = client.get("/api/ground?view=sweep&spot=ridge&height_m=1.5").json()
    assert told["known"]
    survey = load(folder)
    found = assess(survey, spots=["ridge"], heights_m=[1.5])
    plate = plate_of(survey, folder, found, view="sweep", spot="ridge", height_m=1.5)
    scale = survey.views[0].size_px[0] / plate.photo_rgb.shape[1]
    x, y = plate.pixel_of(plate.terrain_deg[:, 0], plate.terrain_deg[:, 1])
    drawn = np.stack([x, y], axis=1)[np.isfinite(x)] * scale
    sent = np.concatenate([np.array(line) for line in told["lines_px"]])
    on = np.interp(drawn[:, 0], *sent[np.argsort(sent[:, 0])].T)
    inside = (drawn[:, 0] > sent[:, 0].min()) & (drawn[:, 0] < sent[:, 0].max())
    assert inside.sum() > 300
    assert np.percentile(np.abs(on - drawn[:, 1])[inside], 95) < 1.5
    # The ridge stands up out of the plain: the line is no mere horizon.
    assert np.ptp(sent[:, 1]) > 30.0
    camera = client.get("/api/ground?view=sweep").json()
    assert camera["lines_px"] != told["lines_px"]


def test_no_terrain_no_line(client):
    told = client.get("/api/ground?view=sweep").json()
    assert (told["known"], told["lines_px"]) == (False, [])


@pytest.mark.parametrize("view", ["nowhere", ""])
def test_an_unknown_view_is_refused(client, view):
    assert client.get("/api/ground", params={"view": view}).status_code == 422


def test_a_lost_terrain_file_is_named(client, folder):
    (write_ridge(folder)).unlink()
    refused = client.get("/api/ground?view=sweep")
    assert refused.status_code == 422
    assert refused.json()["field"] == "site.terrain"
