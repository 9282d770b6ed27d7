"""The sample pictures: their exact projections, their bytes, and what their metadata says.

Used by make_samples.py alone.
"""

from __future__ import annotations

import io
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from PIL import Image, JpegImagePlugin
from sample_metadata import Taken
from sample_survey import EARTH, GROUND_AMSL_M, SITE_DEG
from scene_truth import PANO_PX, PANO_PX_PER_DEG, PANO_TOP_DEG, Picture, Scene

DECLINATION_DEG = 21.64
"""World Magnetic Model 2025 at the site, 2026-02-01 (pygeomag 1.1)."""

FIRST_TIME = datetime.fromisoformat("2026-02-01T14:04:00-08:00")
"""The sun then stands at azimuth 301, elevation 56 deg, where the scene has it."""

SECTOR_COLUMNS = (1088, 4064)
"""Columns kept of B's and C's full circles: whole blocks of 16, azimuth 298.8 to 200.3 deg."""

FRAMES = {"ridge_frame_1": ("02", 1), "ridge_frame_2": ("04", 3), "ridge_frame_3": ("08", 6)}
"""Frame of the scene and Exif Orientation of its copy."""

TURNED = {3: Image.Transpose.ROTATE_180, 6: Image.Transpose.ROTATE_90}
COMPASS_ERROR_DEG = {
    "ridge_sweep": 12.0,
    "ridge_frame_1": 9.0,
    "ridge_frame_2": -7.5,
    "ridge_frame_3": 14.0,
    "gable_circle": 6.0,
    "gable_sector": 6.0,
    "mast_sector": -8.0,
}
# east, north, up error of the picture's position in metres, and the error that it states
POSITION_ERROR_M = {
    "A": (3.1, -2.4, 6.8, 4.7),
    "B": (-2.2, 4.0, 9.1, 5.2),
    "C": (1.4, 5.3, 7.2, 6.0),
}
TURN_COMPASS_ERROR_DEG = (9.0, 7.5, 11.0, 8.0, 10.5, 6.0, 9.5, 12.0, 8.5)
SPOT = {"ridge": "A", "gable": "B", "mast": "C"}
MINUTE = {
    "ridge_sweep": 0,
    "ridge_frame_1": 2,
    "ridge_frame_2": 2,
    "ridge_frame_3": 3,
    "gable_circle": 7,
    "gable_sector": 7,
    "mast_sector": 15,
}


def exact_pictures(scenes: dict[str, Scene]) -> dict[str, Picture]:
    """Exact projection and pose of each sample picture."""
    truth = scenes["A"].truth
    sweep = truth["sweep"]
    pictures = {
        "ridge_sweep": Picture(
            "cylindrical",
            (sweep["width"], sweep["height"]),
            sweep["centre_yaw"],
            roll_deg=sweep["roll"],
            scale_px=sweep["px_per_rad"],
            centre_px=(sweep["width"] / 2, sweep["row_of_axis_plane"]),
        )
    }
    frames = {photo["file"][-6:-4]: photo for photo in truth["photos"]}
    for name, (number, _) in FRAMES.items():
        frame = frames[number]
        pictures[name] = Picture(
            "rectilinear",
            (frame["width"], frame["height"]),
            frame["yaw"],
            frame["pitch"],
            frame["roll"],
            frame["f_px"],
            (frame["cx"], frame["cy"]),
        )
    width, height = PANO_PX
    bottom = PANO_TOP_DEG - height / PANO_PX_PER_DEG
    for name, (first, last) in {
        "gable_circle": (0, width),
        "gable_sector": SECTOR_COLUMNS,
        "mast_sector": SECTOR_COLUMNS,
    }.items():
        half = (last - first) / 2 / PANO_PX_PER_DEG
        middle = scenes["B"].left_azimuth_deg + (first + last) / 2 / PANO_PX_PER_DEG
        pictures[name] = Picture(
            "equirectangular",
            (last - first, height),
            middle % 360,
            edges_deg=(-half, half, PANO_TOP_DEG, bottom),
        )
    return pictures


