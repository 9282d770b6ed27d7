"""Negative numbers are values wherever a verb takes a number, and never names of options."""

from __future__ import annotations

from collections.abc import Iterator

import click
import pytest

from skyview.cli.main import main
from skyview.cli.output import NUMBER


def _verbs(group: click.Group, before: tuple[str, ...] = ()) -> Iterator[tuple[str, click.Command]]:
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        if isinstance(command, click.Group):
            yield from _verbs(command, (*before, name))
        else:
            yield " ".join((*before, name)), command


def _takes_numbers(param: click.Parameter) -> bool:
    parts = param.type.types if isinstance(param.type, click.Tuple) else [param.type]
    return NUMBER in parts


TAKERS = [
    (name, command, param)
    for name, command in _verbs(main)  # type: ignore[arg-type]
    for param in command.params
    if _takes_numbers(param)
]


@pytest.mark.parametrize(
    ("name", "command", "param"), TAKERS, ids=[f"{n} {p.name}" for n, _, p in TAKERS]
)
@pytest.mark.parametrize("number", ["-4", "-.5", "-1.5e-1"])
def test_every_number_may_be_negative(
    name: str, command: click.Command, param: click.Parameter, number: str
) -> None:
    if isinstance(param, click.Option):
        words = [param.opts[-1], *[number] * param.nargs]
    else:
        words = ["s", *[number] * (_arguments(command) - 1)]
    context = command.make_context(name, words, resilient_parsing=True)
    found = context.params[param.name or ""]
    assert float(number) in (found if isinstance(found, tuple) else (found,))


def _arguments(command: click.Command) -> int:
    return len([param for param in command.params if isinstance(param, click.Argument)])


def test_verbs_with_numbers_are_found() -> None:
    arguments = {name for name, _, param in TAKERS if isinstance(param, click.Argument)}
    assert arguments == {"mark point", "mark line", "mark measure", "locate"}
    assert len(TAKERS) > 30


def test_a_measured_distance_below_zero_is_refused_as_such(run, tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    refused = run.refused("mark", "measure", "s", "oak", "-4", "--view", "v")
    assert refused == "skyview: METRES: a distance is more than 0 m."


@pytest.mark.parametrize(
    ("call", "meant"),
    [
        (("mark", "measure", "s", "oak", "-4", "--veiw", "v"), "--view"),
        (("mark", "point", "s", "v", "-4", "5", "--landmrk", "l"), "--landmark"),
        (("mark", "line", "s", "v", "-4", "-5", "6", "-7", "--plum"), "--plumb"),
        (("locate", "s", "v", "-4", "-5", "--fram", "f"), "--frame"),
    ],
    ids=lambda part: " ".join(part[:2]) if isinstance(part, tuple) else "",
)
def test_an_option_that_is_not_there_is_still_named(run, call, meant) -> None:
    refused = run.refused(*call)
    assert "no such option" in refused
    assert meant in refused


def test_a_number_with_letters_behind_is_no_number(run) -> None:
    assert "'-4m' is no number" in run.refused("mark", "measure", "s", "oak", "-4m", "--view", "v")
