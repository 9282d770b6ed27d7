"""What the pictures of a roof's view need from the photographer: the one place for it.

Figures are the project's own choices where no source is named.
"""

from __future__ import annotations

from typing import Final

FRAMES: Final = (8, 10)
"""Pictures of one turn with a telephone's main camera, held upright or across."""

OVERLAP: Final = 1.0 / 3.0
"""Share of each picture that the next one shows again."""

LEAST_OVERLAP: Final = 0.2
"""With less the frames may not fit together."""

SAME_SPOT_M: Final = 0.1
"""How far the lens may stray between the pictures of a turn: a thing at 30 m then shifts by 0.2 deg
(small angle), about what the joining is good to otherwise."""

SECOND_SPOT_M: Final = 3.0
"""Least way to the second spot, across the doubtful bearing."""

LANDMARKS: Final = 2
"""Least number of things whose place on the map is known, well apart in bearing."""

LANDMARKS_APART_DEG: Final = 60.0
"""How far apart their bearings lie at least."""
