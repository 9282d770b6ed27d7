"""Tiles: their scales, their place, and that nothing but pixels goes out."""

from __future__ import annotations

import io
import time

import numpy as np
import pytest
from PIL import Image

from skyview.errors import InputError
from skyview.photo.pixels import read_pixels
from skyview.workbench.pictures import TILE_PX, levels_of, make_tiles


def picture_when_ready(client, view):
    for _ in range(600):
        told = client.get("/api/picture", params={"view": view}).json()
        if told["state"] == "ready":
            return told
        time.sleep(0.1)
    raise AssertionError("the tiles were not made in 60 s")


def test_levels_end_with_one_tile():
    levels = levels_of(16384, 6144)
    assert (levels[0].columns, levels[0].rows) == (32, 12)
    assert (levels[-1].columns, levels[-1].rows) == (1, 1)
    assert [level.scale for level in levels] == [1, 2, 4, 8, 16, 32]


@pytest.mark.parametrize("size", [(1201, 701), (512, 512), (3, 2000)])
def test_tiles_put_together_are_the_picture(tmp_path, size):
    """Smooth pictures, so that JPEG's own error stays within two grey steps."""
    x, y = np.meshgrid(np.arange(size[0]), np.arange(size[1]))
    grey = [127 + 100 * np.sin(x / 150), 127 + 100 * np.cos(y / 140), 0 * x + 90]
    pixels = np.stack(grey, axis=-1).astype(np.uint8)
    Image.fromarray(pixels).save(tmp_path / "p.png")
    make_tiles(lambda share: None, tmp_path / "p.png", tmp_path / "tiles", size)
    for level in levels_of(*size)[:2]:
        whole = np.zeros((level.height_px, level.width_px, 3))
        for column in range(level.columns):
            for row in range(level.rows):
                tile = read_pixels(tmp_path / "tiles" / f"{level.level}_{column}_{row}.jpg")
                place = np.s_[
                    row * TILE_PX : row * TILE_PX + tile.shape[0],
                    column * TILE_PX : column * TILE_PX + tile.shape[1],
                ]
                whole[place] = tile
        wanted = pixels[:: level.scale, :: level.scale].astype(float)
        assert whole.shape == wanted.shape
        assert np.abs(whole - wanted).max() <= 6.0


def test_a_shrunk_pixel_covers_exactly_its_own(tmp_path):
    """An odd width: a white column at 1000 must show at 250 on the level of a quarter."""
    pixels = np.zeros((64, 1201, 3), np.uint8)
    pixels[:, 1000:1004] = 255
    Image.fromarray(pixels).save(tmp_path / "p.png")
    make_tiles(lambda share: None, tmp_path / "p.png", tmp_path / "tiles", (1201, 64))
    quarter = read_pixels(tmp_path / "tiles" / "2_0_0.jpg")[8].mean(axis=-1)
    assert quarter.shape == (301,)
    assert int(np.argmax(quarter)) == 250
    assert quarter[250] > 240
    assert quarter[247] < 15
    assert quarter[253] < 15


def test_the_page_gets_tiles_and_an_overview(client, folder):
    told = picture_when_ready(client, "sweep")
    assert (told["width_px"], told["height_px"]) == (5151, 1448)
    tile = client.get(f"/api/pictures/{told['key']}/0/10/2.jpg")
    image = Image.open(io.BytesIO(tile.content))
    assert image.size == (5151 - 10 * 512, 1448 - 2 * 512)
    assert "immutable" in tile.headers["cache-control"]
    overview = client.get(told["overview"])
    image = Image.open(io.BytesIO(overview.content))
    assert image.size == (told["overview_width_px"], told["overview_height_px"])
    kept = sorted(p.name for p in (folder / ".workbench" / "tiles").iterdir())
    assert kept == [told["key"], f"{told['key']}-overview.jpg"]


def test_metadata_of_the_photograph_never_go_out(client, folder):
    told = picture_when_ready(client, "gable")
    served = [client.get(told["overview"]), client.get(f"/api/pictures/{told['key']}/0/0/0.jpg")]
    assert b"Exif" in next((folder / "photos").glob("gable*.jpg")).read_bytes()
    for answer in served:
        assert answer.headers["content-type"] == "image/jpeg"
        assert b"Exif" not in answer.content
        assert b"ns.adobe.com" not in answer.content


@pytest.mark.parametrize(
    "path",
    ["{key}/0/99/0.jpg", "{key}/9/0/0.jpg", "0000000000000000/0/0/0.jpg", "../0/0/0.jpg",
     "..%2f..%2fsurvey.json/0/0/0.jpg", "{key}/0/-1/0.jpg", "{key}/0/0/0.png",
     "%2e%2e/overview.jpg", "0000000000000000/overview.jpg", "{key}/../../history.jsonl",
     "{key}%00/overview.jpg"],
)  # fmt: skip
def test_only_tiles_are_to_be_had(reader, path):
    told = picture_when_ready(reader, "gable")
    refused = reader.get("/api/pictures/" + path.format(key=told["key"]))
    assert refused.status_code in (404, 422)
    assert refused.headers["content-type"] == "application/json"


def test_another_size_than_the_survey_says_is_one_sentence(tmp_path):
    Image.fromarray(np.zeros((10, 20, 3), np.uint8)).save(tmp_path / "p.png")
    with pytest.raises(InputError, match="20 x 10 pixels"):
        make_tiles(lambda share: None, tmp_path / "p.png", tmp_path / "tiles", (30, 10))
    assert not (tmp_path / "tiles").exists()


def test_a_lost_photograph_is_one_sentence(client, folder):
    for photo in (folder / "photos").iterdir():
        photo.unlink()
    refused = client.get("/api/picture?view=sweep")
    assert refused.status_code == 422
    assert "not in the survey's folder" in refused.json()["message"]
    assert str(folder) not in refused.text
