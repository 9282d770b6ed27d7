"""The customer's table of figures: what it says stands in the way, by what things cost."""

from __future__ import annotations

from dataclasses import replace

import pytest
from paper_cases import sample
from paper_reading import survey_of

from skyview.report.papers.blocks import Table
from skyview.report.papers.sheet import sheet
from skyview.survey.handover import Handover, handover_of


@pytest.fixture(scope="module")
def told() -> Handover:
    """All stations of the sample."""
    data = sample()
    for station in data["stations"]:
        station["must_have"] = False
    return handover_of(survey_of(data))


def in_the_way(told: Handover) -> dict[str, str]:
    """What the table names for each station, without its distance."""
    (table,) = [block for block in sheet(told, None).blocks if isinstance(block, Table)]
    column = table.heads.index("In the way")
    return {row[0]: row[column].partition(", ")[0] for row in table.rows}


def test_a_clear_path_has_nothing_in_its_way(told: Handover) -> None:
    named = in_the_way(told)
    rows = {why.row.station: why.row for why in told.whys}
    clear = {name for name, row in rows.items() if row.path == "clear"}
    assert {named[name] for name in clear} == {"nothing", "the horizon"}
    assert {"QVEL", "QHES"} <= clear
    assert all(0.5 < max(rows[name].shares_db.values()) < 1.0 for name in ("QVEL", "QHES"))


def test_what_a_weakened_path_loses_most_to_is_named(told: Handover) -> None:
    named = in_the_way(told)
    for why in told.whys:
        if why.row.path in ("blocked", "grazing", "through_trees"):
            assert named[why.row.station] == why.row.obstruction
    assert named["QPEL"] == "apartments"
    assert named["QDUN"] == "not photographed"


@pytest.mark.parametrize(
    ("share_db", "whole_db", "said"),
    [
        (0.9, 0.9, "nothing"),
        (1.1, 0.9, "lattice"),
        (0.3, 1.1, "lattice"),
        (-0.4, 0.0, "nothing"),
    ],
)
def test_a_thing_is_named_from_one_decibel_on(
    told: Handover, share_db: float, whole_db: float, said: str
) -> None:
    (why,) = [why for why in told.whys if why.row.station == "QVEL"]
    row = replace(why.row, shares_db={"lattice": share_db}, obstruction_loss_db=whole_db)
    one = replace(told, whys=(replace(why, row=row),))
    assert in_the_way(one) == {"QVEL": said}