def taken_record(name: str, scenes: dict[str, Scene], picture: Picture) -> Taken:
    """What the picture's own metadata says: near the truth, as telephones are."""
    spot = SPOT[name.split("_")[0]]
    east, north, up, stated = POSITION_ERROR_M[spot]
    e, n, u = scenes[spot].camera + np.array([east, north, up])
    longitude, latitude, _ = EARTH.fwd(
        SITE_DEG[1], SITE_DEG[0], np.rad2deg(np.arctan2(e, n)), np.hypot(e, n)
    )
    turned = name.startswith("ridge")
    direction = picture.yaw_deg - DECLINATION_DEG + COMPASS_ERROR_DEG[name]
    return Taken(
        time=FIRST_TIME + timedelta(minutes=MINUTE[name]),
        latitude_deg=latitude,
        longitude_deg=longitude,
        altitude_m=GROUND_AMSL_M + u,
        position_error_m=stated,
        magnetic_direction_deg=direction if turned else None,
        focal=turned,
        orientation=FRAMES.get(name, ("", 1))[1],
    )


def turn_pictures(scenes: dict[str, Scene], folder: Path) -> list[tuple[str, bytes, Taken, dict]]:
    """Nine overlapping frames of one turn from the ridge, at half their size: name, JPEG, what the
    picture says of itself, and its truth."""
    scene = scenes["A"]
    east, north, up, stated = POSITION_ERROR_M["A"]
    e, n, u = scene.camera + np.array([east, north, up])
    azimuth = np.rad2deg(np.arctan2(e, n))
    longitude, latitude, _ = EARTH.fwd(SITE_DEG[1], SITE_DEG[0], azimuth, np.hypot(e, n))
    made = []
    for index, photo in enumerate(scene.truth["photos"]):
        with Image.open(folder / photo["file"]) as image:
            half = image.convert("RGB").reduce(2)
        coded = io.BytesIO()
        half.save(coded, "JPEG", quality=88, optimize=True)
        direction = photo["yaw"] - DECLINATION_DEG + TURN_COMPASS_ERROR_DEG[index]
        taken = Taken(
            time=FIRST_TIME + timedelta(minutes=1, seconds=4 * index),
            latitude_deg=latitude,
            longitude_deg=longitude,
            altitude_m=GROUND_AMSL_M + u,
            position_error_m=stated,
            magnetic_direction_deg=direction,
            focal=True,
        )
        truth = {
            "picture": f"turn_{index + 1}.jpg",
            "focal_px": photo["f_px"] / 2,
            "yaw_deg": photo["yaw"],
            "pitch_deg": photo["pitch"],
            "roll_deg": photo["roll"],
        }
        made.append((f"turn_{index + 1}", coded.getvalue(), taken, truth))
    return made


def panorama_properties(name: str, picture: Picture) -> dict[str, str]:
    """Open panorama properties; whole pixels, so the top edge reads 0.03 deg too high."""
    width, height = picture.size_px
    full = PANO_PX[0]
    return {
        "ProjectionType": "equirectangular",
        "UsePanoramaViewer": "True",
        "CroppedAreaImageWidthPixels": str(width),
        "CroppedAreaImageHeightPixels": str(height),
        "FullPanoWidthPixels": str(full),
        "FullPanoHeightPixels": str(full // 2),
        "CroppedAreaLeftPixels": str((full - width) // 2),
        "CroppedAreaTopPixels": str(top_row()),
        "PoseHeadingDegrees": f"{(picture.yaw_deg + COMPASS_ERROR_DEG[name]) % 360:.1f}",
        "PosePitchDegrees": "0.0",
        "PoseRollDegrees": "0.0",
    }


def top_row() -> int:
    """Row of the complete panorama at which the pictures' top edge lies."""
    return int((90 - PANO_TOP_DEG) * PANO_PX_PER_DEG)


def jpeg_bytes(name: str, source: Path) -> bytes:
    """The scene's JPEG: the same bytes, or cut or turned and coded with its own tables."""
    turn = TURNED.get(FRAMES.get(name, ("", 1))[1])
    cut = name.endswith("_sector")
    if turn is None and not cut:
        return source.read_bytes()
    with JpegImagePlugin.JpegImageFile(source) as image:
        tables, sampling = image.quantization, JpegImagePlugin.get_sampling(image)
        pixels = image.convert("RGB")
        if cut:
            pixels = pixels.crop((SECTOR_COLUMNS[0], 0, SECTOR_COLUMNS[1], image.height))
        if turn is not None:
            pixels = pixels.transpose(turn)
    target = io.BytesIO()
    pixels.save(target, "JPEG", qtables=tables, subsampling=sampling, optimize=True)
    return target.getvalue()


def source_file(name: str, folder: Path) -> Path:
    """The render behind a sample picture."""
    spot = SPOT[name.split("_")[0]]
    if name in FRAMES:
        return folder / f"scene3_{spot}_photo{FRAMES[name][0]}.jpg"
    return folder / f"scene3_{spot}_{'sweep' if name == 'ridge_sweep' else 'pano'}.jpg"
