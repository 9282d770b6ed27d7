"""What differs between two states of a survey, item by item, and how to go from one to the other.

States are plain data as in the survey file. A patch is plain data too, so that it can be kept in
a journal: entries ``{"list", "id", "old", "new"}``, ``{"part", "old", "new"}`` and, where a list's
members changed, ``{"order", "old", "new"}``; ``None`` stands for what is not there.
"""

from __future__ import annotations

from typing import Any

from skyview.survey.rules import LISTS_WITH_IDS

Plain = dict[str, Any]
Patch = list[dict[str, Any]]

_KEPT = ("format", "version", "revision")


class ChangedSinceError(Exception):
    """The thing to be put back was changed by somebody else."""

    def __init__(self, place: str) -> None:
        super().__init__(place)
        self.place = place


def patch_between(old: Plain, new: Plain) -> Patch:
    """What leads from one state to the other; the revision is left out.

    >>> before = {"title": "a", "spots": [{"id": "ridge"}]}
    >>> patch_between(before, {"title": "b", "spots": [{"id": "ridge"}]})
    [{'part': 'title', 'old': 'a', 'new': 'b'}]
    """
    found: Patch = []
    for name in dict.fromkeys([*old, *new]):
        if name in _KEPT or old.get(name) == new.get(name):
            continue
        if name not in LISTS_WITH_IDS:
            found.append({"part": name, "old": old.get(name), "new": new.get(name)})
            continue
        before, after = _by_id(old, name), _by_id(new, name)
        found += [
            {"list": name, "id": key, "old": before.get(key), "new": after.get(key)}
            for key in dict.fromkeys([*before, *after])
            if before.get(key) != after.get(key)
        ]
        if list(before) != list(after):
            found.append({"order": name, "old": list(before), "new": list(after)})
    return found


def inverse(patch: Patch) -> Patch:
    """The patch that leads back."""
    return [{**entry, "old": entry["new"], "new": entry["old"]} for entry in patch]


def applied(state: Plain, patch: Patch) -> Plain:
    """The state after a patch; ChangedSinceError where it is not as the patch found it."""
    after = dict(state)
    for entry in patch:
        if "part" in entry:
            name = entry["part"]
            if after.get(name) != entry["old"]:
                raise ChangedSinceError(name)
            after[name] = entry["new"]
            if entry["new"] is None:
                del after[name]
        elif "list" in entry:
            name, key = entry["list"], entry["id"]
            items = _by_id(after, name)
            if items.get(key) != entry["old"]:
                raise ChangedSinceError(f"{name}.{key}")
            if entry["new"] is None:
                del items[key]
            else:
                items[key] = entry["new"]
            after[name] = list(items.values())
    for entry in patch:
        if "order" in entry:
            items = _by_id(after, entry["order"])
            wanted = [key for key in entry["new"] if key in items]
            order = [*wanted, *(key for key in items if key not in wanted)]
            after[entry["order"]] = [items[key] for key in order]
    return after


def _by_id(state: Plain, name: str) -> dict[str, Any]:
    return {item["id"]: item for item in state.get(name) or []}
