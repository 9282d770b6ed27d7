from __future__ import annotations

import math

import pytest
from PIL import ExifTags

from skyview.photo.facts import PhotoFacts, read_header
from skyview.photo.projection import focal_px, likely_kind, projection_guess

FOCAL_35 = ExifTags.Base.FocalLengthIn35mmFilm


def facts_of(save, size: tuple[int, int], focal: int | None = 26, **camera: float) -> PhotoFacts:
    tags = {ExifTags.Base[name]: value for name, value in camera.items()}
    if focal is not None:
        tags[FOCAL_35] = focal
    return read_header(save("a.png", size=size, camera=tags))


@pytest.mark.parametrize(
    ("f35", "long_side_deg", "short_side_deg"),
    # 4:3 pictures, rectilinear, diagonal rule with 43.267 mm: plain arithmetic, no outside source.
    [
        (13, 106.18, 89.91),
        (14, 102.06, 85.67),
        (24, 71.59, 56.81),
        (26, 67.30, 53.06),
        (28, 63.44, 49.74),
        (52, 36.82, 28.03),
        (77, 25.33, 19.14),
    ],
)
def test_field_of_view(f35: int, long_side_deg: float, short_side_deg: float) -> None:
    for width, height in ((4032, 3024), (3024, 4032)):
        focal = focal_px(f35, width, height)
        for side, expected in ((4032, long_side_deg), (3024, short_side_deg)):
            angle = 2.0 * math.degrees(math.atan(side / 2.0 / focal))
            assert angle == pytest.approx(expected, abs=0.02)


def test_cuts_keep_the_side_of_the_frame_that_they_share() -> None:
    native = focal_px(26, 4032, 3024)
    assert focal_px(26, 4032, 2268) == pytest.approx(native)
    assert focal_px(26, 2268, 4032) == pytest.approx(native)
    assert focal_px(26, 3024, 3024) == pytest.approx(native)
    assert focal_px(26, 6000, 4000) == pytest.approx(
        26 * math.hypot(6000, 4000) / 43.2666, rel=1e-5
    )


def test_single_photo(save) -> None:
    guess = projection_guess(facts_of(save, (640, 480)))
    assert guess == {
        "kind": "rectilinear",
        "focal_px": pytest.approx(26 * 800 / 43.2666, rel=1e-5),
        "centre_px": [320.0, 240.0],
        "scale_sigma": 0.04,
    }


@pytest.mark.parametrize("size", [(640, 360), (480, 480)])
def test_cut_shapes_are_less_sure(save, size: tuple[int, int]) -> None:
    guess = projection_guess(facts_of(save, size))
    assert guess is not None
    assert guess["scale_sigma"] == 0.06


def test_digital_zoom_widens_the_sigma(save) -> None:
    """The other reading of the tag, twice as narrow, lies 2 sigma off: ln 2 / 2 = 0.347."""
    guess = projection_guess(facts_of(save, (640, 480), DigitalZoomRatio=2.0))
    assert guess is not None
    assert guess["scale_sigma"] == pytest.approx(math.hypot(0.04, 0.3466), abs=1e-4)


def test_picture_cut_afterwards_keeps_the_scale_of_the_whole(save) -> None:
    """Cut from 1280 x 960 unresized, or shrunk to 640 wide as well: ln(1280/640) / 2."""
    facts = facts_of(save, (640, 320), ExifImageWidth=1280, ExifImageHeight=960)
    guess = projection_guess(facts)
    assert guess is not None
    assert guess["focal_px"] == pytest.approx(26 * 1600 / 43.2666, rel=1e-5)
    assert guess["scale_sigma"] == pytest.approx(math.hypot(0.06, 0.3466), abs=1e-4)


def test_hand_swept_panorama_with_a_focal_length(save) -> None:
    """By hand: 26 mm over the long side 34.613 mm of a 4:3 frame that is 300 px of the sweep."""
    facts = facts_of(save, (1000, 300))
    assert facts.likely_kind == "hand-swept panorama"
    guess = projection_guess(facts)
    assert guess == {
        "kind": "cylindrical",
        "px_per_rad": pytest.approx(26 * 300 / 34.6133, rel=1e-5),
        "centre_px": [500.0, 150.0],
        "scale_sigma": 0.25,
    }


@pytest.mark.parametrize(
    ("size", "focal", "reason"),
    [
        ((1000, 300), None, "no focal length in the photo"),
        ((640, 480), None, "no focal length in the photo"),
        ((300, 1000), 26, "upright sweep"),
        ((3000, 300), 26, "wider than the full circle"),
        ((2000, 1000), None, "2:1 may be a full sphere"),
    ],
)
def test_no_guess_has_a_reason(save, size, focal, reason: str) -> None:
    facts = facts_of(save, size, focal)
    assert projection_guess(facts) is None
    gaps = [gap for gap in facts.missing if gap.startswith("field of view")]
    assert len(gaps) == 1
    assert reason in gaps[0]


@pytest.mark.parametrize(
    ("size", "custom_rendered", "focal", "kind"),
    [
        ((4032, 3024), None, 26.0, "single photo"),
        ((4032, 3024), 6.0, 26.0, "hand-swept panorama"),
        ((3360, 1440), None, 26.0, "single photo"),
        ((7200, 3000), None, 26.0, "hand-swept panorama"),
        ((3000, 7200), None, None, "hand-swept panorama"),
        ((4000, 2000), None, 26.0, "single photo"),
        ((4000, 2000), None, None, "full sphere"),
        ((400, 200), None, None, "single photo"),
    ],
)
def test_likely_kind(size, custom_rendered, focal, kind: str) -> None:
    assert likely_kind(size, None, custom_rendered, focal) == kind
