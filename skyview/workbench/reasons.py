"""Why one station comes in or not: the reasons at once, what would cure it when that is found."""

from __future__ import annotations

from typing import Any

from skyview.errors import InputError
from skyview.report.reception_words import caution, standing
from skyview.report.records import why_record
from skyview.survey.assess import assess_scene
from skyview.survey.models import Survey
from skyview.survey.results import PathRow, Why
from skyview.survey.scene import Leaf
from skyview.survey.why import explained
from skyview.workbench.answers import Answers, Position
from skyview.workbench.basis import answer_basis
from skyview.workbench.jobs import Jobs, Report


def reason_message(
    answers: Answers, jobs: Jobs, survey: Survey, position: Position, station: str
) -> dict[str, Any]:
    """One station explained; the cures are long work, which this begins.

    InputError for an unknown station.
    """
    row = _row(position.rows, station)
    if row is None:
        raise InputError(f"no station is called {station}", None, "station", "choose another")
    leaf = position.leaf
    other: Leaf = "out" if leaf == "in" else "in"
    there = answers.assessed(survey, position.spot, position.height_m, other)
    other_row = _row(there.rows, station)
    assert other_row is not None

    def work(report: Report) -> Why:
        scene = answers.scene(survey, position.spot, position.height_m, leaf)
        found = assess_scene(scene, stations=[station], cures=True)
        return explained(survey, found, found.rows[0], leaf, other_row)

    basis = answer_basis(survey)
    job = jobs.start(
        "why",
        (basis, position.spot, position.height_m, leaf, station),
        {"station": station, "revision": survey.revision},
        work,
        basis=basis,
    )
    job.raise_fault()
    state = job.state
    told = job.found if state == "done" else None
    why = told or explained(survey, position.found, row, leaf, other_row)
    record = why_record(why)
    return {
        "format": "skyview.why",
        "version": 1,
        "revision": survey.revision,
        "state": state,
        "job": job.id,
        "warnings": list(position.found.warnings),
        **record,
        "height_m": record["antenna_height_m"],
        "standing": standing(why),
        "caution": caution("roof"),
    }


def _row(rows: tuple[PathRow, ...], station: str) -> PathRow | None:
    return next((row for row in rows if row.station == station), None)
