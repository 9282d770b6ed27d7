"""A group of verbs that asks what was meant by one that it does not have."""

from __future__ import annotations

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
