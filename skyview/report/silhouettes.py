"""Outlines on the plate, and the first Fresnel zone of the chosen station."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from skyview.angles import Array
from skyview.report import figures, ink, words
from skyview.report.canvas import Box, Canvas
from skyview.report.frame import Window
from skyview.report.lettering import width_px
from skyview.survey.results import FresnelMark, Plate


def chosen_obstruction(plate: Plate) -> str | None:
    """Id of the obstruction that costs the chosen station most, if any."""
    return next((row.obstruction for row in plate.rows if row.station == plate.selected), None)


def turns_into(window: Window, azimuth_deg: Array) -> Iterator[float]:
    """Whole turns by which azimuths are carried so that some of them reach the window. [deg]"""
    first = math.ceil((window.left_deg - float(azimuth_deg.max())) / 360.0)
    last = math.floor((window.right_deg - float(azimuth_deg.min())) / 360.0)
    for turn in range(first, last + 1):
        yield 360.0 * turn


def drawn_ring(ring: Array) -> Array:
    """The points of a ring's stroke: closed, or once along it where the ring runs there and back.

    >>> wire = np.array([[10.0, 4.0], [20.0, 3.0], [30.0, 4.0], [20.0, 3.0]])
    >>> drawn_ring(wire)[:, 0].tolist()
    [10.0, 20.0, 30.0]
    """
    if np.array_equal(ring[1:], ring[:0:-1]):
        return ring[: len(ring) // 2 + 1]
    return np.vstack([ring, ring[:1]])


def _dash(kind: str) -> tuple[float, ...] | None:
    if kind in words.TREE_KINDS:
        return ink.DASH_TREE
    return ink.DASH_POWER_LINE if kind in words.LINE_KINDS else None


def draw_outlines(canvas: Canvas, window: Window, plate: Plate) -> None:
    """Every outline and hole, cut at the window: solid built, dashed trees, dash-dot lines."""
    chosen = chosen_obstruction(plate)
    for silhouette in plate.silhouettes:
        strong = silhouette.obstruction == chosen
        for ring in silhouette.rings_deg:
            points = drawn_ring(ring)
            for turn in turns_into(window, points[:, 0]):
                canvas.line(
                    window.x(points[:, 0] + turn),
                    window.y(points[:, 1]),
                    ink.OUTLINE_CHOSEN if strong else ink.OUTLINE,
                    colour=ink.PENCIL if strong else ink.INK,
                    case=1.7,
                    dash=_dash(silhouette.kind),
                    clip=window.box,
                    z=6.0 if strong else 5.0,
                )


def zone_shapes(window: Window, zone: FresnelMark | None) -> list[Array]:
    """The first Fresnel zone's edge wherever it reaches into the window, each (N, 2) px.

    An ellipse: the zone is round as seen, and azimuth counts 1/cos(elevation) as many degrees.
    """
    if zone is None:
        return []
    wide = zone.radius_deg / max(math.cos(math.radians(zone.elevation_deg)), 0.05)
    angle = np.linspace(0.0, 2.0 * np.pi, 145)
    azimuth = window.unrolled(zone.azimuth_deg) + wide * np.cos(angle)
    y = window.y(zone.elevation_deg - zone.radius_deg * np.sin(angle))
    return [np.column_stack([window.x(azimuth + turn), y]) for turn in turns_into(window, azimuth)]


def draw_zone(canvas: Canvas, window: Window, zone: FresnelMark) -> Box | None:
    """The first Fresnel zone to scale, its radius tick and metres; where the figure stands."""
    label: Box | None = None
    for points in zone_shapes(window, zone):
        x, y = points.T
        canvas.shape(points, fill=ink.PAPER, alpha=0.34, clip=window.box, z=11.0)
        canvas.line(x, y, ink.ZONE, case=1.6, clip=window.box, z=11.5)
        tick = 8 * canvas.scale
        canvas.line(
            (x[0] - tick, x[0] + tick), (y[0], y[0]), ink.ZONE, case=1.5, clip=window.box, z=11.6
        )
        label = _zone_figure(canvas, window, zone, float(x.min() + x.max()) / 2) or label
    return label


def shapes_in(window: Window, plate: Plate) -> list[Array]:
    """Edges of all outlines that reach into the window, each (N, 2) px on the sheet."""
    shapes = []
    for silhouette in plate.silhouettes:
        ring = silhouette.rings_deg[0]
        for turn in turns_into(window, ring[:, 0]):
            shapes.append(np.column_stack([window.x(ring[:, 0] + turn), window.y(ring[:, 1])]))
    return shapes


def _zone_figure(canvas: Canvas, window: Window, zone: FresnelMark, x: float) -> Box | None:
    style = canvas.style(ink.LEGEND_TEXT)
    text = figures.metres(zone.radius_m)
    half = width_px(text, style) / 2
    left, top, right, bottom = window.box
    if not left + half < x < right - half:
        return None
    low = float(window.y(zone.elevation_deg - zone.radius_deg)) + 1.3 * style.size
    high = float(window.y(zone.elevation_deg + zone.radius_deg)) - 0.5 * style.size
    baseline = low if low + 0.3 * style.size < bottom else max(high, top + 1.2 * style.size)
    canvas.text(x, baseline, text, style, halo=True, ha="center", z=25.0)
    return x - half, baseline - style.size, x + half, baseline + 0.25 * style.size
