"""The answer of ``aim``: the best headings at one position, what to point at, what more brings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from skyview.angles import wrap_360_deg
from skyview.errors import InputError
from skyview.survey.aim_extras import Extra, extras
from skyview.survey.aims import (
    Heading,
    Sweep,
    best_heading,
    counted_stations,
    heading_at,
    names_of,
    sweep,
)
from skyview.survey.budget.judged import judged
from skyview.survey.budget.words import LIKELY
from skyview.survey.cameras import declination_of
from skyview.survey.models import Survey
from skyview.survey.pointers import Pointer, markers_at, pointer_to
from skyview.survey.scene import Leaf, scene_of
from skyview.survey.why import position_of

Purpose = Literal["must_have", "count", "as_set"]


@dataclass(frozen=True)
class AimRow:
    """One heading."""

    purpose: Purpose
    """must_have: best for what must be had; count: best for all; as_set: the survey's own."""
    aim_true_deg: float
    """[deg]"""
    aim_magnetic_deg: float
    """The same from magnetic north. [deg]"""
    low_deg: float
    """From here clockwise to `high_deg`, true, no received station it is for loses more than
    1 dB. [deg]"""
    high_deg: float
    """[deg]"""
    low_magnetic_deg: float
    """[deg]"""
    high_magnetic_deg: float
    """[deg]"""
    sure: int
    """Stations that are sure at it, of all that are told."""
    likely: int
    """More that are likely."""
    received: tuple[str, ...]
    """Ids of both."""
    must_have_missed: tuple[str, ...]
    """Stations that must be had and are not likely."""
    point_at: Pointer | None
    """A thing in the photo; None where nothing that is outlined or marked stands near."""


@dataclass(frozen=True)
class Aims:
    """All about the aim at one position."""

    spot: str
    antenna_height_m: float
    antenna: str | None
    """Id of the antenna that is turned; None for the one that planning assumes."""
    rows: tuple[AimRow, ...]
    extras: tuple[Extra, ...]
    """What more than one fixed antenna would bring, against the best heading for the count."""
    sweep: Sweep
    """Every heading."""
    stations: tuple[str, ...]
    """Ids in the order of the sweep's columns."""
    warnings: tuple[str, ...]


def aims_of(
    survey: Survey,
    *,
    spot: str | None = None,
    height_m: float | None = None,
    antenna: str | None = None,
    leaf: Leaf = "in",
) -> Aims:
    """The best single headings at one position, the first antenna's if none is named.

    Raises InputError for an unknown id, where nothing can be said, or where no station can be
    told at all: unknown powers, or directions outside every picture.
    """
    place = position_of(survey, spot, height_m)
    scene = scene_of(survey, spots=[place[0]], heights_m=[place[1]], leaf=leaf)
    told = judged(scene)
    if not told.told[0].any():
        raise InputError(
            "of no station both the power is known and its direction photographed",
            field="stations",
            mend="give erp_kw and system, and photograph towards them",
        )
    names = [row.gears[row.at[0]].name for row in told.kit.rows]
    number = _row_of(names, antenna)
    found = sweep(told, 0, number)
    magnetic = declination_of(survey).declination_deg
    markers = markers_at(survey, scene.screens, scene.cameras, scene.antenna_m[0])
    must = counted_stations(told, 0, only_must_have=True)
    every = counted_stations(told, 0, only_must_have=False)
    single = best_heading(told, 0, found, every, number)
    headings: list[tuple[Purpose, Heading]] = []
    if must.any():
        headings.append(("must_have", best_heading(told, 0, found, must, number)))
    headings.append(("count", single))
    gear = told.kit.rows[number].gears[told.kit.rows[number].at[0]]
    set_to = np.unique(gear.aim[np.isfinite(gear.aim)])
    if set_to.size == 1:
        aim = float(np.degrees(set_to[0]))
        headings.append(("as_set", heading_at(told, 0, found, aim, every, number)))
    musts = np.array([station.must_have for station in scene.stations])

    def row_of(purpose: Purpose, heading: Heading) -> AimRow:
        received = np.nan_to_num(heading.probability) >= LIKELY
        true = heading.aim_deg, heading.low_deg, heading.high_deg
        compass = [float(wrap_360_deg(v - magnetic)) for v in true]
        return AimRow(
            purpose=purpose,
            aim_true_deg=heading.aim_deg,
            aim_magnetic_deg=compass[0],
            low_deg=heading.low_deg,
            high_deg=heading.high_deg,
            low_magnetic_deg=0.0 if heading.anywhere else compass[1],
            high_magnetic_deg=360.0 if heading.anywhere else compass[2],
            sure=heading.sure,
            likely=heading.likely,
            received=tuple(names_of(told, received)),
            must_have_missed=tuple(names_of(told, musts & ~received)),
            point_at=pointer_to(markers, heading.aim_deg),
        )

    return Aims(
        spot=place[0],
        antenna_height_m=place[1],
        antenna=names[number],
        rows=tuple(row_of(purpose, heading) for purpose, heading in headings),
        extras=tuple(extras(told, 0, found, single)),
        sweep=found,
        stations=scene.signals.ids,
        warnings=tuple(dict.fromkeys([*scene.warnings, *told.kit.warnings])),
    )


def _row_of(names: list[str | None], antenna: str | None) -> int:
    """Which downlead's antenna is turned."""
    if antenna is None:
        return 0
    if antenna not in names:
        here = ", ".join(name for name in names if name) or "none"
        raise InputError(
            f"no antenna {antenna} with a downlead of its own stands here",
            field="antennas",
            mend=f"here: {here}",
        )
    return names.index(antenna)
