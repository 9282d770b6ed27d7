"""Files that are dropped on the page: what is taken, what is refused, what no name can do."""

from __future__ import annotations

import io
import json

import numpy as np
import pytest
from bench_client import revision
from PIL import Image

from skyview.survey.samples import samples_folder
from skyview.survey.storage import load

SAMPLES = samples_folder()


def picture(size=(64, 32), kind="JPEG", **more):
    out = io.BytesIO()
    Image.fromarray(np.full((size[1], size[0], 3), 90, np.uint8)).save(out, kind, **more)
    return out.getvalue()


def send(client, content, name="roof.jpg", path="/api/photos", **fields):
    return client.post(path, files={"file": (name, content)}, data=fields)


def test_a_photograph_that_knows_its_place_begins_a_survey(empty):
    content = (SAMPLES / "gable_sector.jpg").read_bytes()
    told = send(empty, content, "gable_sector.jpg").json()
    assert told["view"] == "gable_sector"
    assert any("supposed a spot" in note for note in told["notes"])
    survey = empty.get("/api/survey").json()["survey"]
    assert survey["site"]["latitude_deg"] == pytest.approx(-38.64, abs=0.01)
    assert survey["views"][0]["camera_enu_m"][2] == pytest.approx(7.6)
    kept = empty.bench.folder / survey["views"][0]["photo"]
    assert kept.read_bytes() == content


def test_a_photograph_without_a_place_asks_for_it(empty):
    refused = send(empty, picture())
    assert refused.status_code == 422
    assert refused.json()["field"] == "site"
    assert empty.get("/api/state").json()["open"] is False
    assert send(empty, picture(), latitude_deg="40", longitude_deg="-100").status_code == 201


def test_adding_a_photograph_can_be_undone_and_made_again(client):
    told = send(client, picture(), base=revision(client), spot="ridge").json()
    assert told["view"] == "roof"
    assert client.post("/api/undo", json={"base": told["revision"]}).status_code == 200
    again = client.post("/api/redo", json={"base": told["revision"] + 1})
    assert again.status_code == 200
    assert client.get("/api/picture?view=roof").status_code == 200


def test_photographs_want_the_revision(client):
    assert send(client, picture()).json()["field"] == "base"
    stale = send(client, picture(), base=revision(client) - 1, spot="ridge")
    assert stale.status_code == 409
    assert stale.json()["code"] == "stale"


@pytest.mark.parametrize(
    "name",
    ["../../../evil.jpg", "..\\..\\evil.jpg", "/etc/passwd", "C:\\Windows\\x.jpg", "con.jpg",
     "<script>alert(1)</script>.jpg", "a\x00b.jpg", "x" * 300 + ".jpg", ".jpg", "....",
     "photo.php", "\u202egpj.exe", "'; DROP TABLE views;--.jpg", "=cmd|' /C calc'!A0.jpg"],
)  # fmt: skip
def test_a_name_is_a_suggestion_and_never_a_path(client, folder, name):
    before = {p for p in folder.parent.rglob("*") if ".workbench" not in p.parts}
    told = send(client, picture(), name, base=revision(client), spot="ridge")
    assert told.status_code == 201, told.text
    new = {p for p in folder.parent.rglob("*") if ".workbench" not in p.parts} - before
    assert len(new) == 1
    (file,) = new
    assert file.parent == folder / "photos"
    assert file.suffix == ".jpg"
    view = told.json()["view"]
    assert set(view) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-")
    assert 0 < len(view) <= 43
    assert list((folder / ".workbench" / "incoming").iterdir()) == []


def test_the_format_is_what_the_bytes_are(client, folder):
    told = send(client, picture(kind="PNG"), "x.jpg", base=revision(client), spot="ridge").json()
    view = next(v for v in load(folder).views if v.id == told["view"])
    assert view.photo == "photos/x.png"


