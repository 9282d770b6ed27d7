"""The roof card: one side that goes up in a pocket."""

from __future__ import annotations

from skyview.report.papers import wording
from skyview.report.papers.blocks import Caution, Columns, Heading, Paper, Steps, Table


def card() -> Paper:
    """What to photograph and measure on the roof.

    >>> card().title
    'On the roof: what to photograph and measure'
    """
    cautions = [Caution(text, heading) for heading, text in wording.CARD_CAUTIONS.values()]
    heads, count = wording.CARD_BLANKS
    left = (
        Heading(wording.CARD_FIRST),
        Steps(wording.CARD_STEPS_FIRST),
        cautions[1],
        Heading(wording.CARD_DISTANCES),
        Steps(wording.CARD_STEPS_DISTANCES),
    )
    right = (
        cautions[0],
        Heading(wording.CARD_PICTURES),
        Steps(wording.card_steps_pictures()),
        Heading(wording.CARD_BEFORE_DOWN),
        Steps(wording.CARD_STEPS_DOWN),
    )
    blank = Table(
        heads,
        (("",) * len(heads),) * count,
        caption=wording.CARD_NOTED,
        widths=(3.0, 2.0, 3.0, 2.0),
    )
    return Paper(
        wording.CARD_TITLE,
        wording.CARD_LEAD,
        (Columns((left, right)), blank),
        foot=wording.FOOT,
        type_size="large",
    )
