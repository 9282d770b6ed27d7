"""Antennas of a survey that stand where one must not: within reach of a power line."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from skyview.survey.finding import Command, Finding
from skyview.survey.models import Survey
from skyview.survey.refusals import USUAL_LENGTH_M, refusals


def place_findings(survey: Survey, command: Command) -> Iterator[Finding]:
    """One warning for each antenna whose mast could reach a marked line as it falls.

    Where nobody looked for lines that is what is missing, and no place is spoken of.
    """
    feet = {spot.id: spot.enu_m for spot in survey.spots}
    standing = [(a, a.height_m) for a in survey.antennas if a.height_m is not None]
    if not survey.limits.lines_checked or not standing:
        return
    found = refusals(
        survey,
        np.array([feet[antenna.spot] for antenna, _ in standing], float),
        np.array([height for _, height in standing]),
        np.array([antenna.length_m or USUAL_LENGTH_M for antenna, _ in standing]),
    )
    for (antenna, _), refused in zip(standing, found, strict=True):
        if refused is not None and refused.code == "line":
            yield Finding(
                "warning",
                f"antennas.{antenna.id}",
                f"Antenna {antenna.id} stands where its mast might reach the power line "
                f"{refused.thing}, which may run as near as {refused.least_m:.1f} m; ask the "
                "utility before anything is raised, and see what other spots say.",
                f"skyview spots {command.folder}",
            )
