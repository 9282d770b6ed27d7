"""One item of a list by its id: what is said where there is none."""

from __future__ import annotations

import pytest

from skyview.errors import InputError
from skyview.survey.known import known_item
from skyview.survey.models import Spot

SPOTS = [Spot(id=name, enu_m=(0.0, 0.0, 5.0)) for name in ("Ridge", "gable")]


@pytest.mark.parametrize(
    ("name", "mend"),
    [
        ("ridge", "did you mean Ridge? known: Ridge, gable"),
        ("gabel", "did you mean gable? known: Ridge, gable"),
        ("attic", "known: Ridge, gable"),
    ],
)
def test_a_wrong_name_is_told_with_those_there_are(name: str, mend: str) -> None:
    with pytest.raises(InputError, match=f"no spot is called {name}") as caught:
        known_item(SPOTS, name, "spot")
    assert (caught.value.field, caught.value.mend) == ("spots", mend)


def test_where_there_is_nothing_the_hint_is_given() -> None:
    with pytest.raises(InputError) as caught:
        known_item([], "ridge", "spot", field="--spot", hint="none; add one")
    assert (caught.value.field, caught.value.mend) == ("--spot", "known: none; add one")
