"""Answers as plain data for other programs and for tables: numbers as they are, wording added."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from skyview.report.reception_words import cause_text, cure_text, customer_sentence
from skyview.survey.results import Cure, PathRow, Why


def cure_record(cure: Cure) -> dict[str, Any]:
    """A cure with its sentence."""
    return {**asdict(cure), "text": cure_text(cure)}


def path_record(row: PathRow) -> dict[str, Any]:
    """A path row as JSON has it."""
    return {**asdict(row), "cures": [cure_record(cure) for cure in row.cures]}


def flat_margin(margin: Mapping[str, float] | None) -> dict[str, float | None]:
    """A margin in three columns.

    >>> flat_margin({"p10": -1.5, "p50": 3.0, "p90": 7.0})
    {'margin_p10_db': -1.5, 'margin_p50_db': 3.0, 'margin_p90_db': 7.0}
    """
    known = margin or {}
    return {f"margin_{name}_db": known.get(name) for name in ("p10", "p50", "p90")}


def flat_record(row: PathRow) -> dict[str, Any]:
    """A path row for a spreadsheet: the margin in three columns, causes and cures as text."""
    record = asdict(row)
    margin = record.pop("margin_db")
    losses, _ = record.pop("losses_db"), record.pop("cures")
    return {
        **record,
        **flat_margin(margin),
        "losses": "; ".join(f"{cause} {db:.1f} dB" for cause, db in losses.items()),
        "cures": "; ".join(
            f"{cure.code} {cure.gain_db:.1f} dB to {cure.probability:.2f}" for cure in row.cures
        ),
    }


BATCH_COLUMNS = (
    *("survey", "title", "spot", "antenna_height_m", "antenna", "station", "rf_channel", "path"),
    *("obstruction_loss_db", "margin_p10_db", "margin_p50_db", "margin_p90_db"),
    *("reception", "reception_probability", "old_reception", "old_reception_probability"),
    *("changed", "change", "problem"),
)
"""Columns of the table of many surveys; ``problem`` stands in rows of its own."""


def batch_record(survey: str, row: Mapping[str, Any]) -> dict[str, Any]:
    """A row of one of many surveys as JSON has it."""
    return {"survey": survey, **row}


def flat_batch_record(survey: str, row: Mapping[str, Any]) -> dict[str, Any]:
    """The same for a spreadsheet: the margin in three columns."""
    return {**batch_record(survey, row), **flat_margin(row["margin_db"])}


def why_record(why: Why) -> dict[str, Any]:
    """One station explained, as JSON has it."""
    row = why.row
    return {
        "station": row.station,
        "sentence": customer_sentence(why),
        "spot": row.spot,
        "antenna_height_m": row.antenna_height_m,
        "antenna": row.antenna,
        "leaf": why.leaf,
        "reception": row.reception,
        "reception_probability": row.reception_probability,
        "margin_db": row.margin_db and asdict(row.margin_db),
        "other_leaf_reception": why.other_leaf,
        "other_leaf_probability": why.other_leaf_probability,
        "missing": list(why.missing),
        "causes": [{**asdict(cause), "text": cause_text(cause)} for cause in why.causes],
        "cures": [cure_record(cure) for cure in row.cures],
    }
