"""The workbench as one object: desk, pictures, answers, work, all of one survey's folder."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from skyview.errors import SkyviewError
from skyview.workbench.answers import Answers
from skyview.workbench.desk import Desk, NoSurveyError, Outcome
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
        self.answers = Answers(self.jobs)

    async def watch(self) -> None:
        """Tell the pages when another program saves the survey; runs until it is cancelled."""
        while True:
            await asyncio.sleep(WATCH_S)
            with contextlib.suppress(SkyviewError, NoSurveyError, OSError):
                await asyncio.to_thread(self.desk.watch)

    def hello(self) -> dict[str, Any]:
        """The greeting of every stream of events."""
        revision, history = None, {"undo": None, "redo": None}
        # A survey that cannot be read is told by the first request for it, not by the greeting.
        with contextlib.suppress(SkyviewError, NoSurveyError):
            revision, history = self.desk.survey().revision, self.desk.history()
        return {
            "revision": revision,
            "history": history,
            "jobs": self.jobs.all(),
        }

    def change_message(self, outcome: Outcome, **more: Any) -> dict[str, Any]:
        """What a change, an undo or an upload answers."""
        poses, notes = [], list(outcome.notes)
        for view in outcome.survey.views:
            if view.id in outcome.calibrated:
                try:
                    poses.append(pose_message(outcome.survey, view))
                except SkyviewError as error:
                    # The change is stored: what cannot be told of it is no refusal.
                    notes.append(f"view {view.id}: {error.message}")
        return {
            "format": "skyview.change",
            "version": 1,
            "revision": outcome.survey.revision,
            "history": outcome.history,
            "label": outcome.label,
            **news(outcome.patch),
            "poses": poses,
            "notes": notes,
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
