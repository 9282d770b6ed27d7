from __future__ import annotations

import time

import pytest
from PIL.PngImagePlugin import PngInfo

from skyview.photo.facts import PhotoFacts, read_header
from skyview.photo.projection import projection_guess
from skyview.photo.xmp import NAMESPACE, packet_of, read_panorama

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"

PROPERTIES = {
    "ProjectionType": "equirectangular",
    "FullPanoWidthPixels": "8192",
    "FullPanoHeightPixels": "4096",
    "CroppedAreaImageWidthPixels": "3000",
    "CroppedAreaImageHeightPixels": "1500",
    "CroppedAreaLeftPixels": "2500",
    "CroppedAreaTopPixels": "1200",
    "PoseHeadingDegrees": "200.0",
    "PosePitchDegrees": "1.5",
    "PoseRollDegrees": "-0.5",
}
SIZE = (300, 150)


def wrap(inside: str, attributes: str = "", prefix: str = "GPano") -> bytes:
    return (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/">'
        f'<rdf:RDF xmlns:rdf="{RDF}"><rdf:Description rdf:about="" '
        f'xmlns:{prefix}="{NAMESPACE}" {attributes}>{inside}</rdf:Description></rdf:RDF>'
        "</x:xmpmeta>"
    ).encode()


def packet(form: str = "attributes", **changed: str | None) -> bytes:
    properties = {**PROPERTIES, **changed}
    items = [(name, value) for name, value in properties.items() if value is not None]
    prefix = "pan" if "other prefix" in form else "GPano"
    if "elements" in form:
        inside = "".join(f"<{prefix}:{name}> {value}\n</{prefix}:{name}>" for name, value in items)
        return wrap(inside, prefix=prefix)
    return wrap("", " ".join(f'{prefix}:{name}="{value}"' for name, value in items), prefix)


@pytest.mark.parametrize(
    "form", ["attributes", "elements", "attributes, other prefix", "elements, other prefix"]
)
def test_attributes_and_elements_with_any_prefix(form: str) -> None:
    notes: list[str] = []
    found = read_panorama(packet(form), SIZE, notes)
    assert found is not None
    assert (found.kind, found.full_px, found.crop_px) == (
        "equirectangular",
        (8192.0, 4096.0),
        (3000.0, 1500.0),
    )
    assert (found.left_px, found.top_px) == (2500.0, 1200.0)
    assert (found.heading_deg, found.pitch_deg, found.roll_deg) == (200.0, 1.5, -0.5)
    assert notes == []


def test_processing_instructions_and_padding_around_the_packet() -> None:
    padded = b'<?xpacket begin="" id="x"?>' + packet() + b'<?xpacket end="w"?>' + b" \0" * 40
    stripped = packet_of({"xmp": padded})
    assert read_panorama(stripped, SIZE, []) is not None


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.webp", "a.tif"])
def test_packet_in_each_format(save, name: str) -> None:
    facts = _photo(save, name, packet())
    assert facts.panorama is not None
    assert (facts.direction_deg, facts.direction_north) == (200.0, None)
    assert facts.tilt is not None
    assert (facts.tilt.pitch_deg, facts.tilt.roll_deg) == (1.5, -0.5)


def _photo(save, name: str, xmp: bytes, size=SIZE, **options) -> PhotoFacts:
    if name.endswith("png"):
        info = PngInfo()
        info.add_itxt("XML:com.adobe.xmp", xmp.decode())
        return read_header(save(name, size=size, pnginfo=info, **options))
    if name.endswith("tif"):
        return read_header(save(name, size=size, tiffinfo={700: xmp}, **options))
    return read_header(save(name, size=size, xmp=xmp, **options))


