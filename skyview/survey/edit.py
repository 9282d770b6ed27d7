"""Changing one field of a survey from typed text: set, add, remove.

A path is what people type: ``antennas.main.aim_true_deg``, items of lists by their id or, counted
from 0, by their index. Every change gives a new survey, checked in full as on load, or one
sentence that says what to mend.
"""

from __future__ import annotations

import json
from difflib import get_close_matches
from typing import Any, get_origin

from pydantic import TypeAdapter, ValidationError

from skyview.errors import InputError
from skyview.survey.json_text import parse_json, plain
from skyview.survey.models import Survey, validate
from skyview.survey.problems import (
    alternatives,
    field_name,
    is_model,
    model_for,
    nearest,
    shown,
    typed_step,
    unknown_field,
)
from skyview.survey.rules import LISTS_WITH_IDS, REFERENCES, path_of

Path = tuple[str | int, ...]

_KEPT_BY_THE_TOOL = ("format", "version", "revision")
_YES_NO = {"yes": True, "true": True, "no": False, "false": False}
_UNKNOWN = ("null", "none")


LONGEST_PATH = 500
"""Letters of a path: four names of a survey at most, and ids may be long."""


def set_field(survey: Survey, path: str, text: str) -> Survey:
    """The survey with one field set to what the text says.

    The field's type decides how the text is read: text stays text where text belongs; elsewhere
    JSON (numbers, lists, objects), yes or no, and null or none for unknown.
    InputError for an unknown path, with the nearest known, and for a value that does not fit.

    >>> from skyview.survey.models import new_survey
    >>> set_field(new_survey(40.0, -100.0), "limits.lines_checked", "yes").limits.lines_checked
    True
    """
    data = plain(survey)
    steps, annotation = _located(data, path)
    if steps[0] in _KEPT_BY_THE_TOOL:
        raise InputError("the program keeps this field itself", field=path, mend="leave it alone")
    _put(data, steps, _value(text, annotation, steps))
    return validate(data)


def add_item(survey: Survey, list_path: str, json_text: str) -> Survey:
    """The survey with one more item at the end of a list, given as JSON.

    InputError if the path is no list, the text is not JSON, or the item does not fit; an id
    that is taken is refused.

    >>> from skyview.survey.models import new_survey
    >>> new = add_item(new_survey(40.0, -100.0), "spots", '{"id": "ridge", "enu_m": [2, 0, 7.5]}')
    >>> new.spots[0].enu_m
    (2.0, 0.0, 7.5)
    """
    data = plain(survey)
    steps, annotation = _located(data, list_path)
    if not any(get_origin(kind) is list for kind in alternatives(annotation)):
        lists = ", ".join(LISTS_WITH_IDS)
        raise InputError("it is not a list", field=list_path, mend=f"lists are {lists}")
    try:
        item = parse_json(json_text)
    except InputError as error:
        raise InputError(
            error.message, None, list_path, 'write it as in {"id": "gable", "enu_m": [4, 0, 7]}'
        ) from None
    items = list(_get(data, steps) or [])
    key = item.get("id") if isinstance(item, dict) else None
    if key is not None and any(isinstance(x, dict) and x.get("id") == key for x in items):
        raise InputError(
            f"the id {shown(key)} is taken", field=list_path, mend="give it an id of its own"
        )
    _put(data, steps, [*items, item])
    return validate(data)


def remove_item(survey: Survey, id_or_path: str) -> Survey:
    """The survey without one item of a list, named by its id alone or by its path.

    InputError if there is no such item, if several lists have that id, or if others refer to
    the item: these are named.

    >>> from skyview.survey.models import new_survey
    >>> new = add_item(new_survey(40.0, -100.0), "spots", '{"id": "ridge", "enu_m": [2, 0, 7.5]}')
    >>> remove_item(new, "ridge").spots
    []
    """
    data = plain(survey)
    steps = _item(data, id_or_path)
    parent = _get(data, steps[:-1])
    index = steps[-1]
    if not isinstance(parent, list) or not isinstance(index, int):
        raise InputError(
            "it is not an item of a list", field=id_or_path, mend="set it to null instead"
        )
    users = _users(survey, str(steps[0]), parent[index]) if len(steps) == 2 else []
    if users:
        raise InputError(
            f"it is still used by {', '.join(users)}",
            field=field_name(data, steps),
            mend="remove or change these first",
        )
    del parent[index]
    return validate(data)


