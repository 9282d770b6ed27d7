"""New records of a list laid over the items that a survey has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any


def updated(
    old: Mapping[str, dict[str, Any]], records: Sequence[Mapping[str, Any]]
) -> dict[str, dict[str, Any]]:
    """Items by id with what new records tell; what a record leaves open stays as it was.

    ``must_have`` is the user's own word: only a record that says yes changes it.

    >>> updated({"Q": {"id": "Q", "must_have": True}}, [{"id": "Q", "erp_kw": 5.0, "name": None}])
    {'Q': {'id': 'Q', 'must_have': True, 'erp_kw': 5.0}}
    """
    items = {name: dict(item) for name, item in old.items()}
    for record in records:
        told = {field: value for field, value in record.items() if value is not None}
        if not told.get("must_have", True):
            del told["must_have"]
        items[record["id"]] = {**items.get(record["id"], {}), **told}
    return items
