"""What click's own commands lack: asking which verb was meant, and taking negative numbers."""

from __future__ import annotations

import re
from difflib import get_close_matches

import click


class Verbs(click.Group):
    """Names the verb that is not there, and the nearest that is."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        known = self.list_commands(ctx)
        if args[0] not in known:
            near = get_close_matches(args[0], known, 1)
            meant = f"; did you mean {near[0]}?" if near else ""
            ctx.fail(f"there is no verb {args[0]}{meant}")
        return super().resolve_command(ctx, args)


class Figures(click.Command):
    """A verb whose arguments may be negative numbers, which click takes for options.

    An option that it does not have is still refused, and the nearest named.
    """

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        positive = [re.sub(r"^-(?=\.?\d)", "", word) for word in args]
        self.make_parser(ctx).parse_args(positive)
        ctx.ignore_unknown_options = True
        return super().parse_args(ctx, args)
