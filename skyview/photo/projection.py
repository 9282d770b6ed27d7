"""From the facts of a picture to the projection object of the survey file, as far as known.

Scale sigmas are one standard deviation of the scale as a share; those without a source beside
them are judgement.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Literal

from skyview.photo.lens import FULL_FRAME_DIAGONAL_MM
from skyview.photo.xmp import Panorama

if TYPE_CHECKING:
    from skyview.photo.facts import PhotoFacts

PoseCentre = Literal["full", "crop"]
Kind = Literal["single photo", "hand-swept panorama", "stitched panorama", "full sphere"]

SWEEP_ASPECT = 2.4
"""Wider than the 21:9 (2.33) that some phones cut single photos to."""

_SINGLE_SIGMA = 0.04
"""The diagonal rule against the width rule: 4 % apart on a 4:3 picture."""
_CUT_SIGMA = 0.06
_SWEEP_SIGMA = 0.25
_STITCHED_SIGMA = 0.03
_CLOSED_SIGMA = 0.005
_UNTOLD_SPAN_SIGMA = 0.5

_NATIVE_LONG, _NATIVE_SHORT = 0.8, 0.6
"""Sides of a 4:3 frame over its diagonal."""

_PROMISE = "two landmarks far apart settle it"


def projection_guess(facts: PhotoFacts, pose_centre: PoseCentre = "full") -> dict[str, Any] | None:
    """The projection object of the survey file plus ``scale_sigma``, or None where nothing tells.

    - Panorama data: ``equirectangular`` with the angles of the four edges relative to the
      heading, or ``cylindrical`` with ``px_per_rad`` and ``centre_px``. ``pose_centre`` chooses
      which column the heading belongs to: the middle of the full panorama or of this picture
      (readers differ; elevations are the same in both readings).
    - A hand-swept panorama with a focal length: ``cylindrical``, its radius the focal length in
      pixels, the short side of the sweep taken as the long side of a 4:3 frame.
    - Any other picture with a focal length: ``rectilinear`` by `focal_px`.
    - Otherwise None; ``facts.missing`` has the reason.
    """
    return guess_and_reason(facts, pose_centre)[0]


def guess_and_reason(
    facts: PhotoFacts, pose_centre: PoseCentre = "full"
) -> tuple[dict[str, Any] | None, str | None]:
    """The guess, and where it is None the sentence that says why and what would settle it."""
    if facts.panorama is not None:
        if facts.panorama.kind == "equirectangular":
            return _equirectangular(facts.panorama, pose_centre), None
        return _cylindrical(facts.panorama, facts, pose_centre), None
    if facts.likely_kind == "full sphere":
        return None, (
            "field of view: the shape 2:1 may be a full sphere, but no panorama data say so; "
            "state the projection"
        )
    if facts.focal_35mm is None:
        return None, f"field of view: no focal length in the photo; {_PROMISE}"
    if facts.likely_kind == "hand-swept panorama":
        return _hand_swept(facts)
    return _rectilinear(facts), None


def focal_px(focal_35mm: float, width_px: float, height_px: float) -> float:
    """Focal length in pixels by the diagonal rule: f35 x diagonal in pixels / 43.267 mm. [px]

    The diagonal is the picture's own between 4:3 and 3:2. Wider pictures count as cut from a
    4:3 frame whose long side they keep (diagonal = 1.25 x long side), squarer ones as cut from
    one whose short side they keep (5/3 x short side). The 35 mm equivalent rests on equal
    diagonal angles: CIPA DCG-001, read in a secondary text; the cuts are usual on phones (from
    memory).

    >>> round(focal_px(26.0, 4032, 3024), 1)
    3028.7
    """
    long_side, short_side = max(width_px, height_px), min(width_px, height_px)
    if _is_cut(width_px, height_px):
        diagonal = max(long_side / _NATIVE_LONG, short_side / _NATIVE_SHORT)
    else:
        diagonal = math.hypot(long_side, short_side)
    return focal_35mm * diagonal / FULL_FRAME_DIAGONAL_MM


def likely_kind(
    size_px: tuple[int, int],
    panorama: Panorama | None,
    custom_rendered: float | None,
    focal_35mm: float | None,
) -> Kind:
    """What the picture probably is, by its data and its shape.

    ``custom_rendered`` 6 is what one maker writes for its sweep panoramas.
    """
    if panorama is not None:
        whole = abs(panorama.crop_px[0] - panorama.full_px[0]) < 1.0
        return (
            "full sphere" if whole and panorama.kind == "equirectangular" else ("stitched panorama")
        )
    width, height = size_px
    if custom_rendered == 6.0 or max(size_px) >= SWEEP_ASPECT * min(size_px):
        return "hand-swept panorama"
    if focal_35mm is None and abs(width / height - 2.0) < 0.005 and width >= 2000:
        return "full sphere"
    return "single photo"


def _is_cut(width_px: float, height_px: float) -> bool:
    return not 1.30 <= max(width_px, height_px) / min(width_px, height_px) <= 1.55


def _equirectangular(panorama: Panorama, pose_centre: PoseCentre) -> dict[str, Any]:
    full_width, full_height = panorama.full_px
    width_deg = 360.0 * panorama.crop_px[0] / full_width
    left = 360.0 * (panorama.left_px / full_width - 0.5)
    if pose_centre == "crop":
        left = -width_deg / 2.0
    top = 90.0 - 180.0 * panorama.top_px / full_height
    closed = panorama.crop_px[0] >= full_width
    return {
        "kind": "equirectangular",
        "left_deg": left,
        "right_deg": left + width_deg,
        "top_deg": top,
        "bottom_deg": top - 180.0 * panorama.crop_px[1] / full_height,
        "scale_sigma": _CLOSED_SIGMA if closed else _STITCHED_SIGMA,
    }


def _cylindrical(panorama: Panorama, facts: PhotoFacts, pose_centre: PoseCentre) -> dict[str, Any]:
    """A cylinder whose full width is the whole circle and whose top is told from the horizon."""
    resized = facts.width_px / panorama.crop_px[0]
    centre_x = (panorama.full_px[0] / 2.0 - panorama.left_px) * resized
    if pose_centre == "crop":
        centre_x = facts.width_px / 2.0
    untold = panorama.crop_px[0] >= panorama.full_px[0]
    horizon = -panorama.top_px * resized
    inside = 0.0 < horizon < facts.height_px
    return {
        "kind": "cylindrical",
        "px_per_rad": panorama.full_px[0] * resized / (2.0 * math.pi),
        "centre_px": [centre_x, horizon if inside else facts.height_px / 2.0],
        # Some writers put the sweep's own width where the whole circle's belongs.
        "scale_sigma": _UNTOLD_SPAN_SIGMA if untold else _STITCHED_SIGMA,
    }


def _hand_swept(facts: PhotoFacts) -> tuple[dict[str, Any] | None, str | None]:
    if facts.height_px > facts.width_px:
        return None, (
            "field of view: an upright sweep has no projection here; "
            "take single photos or a level sweep"
        )
    frame_long_mm = _NATIVE_LONG * FULL_FRAME_DIAGONAL_MM
    px_per_rad = (facts.focal_35mm or 0.0) * facts.height_px / frame_long_mm
    if facts.width_px / px_per_rad > 2.0 * math.pi * (1.0 + _SWEEP_SIGMA):
        return None, (
            "field of view: focal length and size would make the sweep wider than the full "
            f"circle; {_PROMISE}"
        )
    return {
        "kind": "cylindrical",
        "px_per_rad": px_per_rad,
        "centre_px": [facts.width_px / 2.0, facts.height_px / 2.0],
        "scale_sigma": _with_zoom(_SWEEP_SIGMA, facts.digital_zoom),
    }, None


def _rectilinear(facts: PhotoFacts) -> dict[str, Any]:
    focal = facts.focal_35mm or 0.0
    in_px = focal_px(focal, facts.width_px, facts.height_px)
    sigma = _CUT_SIGMA if _is_cut(facts.width_px, facts.height_px) else _SINGLE_SIGMA
    if facts.cut_from_px is not None:
        # Cut without resizing, unless it was resized too: that reading at 2 sigma.
        resized_px, in_px = in_px, focal_px(focal, *facts.cut_from_px)
        sigma = math.hypot(_CUT_SIGMA, 0.5 * math.log(in_px / resized_px))
    return {
        "kind": "rectilinear",
        "focal_px": in_px,
        "centre_px": [facts.width_px / 2.0, facts.height_px / 2.0],
        "scale_sigma": _with_zoom(sigma, facts.digital_zoom),
    }


def _with_zoom(sigma: float, zoom: float | None) -> float:
    """Whether the 35 mm tag holds the digital zoom is not told: the other reading at 2 sigma."""
    return math.hypot(sigma, 0.5 * math.log(zoom)) if zoom else sigma
