"""What every heading of an antenna brings, ahead of the hand that turns it."""

from __future__ import annotations

from typing import Any

import numpy as np

from skyview.angles import Array
from skyview.survey.aims import STEP_DEG, heard_at
from skyview.survey.budget.judged import Judged, judged
from skyview.survey.budget.listen import middle
from skyview.survey.budget.parts import Bools
from skyview.survey.budget.words import reception_word
from skyview.survey.models import Survey
from skyview.survey.scene import Leaf
from skyview.workbench.answers import Answers

_TABLES = ("reception", "reception_probability", *(f"margin_p{n}_db" for n in (10, 50, 90)))


def turns_message(
    answers: Answers,
    survey: Survey,
    place: tuple[str, float],
    leaf: Leaf,
    antenna: str | None,
) -> dict[str, Any]:
    """Receptions and margins by heading at one ``place`` (spot, height in metres), interference and
    overload included.

    No headings where the antenna named is not heard there alone: another one serves the place, or
    two share a downlead.
    """
    spot, height_m = place
    told = judged(answers.scene(survey, spot, height_m, leaf))
    number = _row_of(told, antenna)
    headings = np.arange(0.0, 360.0, STEP_DEG) if number is not None else np.zeros(0)
    tables: dict[str, Any] = {table: [] for table in _TABLES}
    if number is not None:
        tables = _tables(told, np.radians(headings), number)
    return {
        "format": "skyview.aims",
        "version": 1,
        "revision": survey.revision,
        "spot": spot,
        "height_m": height_m,
        "leaf": leaf,
        "antenna": antenna,
        "headings_deg": headings.tolist(),
        "stations": list(told.scene.signals.ids),
        **tables,
    }


def _row_of(told: Judged, antenna: str | None) -> int | None:
    """Which downlead's antenna is turned; None where the one that is named is not heard alone."""
    paired = {a.id for a in told.scene.survey.antennas if a.combined_with}
    names = [row.gears[row.at[0]].name for row in told.kit.rows]
    if antenna not in names or antenna in paired:
        return None
    return names.index(antenna)


def _tables(told: Judged, headings: Array, number: int) -> dict[str, Any]:
    """Tables [heading][station]; ``headings`` [rad]."""
    heard = heard_at(told, 0, headings, number)
    chance, wanted = heard.probability, told.scene.signals.wanted
    known = wanted & ~np.isnan(chance)
    seen = told.scene.photographed[0]
    words = [
        [reception_word(p, bool(k and s)) for p, k, s in zip(line, ok, seen, strict=True)]
        for line, ok in zip(chance.tolist(), known.tolist(), strict=True)
    ]
    low, high = np.percentile(heard.margin_db, [10.0, 90.0], axis=0)
    return {
        "reception": words,
        "reception_probability": _listed(chance, known, 3),
        "margin_p10_db": _listed(low, known, 2),
        "margin_p50_db": _listed(middle(heard.margin_db), known, 2),
        "margin_p90_db": _listed(high, known, 2),
    }


def _listed(values: Array, known: Bools, digits: int) -> list[list[float | None]]:
    told = np.round(values, digits).astype(object)
    told[~known] = None
    return [list(line) for line in told.tolist()]
