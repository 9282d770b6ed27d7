"""From what a validator found to one plain sentence: file, field, what is wrong, what is right.

A field is named as people type it: ``stations.QALD.erp_kw``, list items by their id, or by
their index where they have none.
"""

from __future__ import annotations

import json
import re
import types
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Any, TypeGuard, Union, get_args, get_origin

from pydantic import BaseModel, Field, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from skyview.errors import InputError

_UNSAID = frozenset({"extra_forbidden", "rules"})
"""Kinds of error that explain others (a misspelt field is also a missing one): told first."""

_LARGEST_WHOLE = 1e15
"""Below this a whole number is shorter without a decimal point, and still exact."""


def input_error(
    error: ValidationError, data: Any, model: type[BaseModel], file: str | Path | None
) -> InputError:
    """The first thing that a validator found, and how many more there are, as one sentence.

    ``data`` is what was validated against ``model``.
    """
    details = sorted(error.errors(include_url=False), key=lambda item: item["type"] not in _UNSAID)
    first = details[0]
    if first["type"] == "rules":
        problems = first["ctx"]["problems"]
        path, message, mend = problems[0].path, problems[0].message, problems[0].mend
        count = len(problems)
    else:
        path = path_in(data, first["loc"])
        message, mend = _explained(first, data, path, model)
        count = len({path_in(data, item["loc"]) for item in details})
    if count > 1:
        message += f" (and {count - 1} more)"
    return InputError(message, file, field_name(data, path) or None, mend)


def path_in(data: Any, location: tuple[str | int, ...]) -> tuple[str | int, ...]:
    """A validator's location without the steps that are not in the data: tags of unions."""
    path: list[str | int] = []
    for number, step in enumerate(location):
        last = number == len(location) - 1
        if step == "[key]":
            continue
        if isinstance(data, dict) and isinstance(step, str) and (step in data or last):
            path.append(step)
            data = data.get(step)
        elif isinstance(data, list | tuple) and isinstance(step, int):
            path.append(step)
            data = data[step] if step < len(data) else None
    return tuple(path)


def field_name(data: Any, path: tuple[str | int, ...]) -> str:
    """The path as people type it, items of lists by their id.

    >>> field_name({"spots": [{"id": "ridge"}]}, ("spots", 0, "enu_m"))
    'spots.ridge.enu_m'
    """
    names = []
    for step in path:
        child = _child(data, step)
        key = (
            child.get("id") if isinstance(data, list | tuple) and isinstance(child, dict) else None
        )
        names.append(printable(key if isinstance(key, str) and key else str(step)))
        data = child
    return ".".join(names)


def _child(data: Any, step: str | int) -> Any:
    """What one step leads to, None where it leads nowhere; lists take an id too."""
    if isinstance(data, dict):
        return data.get(step)
    if isinstance(data, list | tuple):
        if isinstance(step, int):
            return data[step] if step < len(data) else None
        return next((x for x in data if isinstance(x, dict) and x.get("id") == step), None)
    return None


def printable(text: str) -> str:
    """The text as any terminal can show it: no control characters, no half characters."""
    text = text.encode("utf-8", "backslashreplace").decode()
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def shown(value: Any) -> str:
    """A value as it would stand in the file, cut to what a sentence can hold.

    >>> shown("x" * 60), shown(None)
    ('"xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx...', 'null')
    """
    try:
        text = json.dumps(whole_as_whole(value), ensure_ascii=False)
    except (TypeError, ValueError, RecursionError):
        text = f"something of type {type(value).__name__}"
    text = printable(text)
    return text if len(text) <= 42 else text[:39] + "..."


def whole_as_whole(value: Any) -> Any:
    """12.0 as 12, in lists and objects too: the same number, and what a person would write.

    >>> whole_as_whole([12.0, 0.5])
    [12, 0.5]
    """
    if isinstance(value, list):
        return [whole_as_whole(item) for item in value]
    if isinstance(value, dict):
        return {key: whole_as_whole(item) for key, item in value.items()}
    whole = isinstance(value, float) and value.is_integer() and abs(value) < _LARGEST_WHOLE
    return int(value) if whole else value