@pytest.mark.parametrize(
    ("content", "name"),
    [
        (b"", "empty.jpg"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "x.svg"),
        (b"<html><script>alert(1)</script></html>", "x.jpg"),
        (b"%PDF-1.7", "x.jpg"),
        (picture()[:200], "cut.jpg"),
        (picture(kind="PNG")[:60], "cut.png"),
        (b"\xff\xd8\xff\xe1" + b"\xff" * 5000, "broken.jpg"),
    ],
)
def test_what_is_no_picture_leaves_nothing_behind(client, folder, content, name):
    before = sorted(p for p in folder.rglob("*") if p.is_file())
    saved = (folder / "survey.json").read_bytes()
    refused = send(client, content, name, base=revision(client), spot="ridge")
    assert refused.status_code == 422
    assert refused.json()["message"]
    assert str(folder) not in refused.text
    after = sorted(p for p in folder.rglob("*") if p.is_file())
    assert [p for p in after if ".survey.lock" not in p.name] == [
        p for p in before if ".survey.lock" not in p.name
    ]
    assert (folder / "survey.json").read_bytes() == saved


def test_a_picture_of_too_many_pixels_is_refused_by_its_header(client):
    """A small PNG that unpacks to 400 megapixels: nothing is unpacked."""
    bomb = io.BytesIO()
    Image.new("1", (20_000, 20_000)).save(bomb, "PNG")
    refused = send(client, bomb.getvalue(), "bomb.png", base=revision(client), spot="ridge")
    assert refused.status_code == 422
    assert "megapixels" in refused.json()["message"]


def test_an_upload_that_is_too_large_is_cut_off(client, folder, monkeypatch):
    monkeypatch.setitem(__import__("skyview.workbench.gate", fromlist=["UPLOADS"]).UPLOADS,
                        "/api/photos", 100_000)  # fmt: skip
    refused = send(client, b"\xff\xd8" + b"0" * 200_000, base=revision(client))
    assert refused.status_code == 413


def test_markup_in_metadata_stays_text(client):
    exif = Image.Exif()
    exif[0x010F] = "<img src=x onerror=alert(1)>"
    exif[0x9003] = "<script>alert(1)</script>"
    content = picture(exif=exif.tobytes())
    told = send(client, content, base=revision(client), spot="ridge")
    assert told.status_code == 201
    assert told.headers["content-type"] == "application/json"


def test_stations_are_read_and_what_is_odd_is_told(client, folder):
    head = "id,latitude,longitude,antenna_amsl_m,rf_channel,erp_kw\n"
    rows = "QNEW,-38.9,-117.2,500,30,100\nBAD,999,0,5,30,1\n<b>x</b>,-38.8,-117.1,400,31,20\n"
    told = client.post(
        "/api/stations",
        files={"file": ("list.csv", (head + rows).encode())},
        data={"base": revision(client)},
    ).json()
    assert told["read"]["rows"] == 3
    assert told["read"]["used"] == 2
    assert told["read"]["rejected"][0]["field"]
    ids = [s.id for s in load(folder).stations]
    assert len(ids) == 14
    assert "<b>x</b>" in ids
    assert client.post("/api/undo", json={"base": told["revision"]}).status_code == 200
    assert len(load(folder).stations) == 12


def test_landmarks_are_read(client, folder):
    points = {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "properties": {"id": "mill"},
             "geometry": {"type": "Point", "coordinates": [-117.4, -38.6]}}
        ],
    }  # fmt: skip
    told = client.post(
        "/api/landmarks",
        files={"file": ("map.geojson", json.dumps(points).encode())},
        data={"base": revision(client)},
    )
    assert told.status_code == 200, told.text
    assert any(t.id == "mill" for t in load(folder).landmarks)


@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02", b"[" * 100_000, b"a,b\n1,2\n"])
def test_what_is_no_list_is_one_sentence(client, content):
    refused = client.post(
        "/api/stations",
        files={"file": ("list.csv", content)},
        data={"base": revision(client)},
    )
    assert refused.status_code == 422
    assert refused.json()["message"]


@pytest.mark.parametrize("name", ["a\x00b", " x", "a/b", "..\\x", "a:b", "\ud7ff\x07"])
def test_an_id_that_nobody_can_type_is_refused(client, name):
    refused = send(client, picture(), base=revision(client), spot="ridge", id=name)
    assert refused.status_code == 422
    assert refused.json()["message"]