def test_angles_of_a_cropped_and_resized_panorama(save) -> None:
    """By hand from az = heading + 360 ((left + u) / full - 1/2): left edge 360 (2500/8192 - 1/2)
    = -70.136719, width 360 x 3000/8192 = 131.835938; top 90 - 180 x 1200/4096 = 37.265625,
    height 180 x 1500/4096 = 65.917969. The file is a tenth of the size that was stitched."""
    facts = _photo(save, "a.jpg", packet())
    guess = projection_guess(facts)
    assert guess is not None
    assert guess["kind"] == "equirectangular"
    assert guess["left_deg"] == pytest.approx(-70.136719, abs=1e-6)
    assert guess["right_deg"] == pytest.approx(61.699219, abs=1e-6)
    assert guess["top_deg"] == pytest.approx(37.265625, abs=1e-6)
    assert guess["bottom_deg"] == pytest.approx(-28.652344, abs=1e-6)
    assert not any(gap.startswith("field of view") for gap in facts.missing)


@pytest.mark.parametrize(
    ("u", "v", "azimuth_deg", "elevation_deg"),
    [
        # Computed rows "partial equirectangular, heading = 200 at FULL-pano centre".
        (0, 0, 129.863281, 37.265625),
        (1000, 400, 173.808594, 19.687500),
        (2999, 1499, 261.655273, -28.608398),
    ],
)
def test_pixels_of_the_cropped_panorama(save, u, v, azimuth_deg, elevation_deg) -> None:
    facts = _photo(save, "a.jpg", packet())
    guess = projection_guess(facts)
    assert guess is not None
    assert facts.direction_deg is not None
    across = u / 3000 * (guess["right_deg"] - guess["left_deg"])
    down = v / 1500 * (guess["top_deg"] - guess["bottom_deg"])
    assert facts.direction_deg + guess["left_deg"] + across == pytest.approx(azimuth_deg, abs=1e-5)
    assert guess["top_deg"] - down == pytest.approx(elevation_deg, abs=1e-5)


def test_heading_at_the_middle_of_the_crop_is_a_choice(save) -> None:
    facts = _photo(save, "a.jpg", packet())
    full, crop = projection_guess(facts, "full"), projection_guess(facts, pose_centre="crop")
    assert full is not None
    assert crop is not None
    assert (crop["left_deg"], crop["right_deg"]) == pytest.approx((-65.917969, 65.917969))
    assert (crop["top_deg"], crop["bottom_deg"]) == (full["top_deg"], full["bottom_deg"])


def test_whole_sphere(save) -> None:
    whole = {
        "CroppedAreaImageWidthPixels": "8192",
        "CroppedAreaImageHeightPixels": "4096",
        "CroppedAreaLeftPixels": "0",
        "CroppedAreaTopPixels": "0",
    }
    facts = _photo(save, "a.jpg", packet(**whole))
    assert facts.likely_kind == "full sphere"
    assert projection_guess(facts) == {
        "kind": "equirectangular",
        "left_deg": -180.0,
        "right_deg": 180.0,
        "top_deg": 90.0,
        "bottom_deg": -90.0,
        "scale_sigma": 0.005,
    }


def test_cylinder_counts_its_top_from_the_horizon(save) -> None:
    """By hand: 6283.185 px round, so 1000 px per radian stitched and 100 in the file; the top
    edge 900 px above the horizon, so the level row is 90; the heading's column is
    (6283.185/2 - 2000) / 10."""
    cylinder = {
        "ProjectionType": "cylindrical",
        "FullPanoWidthPixels": "6283.185",
        "FullPanoHeightPixels": "1500",
        "CroppedAreaLeftPixels": "2000",
        "CroppedAreaTopPixels": "-900",
    }
    facts = _photo(save, "a.jpg", packet(**cylinder))
    guess = projection_guess(facts)
    assert guess is not None
    assert guess["kind"] == "cylindrical"
    assert guess["px_per_rad"] == pytest.approx(100.0, abs=1e-4)
    assert guess["centre_px"] == pytest.approx([114.159, 90.0], abs=1e-3)
    assert guess["scale_sigma"] == 0.03
    crop = projection_guess(facts, "crop")
    assert crop is not None
    assert crop["centre_px"][0] == 150.0


def test_cylinder_as_wide_as_its_full_circle_is_doubted(save) -> None:
    cylinder = {
        "ProjectionType": "cylindrical",
        "FullPanoWidthPixels": "3000",
        "FullPanoHeightPixels": "1500",
        "CroppedAreaLeftPixels": "0",
        "CroppedAreaTopPixels": "0",
    }
    guess = projection_guess(_photo(save, "a.jpg", packet(**cylinder)))
    assert guess is not None
    assert guess["scale_sigma"] == 0.5
    assert guess["centre_px"] == [150.0, 75.0]


