"""What joining frames noticed, in sentences.

The codes and figures come from ``sweep.join`` and ``sweep.register``, what the photographer should
heed from ``photo.capture``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from skyview.photo import capture

SHARE, LEAST_SHARE = f"{100 * capture.OVERLAP:.0f} %", f"{100 * capture.LEAST_OVERLAP:.0f} %"


def left_out(code: str, values: Mapping[str, float]) -> str:
    """Why a frame was left out.

    >>> left_out("textureless", {"features": 12.0})
    'it shows too little to hold on to (12 features): sky, fog, a wall, or blurred'
    """
    if code == "textureless":
        return (
            f"it shows too little to hold on to ({values.get('features', 0.0):.0f} features): "
            "sky, fog, a wall, or blurred"
        )
    if code == "unreadable":
        return "it cannot be read"
    matches = values.get("matches")
    seen = "" if matches is None else f" ({matches:.0f} features matched at best)"
    return (
        f"it does not fit any other frame{seen}: too little overlap, another place, or another "
        f"thing; neighbours should share {SHARE} of their width, never below {LEAST_SHARE}"
    )


def notice(code: str, values: Mapping[str, float], frames: Sequence[str]) -> str:
    """Something that was noticed about the whole sweep."""
    if code == "moved":
        far = ", ".join(
            f"{values[key]:.2f} deg at {key.removeprefix('deg_at_').removesuffix('_m')} m"
            for key in values
            if key.startswith("deg_at_")
        )
        return (
            "the frames were not taken from one place: near things shift by up to "
            f"{values['worst_deg']:.1f} deg between neighbouring frames (parallax). By distance: "
            f"{far}, if the camera went {values['step_m']:.2f} m between frames, as a telephone "
            "held 0.35 m before the feet does; twice that step, twice the angles. Far things "
            f"are placed best; mark two landmarks far apart, and next time keep the lens within "
            f"{100 * capture.SAME_SPOT_M:.0f} cm of one spot: turn yourself round it"
        )
    if code == "level_rough":
        return (
            f"the horizon is level to ±{values['level_sigma_deg']:.1f} deg only: too few upright "
            "edges; mark two upright edges, a level line or a landmark whose height is known"
        )
    if code == "focal_untold":
        return (
            "no frame tells its focal length; it was solved from the frames "
            f"({values['focal_px']:.0f} px)"
        )
    if code == "not_closed":
        return (
            f"the frames cover {values['span_deg']:.0f} deg; a closed circle would hold the "
            "angles better"
        )
    if code == "thin_overlap":
        return (
            f"{frames[0]} and {frames[1]} hang together by little ({values['points']:.0f} points, "
            f"{values['step_deg']:.0f} deg apart): angles across them are less sure"
        )
    if code == "uncovered":
        return (
            f"{100 * values['share']:.0f} % of the panorama, at its upper and lower edge, is seen "
            "by no frame and filled with blurred colour: mark nothing there"
        )
    raise KeyError(code)


def step(said: str, names: Sequence[str]) -> str:
    """What the joining is doing, for the progress line."""
    word, _, number = said.partition(" ")
    if number:
        doing = {"read": "reading", "paint": "drawing"}[word]
        return f"{doing} {names[int(number)]} ({int(number) + 1} of {len(names)})"
    return {
        "match": "matching frames",
        "follow": "following points",
        "level": "finding the level",
        "seams": "finding seams",
    }[word]
