"""Text to survey and back: nothing lost, nothing but one kind of error on the way in."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.errors import InputError
from skyview.survey.json_text import load_text, plain, to_text
from skyview.survey.models import Spot, Survey, new_survey, validate

TEXT = Path(__file__).with_name("example_survey.json").read_text("utf-8")
EXAMPLE = json.loads(TEXT)

words = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=12).filter(
    lambda text: text == text.strip()
)
numbers = st.floats(allow_nan=False, allow_infinity=False)
triples = st.lists(numbers, min_size=3, max_size=3)


def optional(**fields: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=fields)


sites = st.builds(
    lambda place, more: {**place, **more},
    st.fixed_dictionaries(
        {"latitude_deg": st.floats(-90, 90), "longitude_deg": st.floats(-180, 180)}
    ),
    optional(
        position_sigma_m=st.none() | st.floats(0, 1e6),
        ground_amsl_m=st.none() | st.floats(-500, 9000) | st.integers(-500, 9000),
        surroundings=st.none() | words,
        field_offset_db=st.none() | numbers,
    ),
)
spots = st.lists(
    st.fixed_dictionaries(
        {"id": words, "enu_m": triples},
        optional={"heights_m": st.none() | st.lists(st.floats(0, 99), max_size=4)},
    ),
    max_size=4,
    unique_by=lambda spot: spot["id"],
)
surveys = st.builds(
    lambda site, more: {
        "format": "skyview-survey",
        "version": 1,
        "revision": 0,
        "site": site,
        **more,
    },
    sites,
    optional(
        spots=spots,
        title=st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=30),
        limits=st.none() | optional(lines_checked=st.none() | st.booleans()),
        receiver=optional(sets=st.integers(1, 9)),
    ),
)


@given(surveys)
def test_round_trip_loses_nothing(data: dict[str, Any]) -> None:
    survey = validate(data)
    again = load_text(to_text(survey))
    assert again == survey
    assert to_text(again) == to_text(survey)


def test_a_file_comes_back_as_it_was() -> None:
    assert json.loads(to_text(load_text(TEXT))) == EXAMPLE


def test_what_was_not_set_is_not_written() -> None:
    assert json.loads(to_text(new_survey(40.0, -100.5))) == {
        "format": "skyview-survey",
        "version": 1,
        "revision": 0,
        "title": "",
        "site": {"latitude_deg": 40, "longitude_deg": -100.5},
    }


def test_what_was_changed_in_place_is_written() -> None:
    survey = new_survey(40.0, -100.0)
    survey.spots.append(Spot(id="ridge", enu_m=(0.0, 0.0, 6.0)))
    survey.limits.lines_checked = True
    written = json.loads(to_text(survey))
    assert written["spots"] == [{"id": "ridge", "enu_m": [0, 0, 6]}]
    assert written["limits"] == {"lines_checked": True}


def test_the_layout_is_for_people() -> None:
    survey = load_text(TEXT)
    survey.title = "Höhe"
    lines = to_text(survey).splitlines()
    assert lines[:5] == [
        "{",
        ' "format": "skyview-survey",',
        ' "version": 1,',
        ' "revision": 17,',
        ' "title": "Höhe",',
    ]
    assert '   "size_px": [4096, 1024],' in lines
    assert '   "rings_px": [[[1, 1], [9, 1], [5, 9]]],' in lines
    assert list(json.loads(to_text(survey))) == list(Survey.model_fields)


def test_long_lists_are_broken_between_points() -> None:
    data = copy.deepcopy(EXAMPLE)
    data["outlines"][0]["rings_px"] = [[[i, i * i / 4000] for i in range(1, 2000)]]
    text = to_text(validate(data))
    assert max(map(len, text.splitlines())) < 110
    assert json.loads(text) == data


def test_plain_keeps_an_explicit_null() -> None:
    survey = load_text(TEXT)
    assert plain(survey.obstructions[0])["voltage_kv"] is None
    assert "voltage_kv" not in plain(Spot(id="a", enu_m=(0.0, 0.0, 0.0)))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "survey.json: it is empty; bring back a good copy."),
        (" \n", "survey.json: it is empty; bring back a good copy."),
        (TEXT[: len(TEXT) // 2], "survey.json: it ends too early, line "),
        ('{"format": "skyv', "survey.json: it ends too early, line 1, column 12"),
        ('{"format": tru', "survey.json: it ends too early, line 1, column 12"),
        (
            '{"format" "skyview-survey"}',
            "survey.json: it is not JSON (expecting ':' delimiter), line 1, column 11; "
            "mend that place.",
        ),
        (TEXT + "}", "survey.json: it is not JSON (extra data)"),
        ("\ufeff{}", "survey.json: it begins with a byte order mark; save it as plain UTF-8"),
        ("[1]", 'survey.json: it holds [1], not an object; a survey begins with {"format": …'),
        ("[" * 100_000, "survey.json: its brackets are nested too deep"),
        (
            '{"a": ' * 5_000 + "1" + "}" * 5_000,
            "survey.json: its brackets are nested too deep",
        ),
        ("1" * 5_000, "survey.json: it holds a number of too many digits"),
        (
            '{"format": "skyview-survey", "revision": 1, "revision": 2}',
            'survey.json: "revision" stands twice in one object; keep one of them.',
        ),
        (
            "{}",
            'survey.json, format: it is missing; a survey has "format": "skyview-survey".',
        ),
        (
            '{"format": "skyview.paths", "version": 9}',
            'survey.json, format: it is "skyview.paths"; a survey has "format": "skyview-survey".',
        ),
        (
            '{"format": "skyview-survey"}',
            'survey.json, version: it is missing; this program reads "version": 1.',
        ),
        (
            '{"format": "skyview-survey", "version": "1"}',
            'survey.json, version: it is "1"; this program reads "version": 1.',
        ),
        (
            '{"format": "skyview-survey", "version": true}',
            "survey.json, version: it is true",
        ),
        (
            '{"format": "skyview-survey", "version": 2, "roofs": []}',
            "survey.json, version: version 2 was written by a newer program, this one reads 1; "
            "open it with the newer program; the file was left as it is.",
        ),
        (
            TEXT.replace('"ground_amsl_m": 412', '"ground_amsl_m": NaN'),
            "survey.json, site.ground_amsl_m: NaN is not a finite number (unknown is null)",
        ),
        (
            TEXT.replace('"ground_amsl_m": 412', '"ground_amsl_m": 1e999'),
            "survey.json, site.ground_amsl_m: Infinity is not a finite number",
        ),
    ],
)
def test_what_is_no_survey_is_said_in_one_sentence(text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        load_text(text, "survey.json")
    assert str(caught.value).startswith(said)


@given(st.text(max_size=60))
def test_any_text_is_a_survey_or_an_input_error(text: str) -> None:
    with pytest.raises(InputError):
        load_text(text, "survey.json")


def places(data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Paths of everything in nested data."""
    items = data.items() if isinstance(data, dict) else enumerate(data)
    found = []
    for key, value in items:
        found.append((*path, key))
        if isinstance(value, dict | list):
            found += places(value, (*path, key))
    return found


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["id", "kind", "x", "enu_m"]), inner, max_size=3)
    ),
    max_leaves=8,
)


def refusal_of(text: str) -> InputError | None:
    try:
        load_text(text, "survey.json")
    except InputError as error:
        return error
    return None


@given(st.sampled_from(places(EXAMPLE)), anything, st.booleans())
def test_any_change_to_a_survey_loads_or_is_an_input_error(
    path: tuple[Any, ...], value: Any, extra: bool
) -> None:
    data = copy.deepcopy(EXAMPLE)
    place = data
    for step in path[:-1]:
        place = place[step]
    if extra and isinstance(place, dict):
        place["another"] = value
    else:
        place[path[-1]] = value
    text = json.dumps(data)
    error = refusal_of(text)
    if error is None:
        survey = load_text(text)
        assert load_text(to_text(survey)) == survey
    else:
        assert error.message.isprintable()
        assert error.file == "survey.json"
