"""The projection of a picture that shows the whole circle and most of the height."""

from __future__ import annotations

WHOLE_CIRCLE = {
    "kind": "equirectangular",
    "left_deg": -180,
    "right_deg": 180,
    "top_deg": 60,
    "bottom_deg": -30,
}
