"""The map over the roof: what ``spots --roof`` answers."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
import numpy as np

from skyview.cli.output import about, emit_json, progress, warn, write_table
from skyview.errors import InputError


def map_roof(
    survey: Path,
    heights: tuple[float, ...],
    leaf: Any,
    step_m: float | None,
    picture: Path | None,
    output: Path | None,
    as_json: bool,
) -> None:
    """The map over the roof at one height."""
    from skyview.report.mount_words import refusal_sentence
    from skyview.report.roof_sheet import draw_roof
    from skyview.report.spot_words import CAUTIONS, map_sentence
    from skyview.survey.roof_map import RoofMap, roof_map
    from skyview.survey.scene import USUAL_HEIGHT_M
    from skyview.survey.storage import load

    loaded = load(survey)
    if len(heights) > 1:
        raise InputError("a map has one height", field="--height", mend="give one")
    height = heights[0] if heights else min(USUAL_HEIGHT_M, loaded.limits.unguyed_mast_m)
    step = 0.5 if step_m is None else step_m
    if not step > 0.0:
        raise InputError("a step is more than 0 m", field="--step", mend="give metres")

    def coarse(found: RoofMap) -> None:
        click.echo(f"coarse map: {_best_point(found)}", err=True)
        if picture is not None:
            draw_roof(loaded, found, picture)
            click.echo(f"drew a coarse {picture}; the fine one takes its place", err=True)

    def done(count: int, total: int) -> None:
        click.echo(f"{count} of {total} points computed", err=True)

    with about(survey), progress("mapping the roof"):
        found = roof_map(loaded, step, height, leaf, done, coarse)
    rows = _roof_rows(found)
    if output is not None:
        write_table(output, [{k: v for k, v in row.items() if k != "enu_m"} for row in rows])
    if picture is not None:
        draw_roof(loaded, found, picture)
    if as_json:
        more = {"step_m": found.step_m, "read_error_db": found.error_db}
        emit_json("spots", rows, loaded.revision, found.tally.warnings, CAUTIONS, more)
        return
    click.echo(map_sentence(found))
    click.echo(f"Best point: {_best_point(found)}.")
    reasons = dict.fromkeys(refusal_sentence(r).split(";")[0] for r in found.refused if r)
    for reason in list(reasons)[:3]:
        click.echo(f"refused, for example: {reason}")
    click.echo(CAUTIONS)
    if output is not None:
        click.echo(f"wrote {output}")
    if picture is not None:
        click.echo(f"drew {picture}")
    warn(found.tally.warnings)


def _best_point(found: Any) -> str:
    free = np.array([r is None for r in found.refused])
    if not free.any():
        return "every point is refused"
    at = int(np.argmax(np.where(free, found.tally.worth, -np.inf)))
    east, north, _ = found.points_m[at]
    tally = found.tally
    return (
        f"{east:.1f} m east, {north:.1f} m north: {tally.sure[at]} sure, {tally.likely[at]} likely"
    )


def _roof_rows(found: Any) -> list[dict[str, Any]]:
    """Every point of the map as a row like that of a spot."""
    from skyview.report.mount_words import refusal_sentence

    tally = found.tally
    rows = []
    for p, (point, refused) in enumerate(zip(found.points_m, found.refused, strict=True)):
        free = refused is None
        worst = int(tally.worst_must_have[p]) if free else -1
        chance = tally.probability[p, worst] if worst >= 0 else np.nan
        rows.append(
            {
                "spot": None,
                "east_m": round(float(point[0]), 2),
                "north_m": round(float(point[1]), 2),
                "up_m": round(float(point[2]), 2),
                "enu_m": [round(float(v), 2) for v in point],
                "antenna_height_m": found.height_m,
                "sure": int(tally.sure[p]) if free else None,
                "likely": int(tally.likely[p]) if free else None,
                "worst_must_have": tally.stations[worst] if worst >= 0 else None,
                "worst_probability": float(chance) if np.isfinite(chance) else None,
                "refused": None if free else refusal_sentence(refused),
                "expected": float(tally.expected[p]) if free else None,
                "computed": bool(found.computed[p]),
            }
        )
    return rows
