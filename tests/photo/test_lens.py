from __future__ import annotations

import pytest
from PIL import ExifTags

from skyview.photo.facts import read_header

FOCAL_35 = ExifTags.Base.FocalLengthIn35mmFilm
ZOOM = ExifTags.Base.DigitalZoomRatio

SENSOR = {
    # A 5.76 mm x 4.32 mm sensor under 64 x 48 pixels: diagonal 7.2 mm, crop factor 6.009.
    ExifTags.Base.FocalLength: 4.25,
    ExifTags.Base.FocalPlaneXResolution: 64 / 0.576,
    ExifTags.Base.FocalPlaneYResolution: 48 / 0.432,
    ExifTags.Base.FocalPlaneResolutionUnit: 3,
}


@pytest.mark.parametrize(("written", "read"), [(26, 26.0), (0, None), (13, 13.0)])
def test_tag_as_written_and_zero_for_unknown(save, written: int, read: float | None) -> None:
    facts = read_header(save(camera={FOCAL_35: written}))
    assert facts.focal_35mm == read
    assert any(gap.startswith("field of view") for gap in facts.missing) is (read is None)


@pytest.mark.parametrize("written", [1, 60000])
def test_absurd_focal_length(save, written: int) -> None:
    facts = read_header(save(camera={FOCAL_35: written}))
    assert facts.focal_35mm is None
    assert any("absurd" in note for note in facts.notes)


def test_equivalent_from_the_sensor_where_the_tag_is_missing(save) -> None:
    # 4.25 mm x 43.2666 / 7.2 = 25.54 mm, by hand.
    facts = read_header(save(camera=SENSOR))
    assert facts.focal_35mm == pytest.approx(25.54, abs=0.01)


def test_zoom_multiplies_the_equivalent_from_the_sensor_only(save) -> None:
    zoomed = read_header(save(camera={**SENSOR, ZOOM: 2.0}))
    tagged = read_header(save(camera={**SENSOR, FOCAL_35: 52, ZOOM: 2.0}))
    assert zoomed.focal_35mm == pytest.approx(51.08, abs=0.02)
    assert (tagged.focal_35mm, tagged.digital_zoom) == (52.0, 2.0)


@pytest.mark.parametrize(("written", "read"), [(0.0, 1.0), (1.0, 1.0), (0.5, None), (500.0, None)])
def test_zoom_range(save, written: float, read: float | None) -> None:
    assert read_header(save(camera={ZOOM: written})).digital_zoom == read
