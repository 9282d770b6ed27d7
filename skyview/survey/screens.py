"""Obstructions of a survey as upright screens, one for each view that shows them.

Long edges of an outline are divided so that a line drawn straight on a curved projection stays
where it was drawn; an obstruction without a distance is put at ``ASSUMED_DISTANCE_M`` and said so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.errors import InputError
from skyview.outline.upright import Upright, middle_azimuth, upright_screen
from skyview.survey.cameras import ViewCamera
from skyview.survey.finding import some
from skyview.survey.kinds import TREES, WIRES
from skyview.survey.models import Obstruction, Outline, Survey
from skyview.wave.foliage_models import DEFAULT_MODEL

ASSUMED_DISTANCE_M = 30.0
"""Where a thing of unknown distance is put: our own choice, always said."""

FAR_AWAY_M = 20e3
"""Where a wire of unknown distance is put, so that no step on the roof moves it."""

LEAST_CROSSING = np.radians(3.0)
"""Sight lines from two views place a thing only where they cross by this angle."""

LONGEST_EDGE = np.radians(2.0)
"""Edges of an outline are divided to this angle."""


@dataclass(frozen=True)
class ViewScreen:
    """One obstruction as one view shows it."""

    obstruction: Obstruction
    view: str
    camera_m: Array
    screen: Upright
    sky_share: float | None
    distance_m: float
    """Horizontal, from the camera to its plane."""
    assumed: bool
    """Nothing tells how far away it is."""
    foliage_model: str = DEFAULT_MODEL
    """Name of the model by which its crown costs."""

    @property
    def is_tree(self) -> bool:
        """Whether its decibels are those of a crown."""
        return self.obstruction.kind in TREES

    @property
    def is_placed(self) -> bool:
        """Whether anything tells how far away it is."""
        return self.obstruction.distance_m is not None or self.obstruction.enu_m is not None

    @property
    def is_wire(self) -> bool:
        """Whether it is a hazard only, without any loss."""
        return self.obstruction.kind in WIRES


def nearest_view(views: list[ViewScreen], antenna_m: Array) -> NDArray[np.intp]:
    """Which view's camera stood nearest to each antenna (A,): its outline is best known there."""
    gaps = [np.linalg.norm(antenna_m - view.camera_m, axis=1) for view in views]
    return np.asarray(np.argmin(gaps, axis=0))


def screens_of(
    survey: Survey, cameras: dict[str, ViewCamera]
) -> tuple[dict[str, list[ViewScreen]], list[str]]:
    """For each obstruction its screens, one a view; and what was assumed.

    A wire whose line is known in space needs no screen: it costs nothing and is drawn from there.
    """
    notes: list[str] = []
    unplaced: dict[bool, list[str]] = {}
    found: dict[str, list[ViewScreen]] = {}
    for thing in survey.obstructions:
        if thing.kind in WIRES and thing.line_enu_m:
            continue
        outlines = [o for o in survey.outlines if o.obstruction == thing.id]
        views = list(dict.fromkeys(o.view for o in outlines))
        if not views and thing.kind not in WIRES:
            notes.append(f"obstruction {thing.id} has no outline and was left out")
        rays = {v: [_outline_rays(cameras[v], o) for o in outlines if o.view == v] for v in views}
        for view in views:
            said = [] if thing.kind in WIRES else notes
            distance, assumed = _distance_m(thing, view, rays, cameras, said)
            if thing.distance_m is None and thing.enu_m is None and thing.kind not in WIRES:
                unplaced.setdefault(assumed, []).append(thing.id)
            shapes = [o for o in outlines if o.view == view]
            shares = [o.sky_share for o in shapes if o.sky_share is not None]
            try:
                screen = upright_screen(
                    rays[view],
                    np.array(cameras[view].view.camera_enu_m),
                    distance,
                    [bool(o.reaches_ground) for o in shapes],
                )
            except InputError as error:
                if thing.kind in WIRES:
                    notes.append(f"wire {thing.id} is too wide to be drawn; give its line_enu_m")
                    continue
                raise InputError(
                    error.message, None, f"outlines.{shapes[0].id}", error.mend
                ) from None
            if not screen.parts:
                raise InputError(
                    "this outline has no area at its distance",
                    field=f"outlines.{shapes[0].id}",
                    mend=f"correct it, or obstructions.{thing.id}.distance_m",
                )
            found.setdefault(thing.id, []).append(
                ViewScreen(
                    thing,
                    view,
                    np.array(cameras[view].view.camera_enu_m),
                    screen,
                    min(shares) if shares else None,
                    distance,
                    assumed,
                    survey.site.foliage_model or DEFAULT_MODEL,
                )
            )
    return found, [*dict.fromkeys(notes), *_unplaced_notes(unplaced)]


