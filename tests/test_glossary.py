"""Every name that the glossary gives exists: fields of the survey, columns, options."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path
from typing import Any

import click
import pytest

from skyview.cli.main import VERBS, main
from skyview.report.records import flat_record
from skyview.survey.models import Survey
from skyview.survey.results import PathRow

TABLE = Path(__file__).parents[1] / "DEVELOPERS.md"
HEADER = "| term | meaning | unit | where it stands |"


def places() -> list[str]:
    """What stands in backticks in the last column."""
    below = TABLE.read_text(encoding="utf-8").partition(f"{HEADER}\n")[2]
    rows = [line for line in below.partition("\n\n")[0].splitlines()[1:] if line.startswith("|")]
    found = [name for row in rows for name in re.findall("`([^`]+)`", row.rsplit(" | ", 1)[1])]
    assert len(rows) > 20
    assert len(found) > len(rows)
    return list(dict.fromkeys(found))


def options(command: click.Command) -> set[str]:
    found = {name for param in command.params for name in param.opts}
    if isinstance(command, click.Group):
        found |= {name for below in command.commands.values() for name in options(below)}
    return found


@pytest.fixture(scope="module")
def known() -> set[str]:
    """Fields of the survey as list.field, columns of the paths' table, options of all verbs."""
    schema = Survey.model_json_schema()

    def below(part: dict[str, Any]) -> dict[str, Any]:
        name = part.get("$ref") or part.get("items", {}).get("$ref") or ""
        return schema["$defs"].get(name.rpartition("/")[2], {}).get("properties", {})

    names = {f"{a}.{b}" for a, part in schema["properties"].items() for b in below(part)}
    nothing: dict[str, Any] = dict.fromkeys(f.name for f in fields(PathRow))
    columns = set(flat_record(PathRow(**nothing | {"losses_db": {}, "cures": ()})))
    context = click.Context(main)
    verbs = [main.get_command(context, verb) for verb in VERBS]
    return names | columns | {name for verb in verbs if verb for name in options(verb)}


@pytest.mark.parametrize("place", places())
def test_each_name_of_the_glossary_exists(known: set[str], place: str) -> None:
    assert place in known
