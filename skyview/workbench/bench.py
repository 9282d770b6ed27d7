"""The workbench as one object: desk, pictures, answers, work, all of one survey's folder."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from skyview.workbench.answers import Answers
from skyview.workbench.desk import Desk, Outcome
from skyview.workbench.events import Hub
from skyview.workbench.jobs import Jobs
from skyview.workbench.patches import Patch
from skyview.workbench.pictures import Pictures
from skyview.workbench.poses import pose_message

WATCH_S = 1.0
"""So often it is looked whether another program saved the survey."""

Invite = Callable[[], tuple[str, str]]
"""Gives a new address with its key, and the address as an image (SVG text)."""


@dataclass
class Bench:
    """Everything that the routes need."""

    folder: Path
    invite: Invite | None = None
    hub: Hub = field(default_factory=Hub)

    def __post_init__(self) -> None:
        self.desk = Desk(self.folder, self.hub)
        self.jobs = Jobs(self.hub)
        self.pictures = Pictures(self.folder, self.jobs)
        self.answers = Answers()

    async def watch(self) -> None:
        """Tell the pages when another program saves the survey; runs until it is cancelled."""
        while True:
            await asyncio.sleep(WATCH_S)
            with contextlib.suppress(Exception):
                await asyncio.to_thread(self.desk.watch)

    def hello(self) -> dict[str, Any]:
        """The greeting of every stream of events."""
        is_open = self.desk.is_open
        return {
            "revision": self.desk.survey().revision if is_open else None,
            "history": self.desk.history(),
            "jobs": self.jobs.all(),
        }

    def change_message(self, outcome: Outcome, **more: Any) -> dict[str, Any]:
        """What a change, an undo or an upload answers."""
        views = {view.id: view for view in outcome.survey.views}
        poses = [
            pose_message(outcome.survey, views[name])
            for name in outcome.calibrated
            if name in views
        ]
        return {
            "format": "skyview.change",
            "version": 1,
            "revision": outcome.survey.revision,
            "history": outcome.history,
            "label": outcome.label,
            **news(outcome.patch),
            "poses": poses,
            "notes": list(outcome.notes),
            "solve_ms": outcome.solve_ms,
            **more,
        }

    def stale_message(self, base: int) -> dict[str, Any]:
        """What a page needs that is behind: what is new, or the whole survey."""
        patch = self.desk.patch_since(base)
        state = self.desk.state()
        return {
            "message": "somebody changed the survey meanwhile",
            "field": "base",
            "mend": "look at what is new and repeat the change",
            "code": "stale",
            "revision": state["revision"],
            "history": self.desk.history(),
            **news(patch or []),
            "survey": state if patch is None else None,
        }


def news(patch: Patch) -> dict[str, Any]:
    """A patch as the page takes it: each thing as it is now, and the new order of lists."""
    changed: list[dict[str, Any]] = []
    for entry in patch:
        if "list" in entry:
            changed.append({"list": entry["list"], "id": entry["id"], "item": entry["new"]})
        elif "part" in entry:
            changed.append({"part": entry["part"], "value": entry["new"]})
    order = {entry["order"]: entry["new"] for entry in patch if "order" in entry}
    return {"changed": changed, "order": order}
