"""The roof card: one side that goes up in a pocket."""

from __future__ import annotations

from skyview.report.papers.blocks import Caution, Columns, Heading, Paper, Steps, Table
from skyview.report.papers.wording import card as words
from skyview.report.papers.wording import shared


def card() -> Paper:
    """What to photograph and measure on the roof.

    >>> card().title
    'On the roof: what to photograph and measure'
    """
    cautions = [Caution(text, heading) for heading, text in words.CAUTIONS.values()]
    heads, count = words.BLANKS
    left = (
        Heading(words.FIRST),
        Steps(words.STEPS_FIRST),
        cautions[1],
        Heading(words.DISTANCES),
        Steps(words.STEPS_DISTANCES),
    )
    right = (
        cautions[0],
        Heading(words.PICTURES),
        Steps(words.steps_pictures()),
        Heading(words.BEFORE_DOWN),
        Steps(words.STEPS_DOWN),
    )
    blank = Table(
        heads,
        (("",) * len(heads),) * count,
        caption=words.NOTED,
        widths=(3.0, 2.0, 3.0, 2.0),
    )
    return Paper(
        words.TITLE,
        words.LEAD,
        (Columns((left, right)), blank),
        foot=shared.FOOT,
        type_size="large",
    )
