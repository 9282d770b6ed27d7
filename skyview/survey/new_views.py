"""A photograph's facts as a new view of a survey."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pydantic import ValidationError

from skyview.errors import InputError
from skyview.photo.facts import PhotoFacts
from skyview.place.bearings import geodesic
from skyview.survey.baselines import EYE_HEIGHT_M
from skyview.survey.inputs import declination_of
from skyview.survey.models import Survey, View
from skyview.survey.problems import input_error

FAR_FROM_SITE_M = 200.0
"""A photograph taken farther from the site than this is probably of another house."""


def new_view(
    survey: Survey,
    facts: PhotoFacts,
    guess: dict[str, Any] | None,
    name: str,
    suffix: str,
    *,
    spot: str | None = None,
    camera_enu_m: Sequence[float] | None = None,
    kind: str | None = None,
    leaf: str | None = None,
) -> View:
    """The view of a photograph that is to lie in ``photos/NAME.SUFFIX``.

    ``guess`` is what `photo.projection.projection_guess` made of it, ``kind`` the projection that
    the user names. Without ``camera_enu_m`` the camera was held at eye height above the spot.
    InputError for a name that is none or is taken, and where the spot is not known.
    """
    view = whereabouts(survey, name, spot, camera_enu_m) | {
        "photo": f"photos/{name}{suffix.lower()}",
        "size_px": [facts.width_px, facts.height_px],
        "taken": facts.taken,
        "leaf": leaf,
        "projection": _projection(guess, kind, facts),
        "prior": _prior(survey, facts, guess),
    }
    told = {field: value for field, value in view.items() if value is not None}
    try:
        return View.model_validate(told)
    except ValidationError as error:
        raise input_error(error, told, View, None) from None


def whereabouts(
    survey: Survey, name: str, spot: str | None, camera_enu_m: Sequence[float] | None = None
) -> dict[str, Any]:
    """Id, spot and camera of a new view; InputError as in ``new_view``."""
    if not name or set(name) & set("/\\:"):
        raise InputError(f"{name!r} is no name for a view", None, "id", "use letters, digits, - _")
    if spot is None and camera_enu_m is None and len(survey.spots) > 1:
        raise InputError(
            "at which spot was it taken?",
            None,
            "spot",
            "give one of: " + ", ".join(s.id for s in survey.spots),
        )
    if any(v.id == name for v in survey.views):
        raise InputError(f"there is a view {name} already", None, "id", "give it another id")
    return {
        "id": name,
        "spot": spot or _only_spot(survey),
        "camera_enu_m": list(camera_enu_m) if camera_enu_m else _eye(survey, spot),
    }


def far_away(facts: PhotoFacts, survey: Survey) -> list[str]:
    """A sentence where the photograph's own position is nowhere near the site."""
    if facts.latitude_deg is None or facts.longitude_deg is None:
        return []
    site = survey.site
    _, distance_m = geodesic(
        site.latitude_deg, site.longitude_deg, facts.latitude_deg, facts.longitude_deg
    )
    if distance_m <= FAR_FROM_SITE_M + 3.0 * (facts.position_sigma_m or 0.0):
        return []
    return [f"the photograph says it was taken {distance_m / 1000.0:.1f} km from the site"]


def _only_spot(survey: Survey) -> str | None:
    return survey.spots[0].id if survey.spots else None


def _eye(survey: Survey, spot: str | None) -> list[float]:
    """Eye height above the spot."""
    wanted = spot or _only_spot(survey)
    known = {s.id: s for s in survey.spots}
    if wanted not in known:
        raise InputError(
            f"no spot is called {wanted}" if wanted else "the survey has no spot",
            field="spots",
            mend="say where the camera stood, or name one of: " + (", ".join(known) or "none"),
        )
    east, north, up = known[wanted].enu_m
    return [east, north, up + EYE_HEIGHT_M]


def _projection(
    guess: dict[str, Any] | None, kind: str | None, facts: PhotoFacts
) -> dict[str, Any]:
    if guess and kind in (None, guess["kind"]):
        return {k: v for k, v in guess.items() if k != "scale_sigma"}
    swept = facts.likely_kind == "hand-swept panorama"
    return {"kind": kind or ("cylindrical" if swept else "rectilinear")}


def _prior(
    survey: Survey, facts: PhotoFacts, guess: dict[str, Any] | None
) -> dict[str, Any] | None:
    """Priors of the pose from what the phone felt."""
    prior: dict[str, Any] = {}
    if facts.tilt is not None:
        prior["pitch_deg"] = round(facts.tilt.pitch_deg, 3)
        prior["roll_deg"] = round(facts.tilt.roll_deg, 3)
        prior["pitch_sigma_deg"] = prior["roll_sigma_deg"] = facts.tilt.sigma_deg
    if facts.direction_deg is not None:
        yaw = facts.direction_deg
        if facts.direction_north == "magnetic":
            yaw += declination_of(survey).declination_deg
        prior["yaw_deg"] = round(yaw % 360.0, 3)
    if guess and guess.get("scale_sigma"):
        prior["scale_sigma"] = guess["scale_sigma"]
    return prior or None
