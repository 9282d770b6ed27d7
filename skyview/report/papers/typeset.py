"""A paper as PDF/UA-1, set by typst: text reaches it as data and is never read as markup."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any, Final, Literal

import typst

from skyview.report.papers.blocks import Block, Columns, Paper, Picture

Sheet = Literal["a4", "us-letter"]
"""The paper's size: ISO 216 A4, or ANSI A."""

STANDARD: Final = "ua-1"
"""ISO 14289-1: tagged, titled, with text alternatives."""


LONGEST_WORD: Final = 20
_BREAK: Final = "\u200b"


def pdf_of(paper: Paper, sheet: Sheet = "a4") -> bytes:
    """The paper as a PDF. Fonts are the ones that typst carries, embedded.

    >>> pdf_of(Paper("A title", "One sentence.", ()))[:5]
    b'%PDF-'
    """
    pictures: list[Picture] = []
    data = {
        "sheet": sheet,
        "title": paper.title,
        "lead": breakable(paper.lead),
        "left": breakable(paper.left),
        "right": paper.right,
        "foot": paper.foot,
        "language": paper.language,
        "type_size": paper.type_size,
        "description": paper.description or paper.title,
        "blocks": _plain(paper.blocks, pictures),
    }
    with tempfile.TemporaryDirectory(prefix="skyview-") as folder:
        root = Path(folder)
        template = files("skyview.report.papers") / "paper.typ"
        (root / "paper.typ").write_bytes(template.read_bytes())
        for number, picture in enumerate(pictures):
            (root / _file_of(number, picture)).write_bytes(picture.content)
        compiler = typst.Compiler(
            root / "paper.typ",
            root=root,
            font_paths=typst.Fonts(include_system_fonts=False),
            sys_inputs={"paper": json.dumps(data, ensure_ascii=False)},
        )
        made = compiler.compile(format="pdf", pdf_standards=[STANDARD])
    assert isinstance(made, bytes)
    return made


def breakable(text: str) -> str:
    """The text with places to break in words that no column holds.

    >>> breakable("oak"), len(breakable("an_oak_with_a_name_of_its_own"))
    ('oak', 36)
    """
    return " ".join(
        word if len(word) <= LONGEST_WORD else _BREAK.join(_pieces(word))
        for word in text.split(" ")
    )


def _pieces(word: str) -> list[str]:
    """At the underscores of an id where it has any."""
    return re.findall(r"[^_]{1,12}_?|_", word)


def _plain(blocks: Sequence[Block], pictures: list[Picture]) -> list[dict[str, Any]]:
    """Blocks as JSON; pictures are gathered and named by their number."""
    return [_one(block, pictures) for block in blocks]


def _one(block: Block, pictures: list[Picture]) -> dict[str, Any]:
    kind = type(block).__name__.lower()
    if isinstance(block, Columns):
        columns = [_plain(column, pictures) for column in block.columns]
        return {"kind": kind, "columns": columns, "shares": list(block.shares)}
    if isinstance(block, Picture):
        pictures.append(block)
        named = {k: _value(v) for k, v in vars(block).items() if k != "content"}
        return {"kind": kind, "file": _file_of(len(pictures) - 1, block), **named}
    return {"kind": kind, **_values(vars(block))}


def _file_of(number: int, picture: Picture) -> str:
    return f"{number}.{picture.form}"


def _values(fields: dict[str, Any]) -> dict[str, Any]:
    return {name: _value(value) for name, value in fields.items()}


def _value(value: Any) -> Any:
    if isinstance(value, str):
        return breakable(value)
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple):
        return [_value(part) for part in value]
    return _values(vars(value)) if hasattr(value, "__dataclass_fields__") else value
