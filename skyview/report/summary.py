"""What an assessment says, in sentences that an installer reads on the spot."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from typing import TypeVar

from skyview.report.figures import number
from skyview.report.reception_words import RECEPTION_WORDS, cure_action
from skyview.report.words import PATH_WORDS, loss, path_word
from skyview.survey.results import PathRow

Word = TypeVar("Word", bound=str)

CAUTIONS = (
    "Keep away from the roof's edge, tie yourself and the ladder, and mind the weather.",
    "Look for power lines first and keep mast, antenna and ladder clear of them.",
    "Mast and coax are bonded to the building's grounding electrode system; local codes and "
    "licensed practice decide.",
)
"""The usual cautions: common practice, no source."""

FIRST_CURE = "What would help first:"


def counted_words(rows: Sequence[PathRow]) -> str:
    """How many paths have which word.

    >>> counted_words([])
    'no stations'
    """
    return _counted([row.path for row in rows], PATH_WORDS, path_word)


def counted_receptions(rows: Sequence[PathRow]) -> str:
    """How many stations come in how surely.

    >>> counted_receptions([])
    'no stations'
    """
    return _counted([row.reception for row in rows], RECEPTION_WORDS, str)


def _counted(found: Sequence[Word], words: Sequence[Word], text: Callable[[Word], str]) -> str:
    count = Counter(found)
    parts = [f"{count[word]} {text(word)}" for word in words if count[word]]
    return ", ".join(parts) or "no stations"


def why(row: PathRow) -> str:
    """One or two sentences about one station: reception, what stands there, the first cure."""
    text = f"{row.station} (channel {row.rf_channel}, {number(row.frequency_mhz)} MHz): reception "
    if row.path == "not_seen":
        text += f"{row.reception}: outside every picture, photograph towards {row.bearing_deg:.0f}°"
    elif row.obstruction is None:
        text += f"{row.reception}; nothing is marked near its path"
    elif row.path == "clear":
        text += f"{row.reception}; its near path is clear"
    else:
        text += f"{row.reception}; near path {path_word(row.path)}: what stands there costs "
        text += f"{loss(row)}, above all {row.obstruction}"
    if row.beyond_horizon:
        text += "; it lies beyond the horizon"
    if row.unseen_behind:
        text += "; what stands behind the outline was never seen"
    cures = [cure for cure in row.cures if cure.code != "none_on_this_roof"]
    first = f" {FIRST_CURE} {cure_action(cures[0])}" if cures else ""
    return f"{text}.{first}"


def changes(low: Sequence[PathRow], high: Sequence[PathRow]) -> list[str]:
    """What a higher mast on the same spot changes, a sentence a station."""
    before = {row.station: row for row in low}
    return [
        f"{row.station}: {before[row.station].reception} at "
        f"{number(before[row.station].antenna_height_m, 1)} m, {row.reception} at "
        f"{number(row.antenna_height_m, 1)} m."
        for row in high
        if row.station in before and before[row.station].reception != row.reception
    ]


def summary(rows: Sequence[PathRow], must_have: Sequence[str]) -> str:
    """The whole survey in a few lines: each position counted, then the highest of each spot."""
    positions = list(dict.fromkeys((row.spot, row.antenna_height_m) for row in rows))
    by_position = {
        p: [row for row in rows if (row.spot, row.antenna_height_m) == p] for p in positions
    }
    lines = [
        f"{spot}, antenna {number(height, 1)} m above it: {counted_receptions(at)}; near paths "
        f"{counted_words(at)}"
        for (spot, height), at in by_position.items()
    ]
    for spot in dict.fromkeys(spot for spot, _ in positions):
        heights = sorted(height for name, height in positions if name == spot)
        if len(heights) > 1:
            moved = changes(by_position[spot, heights[0]], by_position[spot, heights[-1]])
            lines += [f"  higher on {spot} changes {sentence}" for sentence in moved]
    first = positions[0][0]
    top = by_position[first, max(height for name, height in positions if name == first)]
    lines += ["", f"From {first}, {number(top[0].antenna_height_m, 1)} m up:"]
    wanted = [row for row in top if row.station in must_have]
    other = [row for row in top if row.station not in must_have and row.reception != "sure"]
    lines += [f"  must have: {why(row)}" for row in wanted]
    lines += [f"  {why(row)}" for row in other]
    return "\n".join(lines)
