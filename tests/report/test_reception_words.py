"""Wording about reception: plain, without decibels, never a promise of safety."""

from __future__ import annotations

import dataclasses
import re
from typing import get_args

import pytest

from skyview.report import reception_words as words
from skyview.survey.budget.causes import CODES
from skyview.survey.budget.options import EFFORT
from skyview.survey.results import Cause, Cost, Cure, Margin, ReceptionWord, Why

CURES = [*EFFORT, "raise", "together", "none_on_this_roof"]
CAUTIONS = ["roof", "guys", "tree_work", "neighbour", "public", "whose_tree", "cellular"]


def cause(code, db=9.0):
    more = {
        "obstruction": {"obstruction": "oak", "kind": "broadleaf"},
        "interference": {"station": "QDUN", "on_channel": True},
    }
    return Cause(code, db, **more.get(code, {}))


def explained(make_row, reception="no", causes=(), cures=(), missing=(), **more):
    row = dataclasses.replace(
        make_row(**more),
        reception=reception,
        reception_probability=0.1,
        margin_db=Margin(-20.0, -9.0, 3.0),
        cures=tuple(cures),
    )
    return Why(row, "Invented", tuple(causes), "in", "doubtful", 0.3, tuple(missing), {})


@pytest.mark.parametrize("reception", get_args(ReceptionWord))
@pytest.mark.parametrize("code", CODES)
def test_the_customer_s_sentence_is_plain(make_row, reception, code):
    missing = ["power"] if reception == "unknown" else []
    text = words.customer_sentence(explained(make_row, reception, [cause(code)], missing=missing))
    assert text.startswith(("QALD ", "Whether QALD "))
    assert re.fullmatch(r"[^.]+\.", text), "one sentence"
    assert not re.search(r"\bdB\b|decibel|Fresnel|diffract|safe|_", text)
    assert len(text.split()) <= 40


@pytest.mark.parametrize(
    ("causes", "text"),
    [
        ([cause("obstruction", 12.0), cause("aim", 4.0), cause("line", 3.5)],
         "QALD will most likely not come in: it has to come through the tree “oak” and the antenna "
         "points another way."),
        ([cause("line", 2.0)],
         "QALD will most likely not come in: its transmitter is too weak for the distance."),
        ([cause("distance", 30.0), cause("obstruction", 7.0)],
         "QALD will most likely not come in: it is far away and it has to come through the tree "
         "“oak”."),
        ([cause("distance", 30.0), cause("obstruction", 11.0)],
         "QALD will most likely not come in: it has to come through the tree “oak” and it is far "
         "away."),
        ([cause("interference", 8.0)],
         "QALD will most likely not come in: QDUN on the same channel disturbs it."),
    ],
)  # fmt: skip
def test_reasons_in_order(make_row, causes, text):
    assert words.customer_sentence(explained(make_row, "no", causes)) == text


def test_beyond_the_horizon_is_told_with_the_distance(make_row):
    text = words.customer_sentence(
        explained(make_row, "no", [cause("distance", 40.0)], beyond=True)
    )
    assert "beyond the curve of the earth" in text


def test_leaves_are_not_a_reason_beside_their_tree(make_row):
    both = [cause("obstruction", 9.0), cause("foliage", 8.0)]
    text = words.customer_sentence(explained(make_row, "no", both))
    assert text.count("tree") == 1
    assert "leaves" not in text


def test_nothing_on_this_roof_is_said(make_row):
    none = Cure("none_on_this_roof", 4.0, 0.2)
    text = words.customer_sentence(explained(make_row, "no", [cause("distance")], [none]))
    assert text.endswith("and nothing on this roof cures it.")


def test_what_is_missing_is_said(make_row):
    text = words.customer_sentence(explained(make_row, "unknown", missing=["threshold", "view"]))
    assert text == (
        "Whether QALD comes in cannot be told yet: how much its system needs is not known and no "
        "picture shows that direction."
    )


@pytest.mark.parametrize("code", CURES)
def test_every_cure_has_a_sentence(code):
    amount = 352.3 if code.endswith("aim") else 2.0
    thing = {"two_antennas": "hybrid", "another_spot": "gable"}.get(code, "oak")
    parts = ("raise", "reaim", "cable") if code == "together" else ()
    text = words.cure_text(Cure(code, 5.0, 0.7, amount=amount, thing=thing, parts=parts))
    assert text[0].isupper()
    assert text.endswith(".")
    assert not re.search(r"\bdB\b|safe|_|None", text)


@pytest.mark.parametrize("code", CAUTIONS)
def test_cautions_defer_and_never_say_safe(code):
    text = words.caution(code)
    assert text.endswith(".")
    assert "safe" not in text.lower()


def test_guys_and_trees_carry_their_caution_in_the_text():
    high = Cure("raise", 5.0, 0.7, amount=4.0, cautions=("roof", "guys"))
    assert "licensed" in words.cure_text(high)
    assert "local code" in words.cure_text(high)
    tree = Cure("fell", 5.0, 0.7, thing="oak", cautions=("tree_work", "neighbour"))
    assert "neighbour's tree" in words.cure_text(tree)
    assert "edge" not in words.cure_text(high), "all roof work's caution is said once, elsewhere"
    assert "ladder" in words.caution("roof")
    assert "power lines" in words.caution("roof")


def test_costs_are_named():
    costs = (Cost("QA", 12.0, "no"), Cost("QB", 3.0, "doubtful"), Cost("QC", 2.0, "sure"))
    text = words.cure_text(Cure("reaim", 5.0, 0.7, costs, 90.0))
    assert "With it QA will most likely not come in." in text
    assert "With it QB may or may not come in." in text
    mild = words.cure_text(Cure("reaim", 5.0, 0.7, costs[2:], 90.0))
    assert mild == "Turn the antenna to 90° true. QC would get weaker."


def test_every_reception_word_has_its_meaning():
    assert get_args(ReceptionWord) == words.RECEPTION_WORDS
    assert len({words.reception_meaning(word) for word in words.RECEPTION_WORDS}) == 5


def test_every_cause_has_its_words():
    assert len({words.cause_text(cause(code)) for code in CODES}) == len(CODES)


@pytest.mark.parametrize(
    ("margin", "cell"),
    [(Margin(-10.4, -0.2, 9.9), "0 ±10"), (Margin(3.0, 12.6, 20.0), "+13 ±8")],
)
def test_the_margin_s_cell(margin, cell):
    assert words.margin_cell(margin) == cell


def test_standing_tells_both_seasons(make_row):
    here, there = words.standing(explained(make_row, "no"))
    assert here == (
        "Trees in leaf: no, 1 chance in 10; margin −9 dB, eight estimates in ten between −20 "
        "and +3."
    )
    assert there.startswith("Trees out of leaf: doubtful, 3 chances in 10.")
    assert "in leaf" in there.partition(".")[2]
