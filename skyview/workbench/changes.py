"""Small operations on a survey's plain data, as the page sends them: put, patch, remove, set.

They work on plain data and leave checking to the survey's own rules, which read the outcome as
on load. What only the program may write (calibrations, files) is refused here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from skyview.errors import InputError
from skyview.survey.rules import REFERENCES
from skyview.workbench.messages import Change, Patch, Put, Remove, SetFields, SetValue
from skyview.workbench.patches import Plain

_NOT_YOURS = {
    "views": ("photo", "size_px", "frames", "calibration"),
    "site": ("terrain",),
}
"""Fields that name files or that the program keeps itself."""


def changed(state: Plain, changes: Sequence[Change]) -> Plain:
    """The plain data after all changes, in order.

    InputError, with the number of the change as its field, for one that cannot be done.
    """
    after = dict(state)
    for number, change in enumerate(changes):
        place = f"changes.{number}"
        match change:
            case Put():
                _put(after, change, place)
            case Patch():
                _patch(after, change, place)
            case Remove():
                _remove(after, change.list, change.id, change.with_users, place)
            case SetFields():
                part = change.part
                _refuse_kept(part, change.fields, after.get(part) or {}, place)
                after[part] = _merged(after.get(part) or {}, change.fields)
            case SetValue():
                after[change.part] = change.value
    return after


def _items(state: Plain, name: str) -> list[dict[str, Any]]:
    return list(state.get(name) or [])


def _index(items: Sequence[dict[str, Any]], key: str) -> int | None:
    return next((i for i, item in enumerate(items) if item["id"] == key), None)


def _merged(item: dict[str, Any], fields: dict[str, Any]) -> dict[str, Any]:
    """The item with new fields; null takes one away."""
    return {name: value for name, value in {**item, **fields}.items() if value is not None}


def _refuse_kept(name: str, fields: dict[str, Any], there: dict[str, Any], place: str) -> None:
    """InputError where a field that the program keeps would change."""
    for field in _NOT_YOURS.get(name, ()):
        if field in fields and fields[field] != there.get(field):
            raise InputError(
                f"the program keeps {field} itself", None, f"{place}.{field}", "leave it out"
            )


def _put(state: Plain, change: Put, place: str) -> None:
    key = change.item.get("id")
    if not isinstance(key, str) or not key:
        raise InputError("an item needs an id", None, f"{place}.item.id", "give it one")
    items = _items(state, change.list)
    index = _index(items, key)
    there = {} if index is None else items[index]
    if change.list == "views":
        if index is None:
            raise InputError(
                "a view begins with its photograph", None, place, "send the photograph"
            )
        kept = {f: there[f] for f in _NOT_YOURS["views"] if f in there}
        _refuse_kept("views", change.item, there, place)
        item = {**change.item, **kept}
    else:
        item = dict(change.item)
    if index is None:
        items.append(item)
    else:
        items[index] = item
    state[change.list] = items


def _patch(state: Plain, change: Patch, place: str) -> None:
    items = _items(state, change.list)
    index = _index(items, change.id)
    if index is None:
        raise _nothing(change.list, change.id, place)
    if "id" in change.fields and change.fields["id"] != change.id:
        raise InputError("an id stays as it is", None, f"{place}.fields.id", "make a new item")
    _refuse_kept(change.list, change.fields, items[index], f"{place}.fields")
    items[index] = _merged(items[index], change.fields)
    state[change.list] = items


def _remove(state: Plain, name: str, key: str, with_users: bool, place: str) -> None:
    items = _items(state, name)
    index = _index(items, key)
    if index is None:
        raise _nothing(name, key, place)
    users = [
        (user_list, field, user)
        for user_list, field, target in REFERENCES
        if target == name
        for user in _items(state, user_list)
        if user.get(field) == key and not (user_list == name and user.get("id") == key)
    ]
    if users and not with_users:
        named = ", ".join(f"{where} {user.get('id', '')}".strip() for where, _, user in users[:6])
        raise InputError(
            f"{key} is still used by {named}", None, place, "remove these too, or change them first"
        )
    del items[index]
    state[name] = items
    for user_list, field, user in users:
        if (user_list, field) in _LOOSE:
            _forget(state, user_list, user, field)
        elif "id" in user and _index(_items(state, user_list), user["id"]) is not None:
            _remove(state, user_list, user["id"], True, place)
        elif "id" not in user:
            state[user_list] = [item for item in _items(state, user_list) if item != user]


_LOOSE = (("obstructions", "distance_from"), ("views", "spot"), ("scans", "antenna"))
"""References that may be left open: what has them outlives what they name."""


def _forget(state: Plain, user_list: str, user: dict[str, Any], field: str) -> None:
    """Drop a loose reference."""
    without = {name: value for name, value in user.items() if name != field}
    state[user_list] = [without if item == user else item for item in _items(state, user_list)]


def _nothing(name: str, key: str, place: str) -> InputError:
    return InputError(
        f"none of the {name} is called {key}", None, place, "somebody may have removed it"
    )
