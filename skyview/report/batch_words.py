"""What is said about a drawer of surveys held against a new list of stations."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from skyview.report.table import one_line
from skyview.survey.batch.drawer import Effect, Move

SHOWN = 20
"""Surveys that are told one by one of each kind; the rest are counted."""

COUNTED = (
    "A survey gets worse or better by the words of its stations where its antenna stands; without "
    "an antenna, at every spot and height. One may do both. A station that the list does not name "
    "counts as no. Reception is told for the whole way; near path is the last few hundred metres."
)


def count_sentence(surveys: int, effects: Mapping[str, Effect], failed: int, file: str) -> str:
    """How many surveys there are and how many the list changes.

    >>> count_sentence(3, {"a": Effect((Move("Q", "sure", "no"),), (), ()),
    ...                    "b": Effect((), (), ())}, 1, "new.csv")
    '3 surveys against new.csv: 1 gets worse, 1 stays as it is, 1 failed.'
    """
    worse = sum(bool(effect.worse) for effect in effects.values())
    better = sum(bool(effect.better) for effect in effects.values())
    unclear = sum(bool(effect.unclear) for effect in effects.values())
    same = sum(not (e.worse or e.better or e.unclear) for e in effects.values())
    parts = [
        (worse, "gets worse", "get worse"),
        (better, "gets better", "get better"),
        (unclear, "has words to or from unknown", "have words to or from unknown"),
        (same, "stays as it is", "stay as they are"),
        (failed, "failed", "failed"),
    ]
    told = ", ".join(
        f"{count} {one if count == 1 else many}" for count, one, many in parts if count
    )
    return f"{surveys} survey{'' if surveys == 1 else 's'} against {one_line(file)}: {told}."


def effect_lines(effects: Mapping[str, Effect], kind: str) -> list[str]:
    """A line for each survey that gets ``worse`` or ``better``, or is ``unclear``.

    >>> effect_lines({"north/7": Effect((Move("Q", "sure", None),), (), ())}, "worse")
    ['worse: north/7: Q sure → not listed']
    """
    changed = [(name, getattr(effect, kind)) for name, effect in effects.items()]
    lines = [
        f"{kind}: {one_line(name)}: {', '.join(map(_move, moves))}"
        for name, moves in changed
        if moves
    ]
    return shortened(lines)


def shortened(lines: Sequence[str]) -> list[str]:
    """The first lines, and how many more there are."""
    more = len(lines) - SHOWN
    return [*lines[:SHOWN], *([f"... and {more} more"] if more > 0 else [])]


def photo_sentence(survey: str, photos: Sequence[str]) -> str:
    """That a survey was evaluated without some of its photographs.

    >>> photo_sentence("north/7", ["photos/v1.jpg"])[:39]
    'north/7: photos/v1.jpg is missing; the '
    """
    verb = "is" if len(photos) == 1 else "are"
    return (
        f"{survey}: {', '.join(photos)} {verb} missing; the answer rests on the marks and outlines "
        "that were made there."
    )


def progress_line(done: int, surveys: int, failed: int, left_s: float | None) -> str:
    """How far the work is.

    >>> progress_line(3, 24, 1, 90.0)
    '3 of 24 surveys, 1 failed, about 2 min left'
    """
    text = f"{done} of {surveys} surveys"
    if failed:
        text += f", {failed} failed"
    if left_s is not None:
        text += f", about {max(1, round(left_s / 60))} min left" if left_s >= 60.0 else ""
    return text


def _move(move: Move) -> str:
    return f"{one_line(move.station)} {move.old or 'not listed'} → {move.new or 'not listed'}"
