"""The survey as text: JSON read with care, JSON written so that people can read it.

``load_text`` takes text and gives a Survey or one sentence; ``to_text`` is its inverse, and
nothing that was set is lost on the way.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from skyview.errors import InputError
from skyview.survey.models import Survey, validate
from skyview.survey.problems import shown, whole_as_whole

FORMAT = "skyview-survey"
VERSION = 1
LINE_LENGTH = 100
MOST_NAMES, LONGEST_NAME = 1000, 1000
"""Names of one object, and letters of a name: no survey comes near. Each unknown name costs a
comparison with all that are known."""


_JSON = json.JSONEncoder(ensure_ascii=False, allow_nan=False)


def load_text(text: str, file: str | Path | None = None) -> Survey:
    """The survey that this text describes; ``file`` is named in what goes wrong.

    InputError, one sentence, for anything else than a survey of a version known here.

    >>> text = '{"format": "skyview-survey", "version": 1, "revision": 3, '
    >>> text += '"site": {"latitude_deg": 40, "longitude_deg": -100}}'
    >>> load_text(text).revision
    3
    """
    return validate(load_object(text, file), file)


def load_object(text: str, file: str | Path | None = None) -> dict[str, Any]:
    """The JSON object in the text, its format and version checked, nothing else.

    InputError if it is not JSON, not an object, not a survey or of a newer version.
    """
    data = parse_json(text, file)
    if not isinstance(data, dict):
        raise InputError(
            f"it holds {shown(data)}, not an object", file, mend='a survey begins with {"format": …'
        )
    if data.get("format") != FORMAT:
        said = f"it is {shown(data['format'])}" if "format" in data else "it is missing"
        raise InputError(said, file, "format", f'a survey has "format": "{FORMAT}"')
    version = data.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        said = f"it is {shown(version)}" if "version" in data else "it is missing"
        raise InputError(said, file, "version", f'this program reads "version": {VERSION}')
    if version > VERSION:
        raise InputError(
            f"version {shown(version)} was written by a newer program, this one reads {VERSION}",
            file,
            "version",
            "open it with the newer program; the file was left as it is",
        )
    return data


def parse_json(text: str, file: str | Path | None = None) -> Any:
    """What the JSON text stands for. InputError if it is not JSON or a name stands twice."""
    if text.startswith("\ufeff"):
        raise InputError(
            "it begins with a byte order mark", file, mend="save it as plain UTF-8 without one"
        )
    try:
        return json.loads(text, object_pairs_hook=_unique)
    except json.JSONDecodeError as error:
        end = text.rstrip()
        if not end:
            raise InputError("it is empty", file, mend="bring back a good copy") from None
        cut = error.pos >= len(end) or not end.endswith("}")
        what = "it ends too early" if cut else f"it is not JSON ({error.msg.lower()})"
        raise InputError(
            f"{what}, line {error.lineno}, column {error.colno}",
            file,
            mend="bring back a good copy" if cut else "mend that place",
        ) from None
    except _NameTwiceError as error:
        raise InputError(
            f"{shown(error.name)} stands twice in one object", file, mend="keep one of them"
        ) from None
    except _NoSurveyError:
        raise InputError(
            f"an object has more than {MOST_NAMES} names, or one beyond {LONGEST_NAME} letters",
            file,
            mend="it is no survey",
        ) from None
    except RecursionError:
        raise InputError("its brackets are nested too deep", file, mend="it is no survey") from None
    except ValueError:
        raise InputError("it holds a number of too many digits", file, mend="mend it") from None


class _NoSurveyError(Exception):
    pass


class _NameTwiceError(Exception):
    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.name = name


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """The object of these pairs; a name that stands twice would silently lose a value."""
    if len(pairs) > MOST_NAMES:
        raise _NoSurveyError
    data: dict[str, Any] = {}
    for name, value in pairs:
        if len(name) > LONGEST_NAME:
            raise _NoSurveyError
        if name in data:
            raise _NameTwiceError(name)
        data[name] = value
    return data


def plain(value: Any) -> Any:
    """Models as plain data: what was set, and what differs from the default.

    >>> from skyview.survey.models import Spot
    >>> plain(Spot(id="ridge", enu_m=(0.0, 0.0, 6.5)))
    {'id': 'ridge', 'enu_m': [0.0, 0.0, 6.5]}
    """
    if isinstance(value, BaseModel):
        return {
            name: plain(getattr(value, name))
            for name, field in type(value).model_fields.items()
            if name in value.model_fields_set
            or getattr(value, name) != field.get_default(call_default_factory=True)
        }
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    return value


def to_text(survey: Survey) -> str:
    """The survey as JSON: indent 1, short lists of numbers on one line, 12.0 as 12.

    Works on any survey that ``validate`` gave; ValueError for a NaN that was put in since.
    """
    return _laid_out(whole_as_whole(plain(survey)), 0) + "\n"


def _laid_out(value: Any, depth: int) -> str:
    indent, end = "\n" + " " * (depth + 1), "\n" + " " * depth
    if isinstance(value, dict) and value:
        inner = [f"{_JSON.encode(k)}: {_laid_out(item, depth + 1)}" for k, item in value.items()]
        return "{" + indent + ("," + indent).join(inner) + end + "}"
    if isinstance(value, list) and value:
        may_be_short = len(value) < LINE_LENGTH // 3 and not isinstance(value[0], dict)
        if may_be_short and len(short := _JSON.encode(value)) <= LINE_LENGTH:
            return short
        inner = [_laid_out(item, depth + 1) for item in value]
        return "[" + indent + ("," + indent).join(inner) + end + "]"
    return _JSON.encode(value)
