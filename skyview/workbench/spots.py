"""Spots side by side, as the command line has them: what is refused, what the others bring."""

from __future__ import annotations

from collections import Counter
from typing import Any

from skyview.errors import InputError
from skyview.report.mount_words import refusal_sentence
from skyview.report.spot_words import best_sentence, height_sentences, refused_lines
from skyview.report.words import PATH_WORDS, path_word
from skyview.survey.budget.words import reception_word
from skyview.survey.models import Survey
from skyview.survey.mounts import Mounts, mounts_of, unjudged
from skyview.survey.refusals import require_lines_checked
from skyview.survey.scene import Leaf
from skyview.survey.tally import MountRow
from skyview.workbench.basis import answer_basis
from skyview.workbench.jobs import Jobs


def spots_message(jobs: Jobs, survey: Survey, leaf: Leaf) -> dict[str, Any]:
    """Every spot at each of its heights: refusals at once, all else when it is found.

    InputError where nobody looked for power lines: then nothing is said of any spot.
    """
    try:
        require_lines_checked(survey)
    except InputError as error:
        mend = "then tick that power lines were looked for"
        raise InputError(error.message, None, error.field, mend) from None
    basis = answer_basis(survey)
    job = jobs.start(
        "spots",
        (basis, leaf),
        {"revision": survey.revision},
        lambda report: mounts_of(survey, leaf=leaf),
        basis=basis,
    )
    job.raise_fault()
    state = job.state
    found: Mounts | None = job.found if state == "done" else None
    rows = found.rows if found else unjudged(survey)
    return {
        "format": "skyview.spots",
        "version": 1,
        "revision": survey.revision,
        "leaf": leaf,
        "state": state,
        "job": job.id,
        "refused": refused_lines(rows),
        "best": best_sentence(found) if found else None,
        "more": height_sentences(found) if found else [],
        "warnings": list(found.warnings) if found else [],
        "rows": [_row_message(row, found) for row in rows],
    }


def _row_message(row: MountRow, found: Mounts | None) -> dict[str, Any]:
    words = Counter(row.paths.values())
    place = (row.spot, row.antenna_height_m)
    standing = None
    if found is not None and row.refused is None:
        standing = "best" if place == found.best else "alike" if place in found.alike else None
    return {
        "spot": row.spot,
        "antenna_height_m": row.antenna_height_m,
        "words": {word: words[word] for word in PATH_WORDS},
        "sure": row.sure,
        "likely": row.likely,
        "worst_must_have": row.worst_must_have,
        "worst_probability": row.worst_probability,
        "refused": refusal_sentence(row.refused) if row.refused else None,
        "standing": standing,
        "stations": [
            {
                "station": station,
                "path": path,
                "word": path_word(path),
                "obstruction_loss_db": row.losses_db[station],
                "reception": reception_word(
                    row.probabilities.get(station, 0.0), station in row.probabilities
                ),
                "reception_probability": row.probabilities.get(station),
            }
            for station, path in row.paths.items()
        ],
    }