def _outline_rays(camera: ViewCamera, outline: Outline) -> list[Array]:
    rings = [_divided(camera, np.array(ring, float)) for ring in outline.rings_px]
    if not all(np.isfinite(ring).all() for ring in rings):
        raise InputError(
            "a point of this outline shows no direction in its projection",
            field=f"outlines.{outline.id}.rings_px",
            mend="move the point, or correct the view's projection",
        )
    return rings


def _divided(camera: ViewCamera, ring_px: Array) -> Array:
    """Rays (N, 3) of a ring of pixels, edges divided to ``LONGEST_EDGE``."""
    pose = camera.picture.camera
    following = np.roll(ring_px, -1, axis=0)
    ends = pose.rays(ring_px[:, 0], ring_px[:, 1])
    chord = np.linalg.norm(np.roll(ends, -1, axis=0) - ends, axis=1)
    counts = np.maximum(np.ceil(np.nan_to_num(chord) / LONGEST_EDGE), 1).astype(int)
    start = np.repeat(np.arange(len(ring_px)), counts)
    step = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    share = step / counts[start]
    points = ring_px[start] + share[:, None] * (following - ring_px)[start]
    return pose.rays(points[:, 0], points[:, 1])


def _distance_m(
    thing: Obstruction,
    view: str,
    rays: dict[str, list[list[Array]]],
    cameras: dict[str, ViewCamera],
    notes: list[str],
) -> tuple[float, bool]:
    """Horizontal distance from a view's camera to the thing's plane; whether it is assumed."""
    if thing.distance_m is None:
        place = _place_m(thing, rays, cameras)
        if place is None:
            # A wire is drawn where the camera saw it: a guessed distance would move a hazard.
            return (FAR_AWAY_M if thing.kind in WIRES else ASSUMED_DISTANCE_M), True
    elif thing.distance_from is None and len(rays) > 1:
        notes.append(
            f"obstruction {thing.id} does not say from which view its distance counts: "
            "it is taken from each"
        )
        return thing.distance_m, False
    elif thing.distance_from in (None, view):
        return thing.distance_m, False
    elif thing.distance_from in rays:
        origin = np.array(cameras[thing.distance_from].view.camera_enu_m)[:2]
        place = origin + thing.distance_m * _ahead(rays[thing.distance_from])
    else:
        notes.append(
            f"obstruction {thing.id} was measured from view {thing.distance_from}, which does "
            f"not show it: the distance is taken from view {view}"
        )
        return thing.distance_m, False
    camera = np.array(cameras[view].view.camera_enu_m)[:2]
    distance = float((place - camera) @ _ahead(rays[view]))
    if distance <= 0.0:
        raise InputError(
            f"its place lies behind the camera of view {view}",
            field=f"obstructions.{thing.id}",
            mend="correct its distance or its place",
        )
    return distance, False


def _place_m(
    thing: Obstruction,
    rays: dict[str, list[list[Array]]],
    cameras: dict[str, ViewCamera],
) -> Array | None:
    """East and north of a thing without a distance."""
    if thing.enu_m is not None:
        return np.array(thing.enu_m)[:2]
    return _where_views_meet(rays, cameras)


def _unplaced_notes(unplaced: dict[bool, list[str]]) -> list[str]:
    """What is said of things without a distance, by whether one was assumed for them.

    >>> _unplaced_notes({True: ["oak"]})
    ['obstruction oak has no distance: it is taken at 30 m, give one to trust its clearance']
    """
    notes = []
    for assumed, names in unplaced.items():
        things = list(dict.fromkeys(names))
        one = len(things) == 1
        what = f"obstruction {things[0]} has" if one else f"obstructions {some(things)} have"
        how = "it is" if one else "each is"
        how += (
            f" taken at {ASSUMED_DISTANCE_M:g} m, give one to trust its clearance"
            if assumed
            else " put where its views' sight lines meet"
        )
        notes.append(f"{what} no distance: {how}")
    return notes


def _where_views_meet(
    rays: dict[str, list[list[Array]]], cameras: dict[str, ViewCamera]
) -> Array | None:
    """East and north where the sight lines to an outline's middle pass nearest to one another.

    None with one view, with lines within ``LEAST_CROSSING`` of parallel, or where they meet
    behind a camera.
    """
    origins = np.array([cameras[view].view.camera_enu_m[:2] for view in rays], float)
    ahead = np.array([_ahead(outlines) for outlines in rays.values()])
    across = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    spread = np.abs(ahead[:1, 0] * ahead[:, 1] - ahead[:1, 1] * ahead[:, 0]).max()
    if spread < np.sin(LEAST_CROSSING):
        return None
    place = np.linalg.lstsq(across, np.sum(across * origins, axis=1), rcond=None)[0]
    in_front = np.all(np.sum((place - origins) * ahead, axis=1) > 0.0)
    return np.asarray(place) if in_front else None


def _ahead(outlines: list[list[Array]]) -> Array:
    azimuth = middle_azimuth(np.concatenate([rings[0] for rings in outlines]))
    return np.array([np.sin(azimuth), np.cos(azimuth)])
