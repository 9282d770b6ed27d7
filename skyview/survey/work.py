"""What the installer is told: the place, whether it is refused, the aim, what the budget asks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from skyview.errors import InputError
from skyview.survey.aiming import AimRow, aims_of
from skyview.survey.handover import Handover
from skyview.survey.refusals import Refusal, antenna_length_m, refusals
from skyview.survey.roof_edges import FromEdges, from_edges

WORTH_DB = 3.0
"""A preamplifier that brings less is not asked for: our own choice."""


@dataclass(frozen=True)
class Work:
    """One antenna to put up."""

    told: Handover
    refused: Refusal | None
    """Why the place is refused; None too where nobody looked for power lines."""
    edges: FromEdges | None
    """None where no roof is given."""
    aim: AimRow | None
    """As the survey sets it, else the best; None where it cannot be told."""
    preamplifier_for: tuple[str, ...]
    """Stations that ask for a preamplifier that the survey does not have."""
    filter_too: bool
    """A filter goes before it."""
    ground_m: float | None
    """From the mast's foot to the grounding point, straight. [m]"""


def work_of(told: Handover) -> Work:
    """The job at the antenna that the customer was told of."""
    survey = told.survey
    spot = next(s for s in survey.spots if s.id == told.spot)
    foot = np.array([spot.enu_m], float)
    refused = None
    if survey.limits.lines_checked:
        length = np.array([antenna_length_m(survey, told.spot)])
        refused = refusals(survey, foot, np.array([told.height_m]), length)[0]
    asking = [
        (why.row.station, cure)
        for why in told.whys
        for cure in why.row.cures
        if cure.code == "preamplifier" and cure.gain_db >= WORTH_DB and not cure.costs
    ]
    earth = survey.limits.ground_point_enu_m
    return Work(
        told=told,
        refused=refused,
        edges=from_edges(survey, told.spot),
        aim=_aim(told),
        preamplifier_for=tuple(name for name, _ in asking),
        filter_too=any("cellular" in cure.cautions for _, cure in asking),
        ground_m=None if earth is None else float(np.linalg.norm(np.array(earth) - foot[0])),
    )


def _aim(told: Handover) -> AimRow | None:
    try:
        found = aims_of(told.survey, spot=told.spot, height_m=told.height_m)
    except InputError:
        return None
    by_purpose = {row.purpose: row for row in found.rows}
    best = by_purpose.get("as_set") or by_purpose.get("must_have") or by_purpose.get("count")
    return best
