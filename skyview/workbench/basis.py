"""What an answer rests on: a digest that stays as it is where a change cannot alter the answer."""

from __future__ import annotations

import hashlib

from skyview.survey.models import Survey

_NEVER = {"revision", "title", "promises", "scans"}
"""No path depends on these."""

_HEARD = {"antennas", "receiver"}
"""What is heard depends on these, the waves that arrive do not."""

_ALLOWED = {"limits"}
"""Proposals depend on these, and what is refused."""


def answer_basis(survey: Survey) -> str:
    """Of everything that is told of stations."""
    return _digest(survey, _NEVER)


def heard_basis(survey: Survey) -> str:
    """Of paths and receptions at a place, whatever is allowed there."""
    return _digest(survey, _NEVER | _ALLOWED)


def scene_basis(survey: Survey) -> str:
    """Of the waves that arrive at a place, whatever antenna hears them."""
    return _digest(survey, _NEVER | _ALLOWED | _HEARD)


def _digest(survey: Survey, without: set[str]) -> str:
    return hashlib.sha256(survey.model_dump_json(exclude=without).encode()).hexdigest()[:16]
