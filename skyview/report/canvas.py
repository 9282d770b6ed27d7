"""A sheet measured in px from its upper left corner, y down, on matplotlib's Figure.

Nothing here knows of antennas. Sizes that a caller gives are px at scale 1; the canvas multiplies
them by its scale. Places are px as they are.
"""

from __future__ import annotations

import io
import re
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Literal
from xml.sax.saxutils import escape

import matplotlib
import numpy as np
from matplotlib.artist import Artist
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle
from matplotlib.patheffects import Stroke
from matplotlib.typing import CapStyleType
from numpy.typing import ArrayLike

from skyview.report import ink
from skyview.report.lettering import PT_PER_PX, Style, printable

FileFormat = Literal["png", "svg", "pdf"]
Box = tuple[float, float, float, float]
"""Left, top, right, bottom. [px]"""

_PX_PER_INCH = 100
_SETTINGS: dict[Any, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "skyview",
    "pdf.fonttype": 42,
    "text.hinting": "no_hinting",  # so that letters are as wide as measured
}
_one_at_a_time = threading.Lock()


class Canvas:
    """Draws lines, shapes, pictures and text; ``save`` gives the finished file's bytes."""

    def __init__(
        self, width: int, scale: float, file_format: FileFormat, ground: str = ink.PAPER
    ) -> None:
        self.width = width
        self.scale = scale
        self._format = file_format
        self._halos = 0
        self._figure = Figure(figsize=(width / _PX_PER_INCH, 1), dpi=_PX_PER_INCH)
        self._ground = ground
        self._figure.set_facecolor(ground)
        self._axes = self._figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self._axes.set_axis_off()
        self._axes.set_autoscale_on(False)
        self._axes.set_xlim(0, width)

    def _points(self, size: float) -> float:
        return size * self.scale * PT_PER_PX

    def style(
        self, size: float, face: ink.Face = "sans", bold: bool = False, italic: bool = False
    ) -> Style:
        """A style whose size is given at scale 1 and carried to this canvas."""
        return Style(size * self.scale, face, bold, italic)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        style: Style,
        *,
        colour: str = ink.INK,
        halo: bool = False,
        ha: Literal["left", "center", "right"] = "left",
        z: float = 30.0,
    ) -> None:
        """One line of text, its baseline at ``y``; ``halo`` lays a paper seam round the letters."""
        text = printable(text, style)
        if not text:
            return

        def lay(**more: Any) -> None:
            self._axes.text(
                x,
                y,
                text,
                fontproperties=style.properties(),
                color=colour,
                ha=ha,
                va="baseline",
                parse_math=False,
                **more,
            )

        if halo and self._format == "svg":
            self._halos += 1
            lay(zorder=z, gid=f"halo-{self._halos}")
            return
        if halo:
            seam = Stroke(linewidth=self._points(ink.HALO), foreground=ink.PAPER, joinstyle="round")
            lay(zorder=z - 0.01, path_effects=[seam])
        lay(zorder=z)

    def line(
        self,
        xs: ArrayLike,
        ys: ArrayLike,
        weight: float,
        *,
        colour: str = ink.INK,
        case: float = 0.0,
        dash: Sequence[float] | None = None,
        cap: CapStyleType = "butt",
        alpha: float = 1.0,
        clip: Box | None = None,
        z: float = 10.0,
    ) -> None:
        """A line through points; ``case`` is the paper seam on each side of it."""
        passes = [(weight, colour, dash, z)]
        if case:
            passes.insert(0, (weight + 2 * case, ink.PAPER, None, z - 0.1))
        for width, shade, dashes, order in passes:
            line = Line2D(
                np.asarray(xs, float),
                np.asarray(ys, float),
                linewidth=self._points(width),
                color=shade,
                alpha=alpha,
                zorder=order,
                solid_capstyle=cap if shade == colour else "round",
                dash_capstyle=cap,
                solid_joinstyle="round",
                dash_joinstyle="round",
            )
            if dashes:
                line.set_linestyle((0, [length / weight for length in dashes]))
            self._axes.add_line(line)
            self._cut(line, clip)

    def shape(
        self,
        points: ArrayLike,
        *,
        fill: str,
        alpha: float = 1.0,
        clip: Box | None = None,
        z: float = 10.0,
    ) -> None:
        """A filled polygon (N, 2) without a rim."""
        patch = Polygon(
            np.asarray(points, float), closed=True, fc=fill, ec="none", alpha=alpha, zorder=z
        )
        self._axes.add_patch(patch)
        self._cut(patch, clip)

    def box(
        self,
        box: Box,
        *,
        fill: str | None = None,
        rim: str | None = None,
        weight: float = 1.0,
        alpha: float = 1.0,
        z: float = 10.0,
    ) -> None:
        """A rectangle."""
        left, top, right, bottom = box
        self._axes.add_patch(
            Rectangle(
                (left, top),
                right - left,
                bottom - top,
                fc=fill or "none",
                ec=rim or "none",
                linewidth=self._points(weight) if rim else 0.0,
                alpha=alpha,
                zorder=z,
                joinstyle="miter",
            )
        )

    def picture(self, rgb: np.ndarray, box: Box, z: float = 1.0) -> None:
        """A picture (H, W, 3) uint8 that fills a box."""
        left, top, right, bottom = box
        self._axes.imshow(
            rgb, extent=(left, right, bottom, top), interpolation="none", aspect="auto", zorder=z
        )
        self._axes.set_xlim(0, self.width)

    def steps(
        self,
        xs: ArrayLike,
        ys: ArrayLike,
        heights: np.ndarray,
        levels: Sequence[float],
        *,
        fill: str,
        alphas: Sequence[float],
        clip: Box,
        z: float = 2.0,
    ) -> list[list[np.ndarray]]:
        """One colour laid thicker at each level over a grid of heights (rows, columns).

        ``alphas[i]`` is the opacity from ``levels[i]`` to the next, the last one from the last
        level on; NaN stays bare. Gives back the lines (N, 2) at every level.
        """
        known = np.ma.masked_invalid(heights)
        bands = self._axes.contourf(
            xs,
            ys,
            known,
            levels=[*levels, np.inf],
            colors=[(fill, alpha) for alpha in alphas],
            zorder=z,
        )
        self._cut(bands, clip)
        lines = self._axes.contour(xs, ys, known, levels=list(levels))
        found = [[np.asarray(line) for line in level if len(line) > 1] for level in lines.allsegs]
        lines.remove()
        self._axes.set_xlim(0, self.width)
        return found

    def _cut(self, artist: Artist, clip: Box | None) -> None:
        if clip is not None:
            left, top, right, bottom = clip
            artist.set_clip_path(
                Rectangle((left, top), right - left, bottom - top, transform=self._axes.transData)
            )

    def save(self, height: float, title: str, description: str) -> bytes:
        """The file's bytes for a sheet of this height; ``title`` and ``description`` go along.

        The same drawing gives the same bytes: no date is written.
        """
        rows = round(height)
        # the raster's size is truncated; a little more keeps it from losing a row or column
        nudge = 1e-6 if self._format == "png" else 0.0
        self._figure.set_size_inches(
            (self.width + nudge) / _PX_PER_INCH, (rows + nudge) / _PX_PER_INCH
        )
        self._axes.set_ylim(rows, 0)
        facts: dict[str, str | None] = {"Title": title}
        if self._format == "svg":
            facts |= {"Creator": "skyview", "Date": None, "Description": description}
        elif self._format == "pdf":
            facts |= {"Creator": "skyview", "Subject": description, "CreationDate": None}
        else:
            facts |= {"Software": "skyview", "Description": description}
        out = io.BytesIO()
        self._figure.savefig(
            out, format=self._format, dpi=_PX_PER_INCH, facecolor=self._ground, metadata=facts
        )
        if self._format == "svg":
            return self._finished_svg(out.getvalue().decode(), rows, description).encode()
        return out.getvalue()

    def _finished_svg(self, svg: str, height: int, description: str) -> str:
        """The size in px instead of points, and what matplotlib leaves out.

        That is the description, and halos that keep text as text.
        """
        seam = (
            f"paint-order: stroke; stroke: {ink.PAPER}; stroke-linejoin: round; "
            f"stroke-width: {self._points(ink.HALO):.2f}; "
        )
        svg = re.sub(r'(<g id="halo-\d+">\s*<text style=")', rf"\g<1>{seam}", svg)
        svg = svg.replace("</title>", f"</title>\n <desc>{escape(description)}</desc>", 1)
        size = f'width="{self.width}" height="{height}"'
        svg = re.sub(r'width="[\d.]+pt" height="[\d.]+pt"', size, svg, count=1)
        return svg.replace("<svg ", '<svg role="img" ', 1)


@contextmanager
def drawing_settings() -> Iterator[None]:
    """Holds matplotlib to its own defaults and ours while a picture is drawn.

    matplotlib keeps these settings for the whole process, so one picture is drawn at a time and
    the former settings come back afterwards.
    """
    with _one_at_a_time, matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_SETTINGS)
        yield
