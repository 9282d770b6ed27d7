"""Answers as plain data for other programs and for tables: numbers as they are, wording added."""

from __future__ import annotations

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


def flat_record(row: PathRow) -> dict[str, Any]:
    """A path row for a spreadsheet: the margin in three columns, causes and cures as text."""
    record = asdict(row)
    margin = record.pop("margin_db") or dict.fromkeys(("p10", "p50", "p90"))
    losses, _ = record.pop("losses_db"), record.pop("cures")
    return {
        **record,
        **{f"margin_{name}_db": value for name, value in margin.items()},
        "losses": "; ".join(f"{cause} {db:.1f} dB" for cause, db in losses.items()),
        "cures": "; ".join(
            f"{cure.code} {cure.gain_db:.1f} dB to {cure.probability:.2f}" for cure in row.cures
        ),
    }


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
