"""One item of a survey's list, asked for by its id."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Protocol, TypeVar

from skyview.errors import InputError


class _Named(Protocol):
    @property
    def id(self) -> str: ...


Item = TypeVar("Item", bound=_Named)


def known_item(
    items: Iterable[Item], name: str, what: str, *, field: str | None = None, hint: str = "none"
) -> Item:
    """The item called so; InputError names those that there are, or gives the hint if none.

    A name spelt nearly so is asked about. ``what`` is the word for one of them; ``field`` the
    list, if not ``what`` with an s.

    >>> from skyview.survey.models import Spot
    >>> known_item([Spot(id="ridge", enu_m=(0.0, 0.0, 5.0))], "ridge", "spot").id
    'ridge'
    """
    known = {item.id: item for item in items}
    if name not in known:
        by_case = {key.casefold(): key for key in known}
        near = get_close_matches(name.casefold(), by_case, 1)
        meant = f"did you mean {by_case[near[0]]}? " if near else ""
        raise InputError(
            f"no {what} is called {name}",
            field=field or f"{what}s",
            mend=f"{meant}known: {', '.join(known) or hint}",
        )
    return known[name]
