"""The wording: every code has its text, figures are written well."""

from __future__ import annotations

from typing import get_args

import pytest

from skyview.report import words
from skyview.survey.results import PathWord


def test_every_path_word_can_be_read_and_is_explained() -> None:
    assert get_args(PathWord) == words.PATH_WORDS
    for path in words.PATH_WORDS:
        assert "_" not in words.path_word(path)
        assert len(words.path_meaning(path)) > 8


def test_an_unknown_code_names_the_known_ones() -> None:
    with pytest.raises(KeyError, match="whole_way"):
        words.sentence("no such code")


def test_the_near_path_is_told_from_reception() -> None:
    text = words.sentence("whole_way")
    assert "last few hundred metres" in text
    assert "whole way from the transmitter to the set" in text


@pytest.mark.parametrize(
    ("above_m", "said"),
    [
        (1.4, "1.4 m above the camera"),
        (-0.5, "0.5 m below the camera"),
        (0.01, "not as the camera"),
    ],
)
def test_the_caption_tells_how_far_the_antenna_is_from_the_camera(
    above_m: float, said: str
) -> None:
    assert said in words.outlines_caption(above_m)


def test_subtitle_leaves_out_an_unknown_day(make_plate) -> None:
    assert "1 June 2026" in words.subtitle(make_plate())
    assert words.subtitle(make_plate(taken=None, leaf="out")) == (
        "Antenna 3.0 m above “ridge”. Trees out of leaf. "
        "Bearings good to ±0.6°, elevations to ±0.3°."
    )


def test_chosen_sentence_tells_the_side_of_the_edge(make_row) -> None:
    inside = make_row(path="blocked", obstruction="block", clearance_deg=-5.2)
    outside = make_row(path="grazing", obstruction="block", clearance_deg=0.4, unseen=True)
    assert "5.2° inside its outline" in words.chosen_sentence(inside)
    assert "0.4° free of its outline" in words.chosen_sentence(outside)
    assert "never seen" in words.chosen_sentence(outside)
    assert "costs" not in words.chosen_sentence(make_row())


def test_power_lines_are_named_with_their_caution() -> None:
    assert "keep clear" in words.obstruction_name("feeder", "power_line", 20.0)
    text = words.power_line_caution(["feeder", "street"])
    assert "feeder, street" in text
    assert "local code" in text
    assert "licensed" in text


@pytest.mark.parametrize(
    ("count", "text"), [((0, 0), "0 stations in view"), ((1, 1), "1 station in view, 1 outside")]
)
def test_counting(count: tuple[int, int], text: str) -> None:
    assert words.counted(*count).startswith(text)


def test_an_unknown_kind_is_still_readable() -> None:
    assert words.kind_word("garden_shed") == "garden shed"