@pytest.mark.parametrize(
    ("changed", "size", "word"),
    [
        ({}, (300, 100), "cut after it was stitched"),
        ({"FullPanoWidthPixels": "2000"}, SIZE, "wider than its panorama"),
        ({"CroppedAreaTopPixels": "3000"}, SIZE, "taller than its panorama"),
        ({"FullPanoWidthPixels": "0"}, SIZE, "FullPanoWidthPixels is 0"),
        ({"FullPanoWidthPixels": None}, SIZE, "FullPanoWidthPixels is missing"),
        ({"FullPanoWidthPixels": "wide"}, SIZE, "FullPanoWidthPixels is no number"),
        ({"FullPanoWidthPixels": "nan"}, SIZE, "out of range"),
        ({"PosePitchDegrees": "95"}, SIZE, "PosePitchDegrees is out of range"),
        ({"ProjectionType": "tetrahedral"}, SIZE, "not known here"),
    ],
)
def test_contradictions_leave_a_note(changed: dict, size, word: str) -> None:
    notes: list[str] = []
    assert read_panorama(packet(**changed), size, notes) is None
    assert len(notes) == 1
    assert word in notes[0]


def test_projection_left_out_is_equirectangular_with_a_note() -> None:
    notes: list[str] = []
    found = read_panorama(packet(ProjectionType=None), SIZE, notes)
    assert found is not None
    assert found.kind == "equirectangular"
    assert "name no projection" in notes[0]


def test_heading_left_out() -> None:
    found = read_panorama(packet(PoseHeadingDegrees=None), SIZE, [])
    assert found is not None
    assert found.heading_deg is None


def test_camera_direction_against_panorama_heading(save) -> None:
    same = _photo(save, "a.jpg", packet(), gps={0x10: "T", 0x11: 200.4})
    other = _photo(save, "b.jpg", packet(), gps={0x10: "T", 0x11: 110.0})
    assert (same.direction_deg, same.direction_north) == (200.0, "true")
    assert (other.direction_deg, other.direction_north) == (200.0, None)
    assert any("the panorama's is used" in note for note in other.notes)


def test_xmp_of_other_kinds_is_nothing_to_remark() -> None:
    notes: list[str] = []
    other = wrap("", 'xmlns:dc="http://purl.org/dc/elements/1.1/" dc:title="roof"')
    assert read_panorama(other, SIZE, notes) is None
    assert read_panorama(None, SIZE, notes) is None
    assert notes == []


LAUGHS = "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 12))


@pytest.mark.parametrize(
    "hostile",
    [
        f'<!DOCTYPE x [<!ENTITY a0 "ha">{LAUGHS}]><x>&a11;</x>'.encode(),
        b'<!DOCTYPE x [<!ENTITY f SYSTEM "file:///etc/hostname">]><x>&f;</x>',
        b'<!DOCTYPE x SYSTEM "http://localhost/x.dtd"><x/>',
        b"<x>" * 100_000,
        b"<x>" * 50_000 + b"</x>" * 50_000 + b"<",
        b"\xff\xfe\x00",
        b'<?xml version="1.0" encoding="no-such"?><x/>',
        packet()[:-30],
        b"<x a='" + b"y" * 5_000_000 + b"'/>",
    ],
    ids=["laughs", "file", "dtd", "deep", "deep closed", "bytes", "encoding", "cut", "large"],
)
def test_hostile_packets_count_as_missing_at_once(hostile: bytes) -> None:
    notes: list[str] = []
    start = time.process_time()
    assert read_panorama(hostile, SIZE, notes) is None
    assert time.process_time() - start < 2.0
    assert notes[0].endswith("count as missing.")


def test_hostile_packet_in_a_photo(save) -> None:
    facts = _photo(save, "a.jpg", f"<!DOCTYPE x [{LAUGHS}]><x>&a11;</x>".encode())
    assert facts.panorama is None
    assert any("unsafe" in note for note in facts.notes)
