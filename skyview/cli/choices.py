"""Options that several verbs share, and what they must hold."""

from __future__ import annotations

from collections.abc import Sequence

import click

from skyview.cli.output import NUMBER
from skyview.errors import InputError

SEASON = click.option(
    "--season",
    "--leaf",
    "leaf",
    type=click.Choice(["in", "out"]),
    default="in",
    show_default=True,
    help="Trees in or out of leaf.",
)

SPOTS = click.option(
    "--spot", "spots", multiple=True, metavar="ID", help="Only this spot; may be repeated."
)

HEIGHTS = click.option(
    "--height",
    "heights",
    multiple=True,
    type=NUMBER,
    help="Antenna this high above the spot, instead of the survey's heights; may be repeated. [m]",
)


def checked_heights(heights: Sequence[float]) -> list[float] | None:
    """Heights above a spot, None for those of the survey; InputError for one below 0."""
    if any(height < 0.0 for height in heights):
        raise InputError("that is no height above a spot", field="--height", mend="give metres")
    return list(heights) or None
