"""A scene with its antennas: who is heard how well, and by which antenna."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.survey.budget.kit import Kit, kit_of
from skyview.survey.budget.listen import Air, Heard, best_of, listen
from skyview.survey.budget.parts import Bools
from skyview.survey.scene import Scene, air_in


@dataclass(frozen=True)
class Judged:
    """The answers of a scene before they become rows. (D draws, A positions, S stations)"""

    scene: Scene
    kit: Kit
    air: Air
    each: tuple[Heard, ...]
    """By row of the kit."""
    heard: Heard
    """Each path by the antenna that serves it best."""
    which: NDArray[np.intp]
    """Row of the kit with that antenna. (A, S)"""

    @property
    def probability(self) -> Array:
        """Of reception; NaN where power or threshold is unknown. (A, S)"""
        return self.heard.probability

    @property
    def median_db(self) -> Array:
        """The middle of the margin's draws; NaN where unknown. (A, S)"""
        return self.heard.median_db

    @property
    def told(self) -> Bools:
        """Wanted stations whose reception is told at all: known and seen. (A, S)"""
        seen = self.scene.photographed
        return self.scene.signals.wanted & ~np.isnan(self.probability) & seen


def judged(scene: Scene) -> Judged:
    """The scene with the survey's own antennas."""
    kit = kit_of(scene.survey, scene.places, scene.signals)
    air = air_in(scene)
    each = tuple(listen(air, row) for row in kit.rows)
    heard, which = best_of(each)
    return Judged(scene, kit, air, each, heard, which)
