"""Patches lead from one state to the other and back, and refuse what changed meanwhile."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.workbench.patches import ChangedSinceError, applied, inverse, patch_between

items = st.lists(
    st.builds(
        lambda key, value: {"id": key, "note": value},
        st.sampled_from(["a", "b", "c", "d"]),
        st.integers(0, 3),
    ),
    max_size=4,
    unique_by=lambda item: item["id"],
)
states = st.builds(
    lambda title, site, spots, marks: {
        "revision": 1,
        "title": title,
        "site": site,
        **({"spots": spots} if spots else {}),
        **({"marks": marks} if marks else {}),
    },
    st.sampled_from(["one", "two"]),
    st.dictionaries(st.sampled_from(["x", "y"]), st.integers(0, 2), max_size=2),
    items,
    items,
)


def tidy(state):
    """An empty list and a missing one say the same."""
    return {name: value for name, value in state.items() if value != []}


@given(states, states)
def test_a_patch_leads_there_and_its_inverse_back(old, new):
    patch = patch_between(old, new)
    assert tidy(applied(old, patch)) == tidy(new)
    assert tidy(applied(new, inverse(patch))) == tidy(old)


@given(states)
def test_nothing_differs_from_itself(state):
    assert patch_between(state, dict(state)) == []


def test_what_another_program_changed_is_not_put_back():
    old = {"spots": [{"id": "ridge", "up": 6}]}
    new = {"spots": [{"id": "ridge", "up": 7}]}
    back = inverse(patch_between(old, new))
    with pytest.raises(ChangedSinceError) as caught:
        applied({"spots": [{"id": "ridge", "up": 9}]}, back)
    assert caught.value.place == "spots.ridge"


def test_undo_keeps_what_another_program_added():
    old = {"spots": [{"id": "a"}, {"id": "b"}]}
    new = {"spots": [{"id": "b"}]}
    there = {"spots": [{"id": "b"}, {"id": "other"}]}
    back = applied(there, inverse(patch_between(old, new)))
    assert [item["id"] for item in back["spots"]] == ["a", "b", "other"]