def nearest(word: str, known: list[str]) -> str | None:
    """The known word that somebody who typed this one most likely meant.

    >>> nearest("erp_kW", ["erp_kw", "haat_m"])
    'erp_kw'
    """
    by_small = {name.lower(): name for name in known}
    near = get_close_matches(word.lower(), list(by_small), n=1)
    return by_small[near[0]] if near else None


def unknown_field(name: str, known: list[str]) -> tuple[str, str]:
    """What is wrong with a field of that name, and what would be right."""
    near = nearest(name, known)
    if near:
        mend = f"did you mean {near}?"
    elif known:
        mend = f"the fields here are {', '.join(known)}"
    else:
        mend = "nothing can stand below it"
    return f"{printable(name) or 'an empty name'} is not a field here", mend


def unwrapped(annotation: Any) -> Any:
    """The type itself, without Annotated, Tag and ``| None``."""
    while True:
        if get_origin(annotation) is Annotated:
            annotation = get_args(annotation)[0]
        elif get_origin(annotation) in (Union, types.UnionType):
            some = [arg for arg in get_args(annotation) if arg is not type(None)]
            if len(some) != 1:
                return annotation
            annotation = some[0]
        else:
            return annotation


def alternatives(annotation: Any) -> list[Any]:
    """The types that a value may have, unwrapped; one unless it is a union."""
    bare = unwrapped(annotation)
    if get_origin(bare) in (Union, types.UnionType):
        return [unwrapped(arg) for arg in get_args(bare) if arg is not type(None)]
    return [bare]


def model_for(annotation: Any, value: Any) -> type[BaseModel] | None:
    """The model that a value of this type is an instance of, told by ``kind`` in a union."""
    models = [kind for kind in alternatives(annotation) if is_model(kind)]
    if len(models) == 1:
        return models[0]
    word = value.get("kind") if isinstance(value, dict) else None
    for model in models:
        field = model.model_fields.get("kind")
        if field is not None and word in get_args(field.annotation):
            return model
    return None


def is_model(kind: Any) -> TypeGuard[type[BaseModel]]:
    """Whether a type is one of the models."""
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def typed_step(annotation: Any, value: Any, step: str | int) -> Any:
    """The type one step further down, None if there is no such place.

    ``value`` is the data of type ``annotation``: it decides between the shapes of a union.
    """
    model = model_for(annotation, value)
    if model is not None:
        field = model.model_fields.get(str(step))
        return None if field is None else annotation_of(field)
    for kind in alternatives(annotation):
        origin, arguments = get_origin(kind), get_args(kind)
        if origin is list:
            return arguments[0]
        if origin is tuple and isinstance(step, int):
            return arguments[step] if step < len(arguments) else None
        if origin is dict:
            return arguments[1]
    return None


def annotation_of(field: FieldInfo) -> Any:
    """The field's type with what constrains it, as one annotation."""
    if not field.metadata and field.discriminator is None:
        return field.annotation
    limits = list(field.metadata)
    if field.discriminator is not None:
        limits.append(Field(discriminator=field.discriminator))
    return Annotated[(field.annotation, *limits)]


def _field_at(
    model: type[BaseModel], data: Any, path: tuple[str | int, ...]
) -> tuple[FieldInfo | None, list[str]]:
    """The deepest named field on the path, and the names that would be known at its end."""
    annotation: Any = model
    field, known = None, list(model.model_fields)
    for step in path:
        owner = model_for(annotation, data)
        if owner is not None:
            known = list(owner.model_fields)
            field = owner.model_fields.get(str(step), field)
        annotation = typed_step(annotation, data, step)
        data = _child(data, step)
    return field, known


def _explained(
    item: ErrorDetails, data: Any, path: tuple[str | int, ...], model: type[BaseModel]
) -> tuple[str, str | None]:
    """What is wrong and what would be right, for one error of the validator."""
    kind, value, context = item["type"], item["input"], item.get("ctx", {})
    field, known = _field_at(model, data, path)
    meaning = _meaning(field)
    if kind == "extra_forbidden":
        return unknown_field(str(path[-1]), known)
    if kind == "rule":
        return context["message"], context["mend"]
    if kind == "missing":
        if isinstance(item["loc"][-1], int):
            return f"{shown(value)} holds too few values", meaning
        return "it is missing", "add it" if meaning is None else f"add it; {meaning}"
    if kind in ("literal_error", "union_tag_invalid", "union_tag_not_found"):
        return _wrong_word(kind, value, context, field)
    if kind in ("less_than_equal", "greater_than_equal", "less_than", "greater_than"):
        return _out_of_range(kind, value, context, data, path, meaning)
    if kind == "bool_type":
        return f"{shown(value)} is neither true nor false", "write true or false"
    return _wrong_kind(kind, value, context), meaning


