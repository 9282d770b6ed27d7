"""Which frame shows which part of the panorama, and what evens their exposures.

All of it happens on a small panorama: gains by least squares over the overlaps, seams by graph
cut where the frames look alike (so that what moved is cut round), and for every frame a smooth
correction that brings its large-scale light to that of its neighbours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.sweep.adjust import Cameras
from skyview.sweep.canvas import Canvas, border, through_lens
from skyview.sweep.scout import Scout

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]

_MARGIN = 2
"""Small pixels that a frame keeps between its edge and what it shows."""

_GAIN_SIGMA, _MISFIT_SIGMA = 0.35, 0.06
_DARKEST, _BRIGHTEST = 6.0, 247.0
_SMOOTH_SHARE = 0.0175
"""Width (one sigma) of the smooth correction, as a share of a whole turn."""
_COARSER = 4
_MOST_CORRECTION = 0.3


@dataclass(frozen=True)
class Recipe:
    """How the panorama is mixed, on the small canvas."""

    canvas: Canvas
    weight: list[Floats]
    """Per frame, (h, w, 3): its share times its gain."""
    filling: Floats
    """(h, w, 3): what stands where no frame looks, times its share there."""
    uncovered: float
    """Share of the panorama where no frame looks."""


@dataclass(frozen=True)
class _Laid:
    """A frame on the small canvas, in a box whose columns may run past either end."""

    x: int
    y: int
    picture: Floats
    valid: Mask


def recipe(scouts: Sequence[Scout], cameras: Cameras, canvas: Canvas) -> Recipe:
    """Gains, seams and corrections of levelled frames on a small canvas."""
    laid = [_laid(scout, cameras, index, canvas) for index, scout in enumerate(scouts)]
    whole = [_on_canvas(f.picture, f, canvas) for f in laid]
    valid = [_on_canvas(f.valid.astype(np.float32)[..., None], f, canvas)[..., 0] for f in laid]
    gains = _gains(whole, valid)
    for index, gain in enumerate(gains):
        whole[index] *= gain
        laid[index] = _Laid(
            laid[index].x, laid[index].y, laid[index].picture * gain, laid[index].valid
        )
    shares = _feathered(_seams(laid, canvas), canvas)
    smooth = _corrections(whole, valid, canvas)
    weight = [
        (share[..., None] * gain * even).astype(np.float32)
        for share, gain, even in zip(shares, gains, smooth, strict=True)
    ]
    covered = np.minimum(np.sum(shares, axis=0), 1.0)
    mixed = np.zeros((canvas.height, canvas.width, 3), np.float32)
    for share, picture, even in zip(shares, whole, smooth, strict=True):
        mixed += share[..., None] * picture * even
    filling = _continued(mixed, covered) * (1.0 - covered)[..., None]
    return Recipe(canvas, weight, filling.astype(np.float32), float((covered < 0.5).mean()))


def _laid(scout: Scout, cameras: Cameras, frame: int, canvas: Canvas) -> _Laid:
    """A thumbnail drawn on the canvas, with the part of it that is inside the frame."""
    axis = float(np.arctan2(*cameras.axes[frame, 2, :2]))
    reach = _half_width(scout, cameras, frame)
    per_rad = canvas.per_rad
    x = int(np.floor((axis + np.pi - reach) * per_rad)) - canvas.left_px
    width = int(np.ceil(2.0 * reach * per_rad)) + 2
    width = min(width, canvas.full_px)
    columns, rows = np.meshgrid(x + np.arange(width) + 0.5, np.arange(canvas.height) + 0.5)
    place = through_lens(cameras, frame, canvas.rays(columns, rows))
    height_px, width_px = scout.thumb.shape[:2]
    scale = width_px / scout.size_px[0]
    size = np.array([width_px, height_px], float)
    place = place * scale + size / 2.0
    with np.errstate(invalid="ignore"):
        inside = np.all((place >= 0.0) & (place <= size), axis=-1)
    maps = np.nan_to_num(place - 0.5, nan=-1e4).clip(-1e4, 1e4).astype(np.float32)
    picture = cv2.remap(
        scout.thumb, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    used = np.flatnonzero(inside.any(axis=1))
    top, bottom = (int(used[0]), int(used[-1]) + 1) if used.size else (0, 1)
    return _Laid(x, top, picture[top:bottom].astype(np.float32), inside[top:bottom])


def _half_width(scout: Scout, cameras: Cameras, frame: int) -> float:
    ring = border(scout.size_px)
    ray = cameras.rays(np.full(len(ring), frame), ring)
    turn = np.arctan2(ray[:, 0], ray[:, 1]) - np.arctan2(*cameras.axes[frame, 2, :2])
    return float(np.abs(np.remainder(turn + np.pi, 2.0 * np.pi) - np.pi).max())


def _on_canvas(picture: Floats, box: _Laid, canvas: Canvas) -> Floats:
    """A boxed picture on the whole canvas, wrapped round; zero elsewhere."""
    out = np.zeros((canvas.height, canvas.width, picture.shape[2]), np.float32)
    columns = box.x + np.arange(picture.shape[1])
    if canvas.closed:
        columns = np.mod(columns, canvas.width)
    inside = (columns >= 0) & (columns < canvas.width)
    out[box.y : box.y + picture.shape[0], columns[inside]] = picture[:, inside]
    return out


def _gains(whole: list[Floats], valid: list[Floats]) -> list[Floats]:
    """A factor per frame and channel that evens the overlaps, all of them about one."""
    count = len(whole)
    # Every third pixel each way tells as much.
    whole, valid = ([p[::3, ::3] for p in parts] for parts in (whole, valid))
    fair = [
        (v > 0.5) & np.all((p > _DARKEST) & (p < _BRIGHTEST), axis=-1)
        for p, v in zip(whole, valid, strict=True)
    ]
    logs = [np.log(np.maximum(p, 1.0)) for p in whole]
    square = np.zeros((count, count)) + np.eye(count) / _GAIN_SIGMA**2
    pull = np.zeros((count, 3))
    for i in range(count):
        for j in range(i + 1, count):
            both = fair[i] & fair[j]
            number = int(both.sum())
            if number < 10:
                continue
            apart = np.median(logs[i][both] - logs[j][both], axis=0)
            weight = min(number, 200) / 200.0 / _MISFIT_SIGMA**2
            square[[i, j], [i, j]] += weight
            square[[i, j], [j, i]] -= weight
            pull[i] -= weight * apart
            pull[j] += weight * apart
    found = np.linalg.solve(square, pull)
    return [np.exp(g).astype(np.float32) for g in found]


def _seams(laid: list[_Laid], canvas: Canvas) -> list[Mask]:
    """Which frame shows which pixel: masks on the canvas that do not overlap."""
    boxes = list(laid)
    source = list(range(len(laid)))
    cut = 0
    masks = [_inner(box) for box in boxes]
    if canvas.closed:
        first = min(range(len(laid)), key=lambda k: laid[k].x + laid[k].picture.shape[1] / 2)
        cut = laid[first].x + laid[first].picture.shape[1] // 2
        for k, box in enumerate(laid):
            if box.x < cut and box.x + canvas.width < cut + canvas.width:
                boxes.append(_Laid(box.x + canvas.width, box.y, box.picture, box.valid))
                masks.append(masks[k].copy())
                source.append(k)
        _hold_cut(boxes, masks, source, first, (cut, cut + canvas.width))
    corners = [(box.x, box.y) for box in boxes]
    finder: Any = cv2.detail.GraphCutSeamFinder("COST_COLOR")
    pictures: list[Any] = [box.picture for box in boxes]
    cut_masks = finder.find(pictures, corners, [255 * m.astype(np.uint8) for m in masks])
    answer = [np.zeros((canvas.height, canvas.width), bool) for _ in laid]
    taken = np.zeros((canvas.height, canvas.width), bool)
    for box, mask, k in zip(boxes, cut_masks, source, strict=True):
        values = np.asarray(mask.get() if hasattr(mask, "get") else mask)
        columns = box.x + np.arange(values.shape[1])
        if canvas.closed:
            inside = (columns >= cut) & (columns < cut + canvas.width)
            columns = np.mod(columns, canvas.width)
        else:
            inside = (columns >= 0) & (columns < canvas.width)
        rows = slice(box.y, box.y + values.shape[0])
        part = values[:, inside] > 127
        new = part & ~taken[rows, columns[inside]]
        answer[k][rows, columns[inside]] |= new
        taken[rows, columns[inside]] |= part
    return answer


def _inner(box: _Laid) -> Mask:
    """The frame without a margin at its edge."""
    padded = np.pad(box.valid.astype(np.uint8), _MARGIN)
    size = 2 * _MARGIN + 1
    eroded = cv2.erode(padded, np.ones((size, size), np.uint8))
    return np.asarray(eroded[_MARGIN:-_MARGIN, _MARGIN:-_MARGIN] > 0)


def _hold_cut(
    boxes: list[_Laid], masks: list[Mask], source: list[int], first: int, cuts: tuple[int, int]
) -> None:
    """About the column where the circle was cut open only one frame may show, where it can."""
    for cut in cuts:
        own = next(
            b
            for b, k in enumerate(source)
            if k == first and boxes[b].x <= cut < boxes[b].x + masks[b].shape[1]
        )
        for column in range(cut - 2, cut + 2):
            shown = np.zeros(10**5, bool)
            at = column - boxes[own].x
            if not 0 <= at < masks[own].shape[1]:
                continue
            rows = masks[own][:, at]
            shown[boxes[own].y : boxes[own].y + rows.size] = rows
            for b, box in enumerate(boxes):
                place = column - box.x
                if b != own and 0 <= place < masks[b].shape[1]:
                    height = masks[b].shape[0]
                    masks[b][:, place] &= ~shown[box.y : box.y + height]


def _feathered(masks: list[Mask], canvas: Canvas) -> list[Floats]:
    """Soft shares that add up to one wherever a frame shows."""
    soft = [_blurred(m.astype(np.float32), 1.0, canvas.closed, 3) for m in masks]
    total = np.sum(soft, axis=0)
    shown = np.any(masks, axis=0)
    for share in soft:
        share /= np.maximum(total, 1e-6)
        share *= shown
    return soft


def _blurred(value: Floats, sigma: float, closed: bool, reach: int) -> Floats:
    """Gaussian blur, wrapped round where the canvas closes."""
    if closed:
        pad = np.concatenate([value[:, -reach:], value, value[:, :reach]], axis=1)
        soft = cv2.GaussianBlur(pad, (0, 0), sigma)
        return np.ascontiguousarray(soft[:, reach:-reach])
    return np.asarray(cv2.GaussianBlur(value, (0, 0), sigma))


def _corrections(whole: list[Floats], valid: list[Floats], canvas: Canvas) -> list[Floats]:
    """Per frame a smooth factor (h, w, 3) towards what all frames show together."""
    full = canvas.height, canvas.width
    size = -(-full[1] // _COARSER), -(-full[0] // _COARSER)
    sigma = _SMOOTH_SHARE * canvas.full_px / _COARSER
    reach = min(int(3 * sigma), size[0])
    shown = [cv2.resize(v, size, interpolation=cv2.INTER_AREA) for v in valid]
    small = [
        cv2.resize(p * v[..., None], size, interpolation=cv2.INTER_AREA)
        for p, v in zip(whole, valid, strict=True)
    ]
    depth = [cv2.distanceTransform((v > 0.99).astype(np.uint8), cv2.DIST_L2, 3) for v in shown]
    total = np.maximum(np.sum(depth, axis=0), 1e-6)
    mean = np.zeros_like(small[0])
    for picture, share in zip(small, depth, strict=True):
        mean += picture * (share / total)[..., None]
    answer = []
    for picture, share in zip(small, depth, strict=True):
        inside = (share > 0.0).astype(np.float32)[..., None]
        own = _blurred(picture * inside, sigma, canvas.closed, reach)
        all_ = _blurred(mean * inside, sigma, canvas.closed, reach)
        base = np.maximum(_blurred(inside, sigma, canvas.closed, reach), 1e-3)
        base = base.reshape(*base.shape[:2], 1)
        ratio = (all_ / base + 4.0) / (own / base + 4.0)
        ratio = np.clip(ratio, 1.0 - _MOST_CORRECTION, 1.0 + _MOST_CORRECTION)
        even = cv2.resize(ratio, full[::-1], interpolation=cv2.INTER_LINEAR)
        answer.append(np.asarray(even, np.float32))
    return answer


def _continued(picture: Floats, covered: Array) -> Floats:
    """The colours at the edge of what is covered, carried on up and down and blurred."""
    height, width = covered.shape
    full = covered > 0.99
    any_full = full.any(axis=0)
    top = np.where(any_full, full.argmax(axis=0), height // 2)
    bottom = np.where(any_full, height - 1 - full[::-1].argmax(axis=0), height // 2)
    rows = np.clip(np.arange(height)[:, None], top, bottom)
    carried = picture[rows, np.arange(width)[None, :]]
    soft = cv2.blur(carried, (max(3, width // 60) | 1, 1), borderType=cv2.BORDER_REFLECT)
    return np.asarray(soft, np.float32)