def _item(data: dict[str, Any], id_or_path: str) -> Path:
    """Where the item is that people name by its id or by its path."""
    found: list[Path] = [
        (name, index)
        for name in LISTS_WITH_IDS
        for index, item in enumerate(data.get(name, []))
        if item["id"] == id_or_path
    ]
    if len(found) > 1:
        places = " or ".join(field_name(data, steps) for steps in found)
        raise InputError(f"{shown(id_or_path)} is the id of several items", mend=f"write {places}")
    if found:
        return found[0]
    if "." in id_or_path:
        return _located(data, id_or_path)[0]
    known = [item["id"] for name in LISTS_WITH_IDS for item in data.get(name, [])]
    near = nearest(id_or_path, known)
    mend = f"did you mean {near}?" if near else "name an item by its id, or write LIST.ID"
    raise InputError(f"nothing here has the id {shown(id_or_path)}", mend=mend)


def _users(survey: Survey, list_name: str, item: dict[str, Any]) -> list[str]:
    """Paths of the fields that name this item."""
    return [
        ".".join(map(str, (*path_of(name, user, index), field)))
        for name, field, target in REFERENCES
        if target == list_name
        for index, user in enumerate(getattr(survey, name))
        if getattr(user, field) == item.get("id")
    ]


def _located(data: Any, path: str) -> tuple[Path, Any]:
    """The steps of a typed path and the type of what is there; InputError if there is no such.

    Steps into lists are indices. The last step may be a field that is not set yet.
    """
    if len(path) > LONGEST_PATH:
        raise InputError("no path is so long", field=path, mend="write it as in spots.roof.enu_m")
    words = path.split(".")
    steps: list[str | int] = []
    annotation: Any = Survey
    while words:
        step, count = _step(data, words, annotation, path)
        below = typed_step(annotation, data, step)
        if below is None:
            raise _no_such_field(data, annotation, words[0], path)
        steps.append(step)
        annotation, words = below, words[count:]
        data = _get(data, (step,))
    return tuple(steps), annotation


def _step(data: Any, words: list[str], annotation: Any, path: str) -> tuple[str | int, int]:
    """The next step, and how many words of the path it takes: ids may hold dots."""
    if not isinstance(data, list):
        if data is None and _is_list(annotation):
            raise InputError("the list is empty", field=path, mend="add an item first")
        return words[0], 1
    ids = [item.get("id") if isinstance(item, dict) else None for item in data]
    for count in range(len(words), 0, -1):
        if ".".join(words[:count]) in ids:
            return ids.index(".".join(words[:count])), count
    if words[0].isdecimal() and int(words[0]) < len(data):
        return int(words[0]), 1
    known = [key for key in ids if key is not None]
    near = get_close_matches(words[0], known, n=1)
    there = f"there are {', '.join(known[:8])}" if known else f"the list holds {len(data)}"
    raise InputError(
        f"nothing in this list is called {shown(words[0])}",
        field=path,
        mend=f"did you mean {near[0]}?" if near else there,
    )


def _no_such_field(data: Any, annotation: Any, word: str, path: str) -> InputError:
    model = model_for(annotation, data)
    if model is None and any(is_model(kind) for kind in alternatives(annotation)):
        return InputError(
            "what stands above it has no kind yet",
            field=path,
            mend='set that first, to an object with a "kind"',
        )
    message, mend = unknown_field(word, [] if model is None else list(model.model_fields))
    return InputError(message, field=path, mend=mend)


def _is_list(annotation: Any) -> bool:
    return any(get_origin(kind) in (list, tuple) for kind in alternatives(annotation))


def _get(data: Any, steps: Path) -> Any:
    for step in steps:
        if isinstance(data, dict):
            data = data.get(step)
        else:
            data = data[step] if isinstance(data, list) and isinstance(step, int) else None
    return data


def _put(data: Any, steps: Path, value: Any) -> None:
    """Set what the steps lead to; objects that are not there yet are made."""
    for step in steps[:-1]:
        if isinstance(data, dict) and not isinstance(data.get(step), dict | list):
            data[step] = {}
        data = data[step]
    data[steps[-1]] = value


def _value(text: str, annotation: Any, steps: Path) -> Any:
    """What the text stands for where a value of this type belongs."""
    is_text = any(kind is str for kind in alternatives(annotation))
    word = text.strip().lower()
    if word in _UNKNOWN and not (is_text and steps[-1] == "id"):
        return None
    readings: list[Any] = []
    if is_text and not text.startswith('"'):
        readings.append(text)
    if word in _YES_NO:
        readings.append(_YES_NO[word])
    try:
        readings.append(json.loads(text))
    except (ValueError, RecursionError):
        readings.append(text)
    if text not in readings:
        readings.append(text)
    fits = TypeAdapter(annotation)
    return next((reading for reading in readings if _fits(fits, reading)), readings[0])


def _fits(adapter: TypeAdapter[Any], value: Any) -> bool:
    try:
        adapter.validate_python(value)
    except ValidationError:
        return False
    return True