def _meaning(field: FieldInfo | None) -> str | None:
    """What belongs into the field, as the end of a sentence."""
    if field is None or not field.description:
        return None
    text = field.description.replace(". [", " [").rstrip(".")
    keep = text[1:2].isupper()
    return f"expected: {text if keep else text[0].lower() + text[1:]}"


def _wrong_word(
    kind: str, value: Any, context: dict[str, Any], field: FieldInfo | None
) -> tuple[str, str]:
    if kind == "union_tag_not_found":
        kinds = [
            str(get_args(part.model_fields["kind"].annotation)[0])
            for part in (_models_below(annotation_of(field)) if field is not None else [])
        ]
        return 'it does not say its "kind"', f"the kinds are {', '.join(kinds)}"
    if kind == "union_tag_invalid":
        word, words = context["tag"], re.findall(r"'([^']*)'", context["expected_tags"])
    else:
        word, words = value, re.findall(r"'([^']*)'", context["expected"])
    near = nearest(word, words) if isinstance(word, str) else None
    right = f"did you mean {near}?" if near else f"it is one of {', '.join(words)}"
    return f"{shown(word)} is not a word known here", right


def _models_below(annotation: Any) -> list[type[BaseModel]]:
    """The models of a union, or of the items of a list of them."""
    kinds = alternatives(annotation)
    if get_origin(kinds[0]) is list:
        kinds = alternatives(get_args(kinds[0])[0])
    return [kind for kind in kinds if is_model(kind)]


def _out_of_range(
    kind: str,
    value: Any,
    context: dict[str, Any],
    data: Any,
    path: tuple[str | int, ...],
    meaning: str | None,
) -> tuple[str, str | None]:
    words = {
        "less_than_equal": ("too large", "at most", "le"),
        "less_than": ("too large", "less than", "lt"),
        "greater_than_equal": ("too small", "at least", "ge"),
        "greater_than": ("too small", "more than", "gt"),
    }
    size, bound, key = words[kind]
    message = f"{shown(value)} is {size}, it must be {bound} {context[key]:g}"
    if path[-1] == "latitude_deg":
        for step in path[:-1]:
            data = _child(data, step)
        longitude = data.get("longitude_deg") if isinstance(data, dict) else None
        if isinstance(longitude, int | float) and abs(longitude) <= 90 and abs(value) <= 180:
            return message, "were latitude and longitude swapped?"
    return message, meaning


def _wrong_kind(kind: str, value: Any, context: dict[str, Any]) -> str:
    """What is wrong with a value of the wrong kind, size or form."""
    said = shown(value)
    if kind == "float_type" and isinstance(value, int) and not isinstance(value, bool):
        return "the number is too large"
    if kind in ("float_type", "int_type"):
        quoted = isinstance(value, str) and re.fullmatch(r"\s*[-+]?[\d.]+\s*", value)
        wanted = "a number" if kind == "float_type" else "a whole number"
        return f"{said} is text, not {wanted}" if quoted else f"{said} is not {wanted}"
    plain = {
        "finite_number": f"{said} is not a finite number (unknown is null)",
        "string_type": f"{said} is not text",
        "string_unicode": f"{said} is not text that can be stored",
        "string_too_short": "it is empty",
        "string_too_long": f"it is longer than {context.get('max_length')} letters",
        "list_type": f"{said} is not a list",
        "tuple_type": f"{said} is not a list",
        "too_short": f"the list holds fewer than {context.get('min_length')} values",
        "too_long": f"the list holds more than {context.get('max_length')} values",
        "dict_type": f"{said} is not an object",
        "model_type": f"{said} is not an object",
        "model_attributes_type": f"{said} is not an object",
    }
    return plain.get(kind, f"{said} does not fit here")
