"""Ids that people can type and that are unique in their list."""

from __future__ import annotations

from skyview.survey.lists.reading import Notes, Record

LONGEST_ID = 64
"""Letters that an id of the survey file may have."""


def name_each(records: list[Record], letter: str, notes: Notes) -> None:
    """Give each record an id: its own, one from its name, or the letter and a number.

    Blanks become hyphens, and what comes twice gets -2, -3, ... All changes are noted.

    >>> records = [{"id": "QALD", "name": None}, {"id": "QALD", "name": None}]
    >>> name_each(records, "S", notes := Notes())
    >>> [record["id"] for record in records], notes.sentences()
    (['QALD', 'QALD-2'], ['ids made unique (1 row: QALD-2)'])
    """
    own = [_typable(record["id"] or record["name"] or "") for record in records]
    taken, used = set(own), set()
    tried: dict[str, int] = {}
    for number, (record, wanted) in enumerate(zip(records, own, strict=True), start=1):
        base = found = wanted or f"{letter}{number}"
        while found in used or (found != wanted and found in taken):
            tried[base] = tried.get(base, 1) + 1
            suffix = f"-{tried[base]}"
            found = base[: LONGEST_ID - len(suffix)] + suffix
        if found != base:
            notes.add("ids made unique", found)
        if not wanted:
            notes.add("rows without id or name numbered", found)
        elif not record["id"]:
            notes.add("ids taken from names", found)
        elif wanted != record["id"]:
            notes.add("ids made typable: no blanks, at most 64 letters", found)
        record["id"] = found
        used.add(found)


def _typable(text: str) -> str:
    return "-".join(text.split())[:LONGEST_ID]
