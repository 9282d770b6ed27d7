"""Reception in words: how probable it is that a station comes in."""

from __future__ import annotations

from skyview.survey.results import ReceptionWord

SURE, LIKELY, DOUBTFUL = 0.9, 0.6, 0.2
"""Least probability of each word; below the last it is no."""


def reception_word(probability: float, known: bool) -> ReceptionWord:
    """The word for a probability, 0 to 1; unknown where it is not ``known`` or not seen.

    >>> [reception_word(p, True) for p in (0.95, 0.6, 0.3, 0.0)], reception_word(0.95, False)
    (['sure', 'likely', 'doubtful', 'no'], 'unknown')
    """
    if not known:
        return "unknown"
    if probability >= SURE:
        return "sure"
    if probability >= LIKELY:
        return "likely"
    return "doubtful" if probability >= DOUBTFUL else "no"
