"""Plain data for programs and spreadsheets: nothing lost, nothing but numbers and text in cells."""

from __future__ import annotations

import dataclasses
import json

from skyview.report.records import flat_record, path_record
from skyview.survey.results import Cost, Cure, Margin


def told(make_row):
    cure = Cure("reaim", 9.04, 0.71, (Cost("QB", 3.0, "no"),), 90.0, cautions=("roof",))
    return dataclasses.replace(
        make_row(),
        margin_db=Margin(-3.0, 2.0, 9.0),
        reception="likely",
        reception_probability=0.6,
        losses_db={"distance": 30.04, "obstruction:oak": 3.0},
        cures=(cure,),
    )


def test_json_holds_every_field_and_the_sentence(make_row):
    row = told(make_row)
    record = json.loads(json.dumps(path_record(row)))
    assert set(record) == {field.name for field in dataclasses.fields(row)}
    assert record["margin_db"] == {"p10": -3.0, "p50": 2.0, "p90": 9.0}
    (cure,) = record["cures"]
    assert cure["text"].startswith("Turn the antenna to 90° true.")
    assert cure["costs"] == [{"station": "QB", "db": 3.0, "reception": "no"}]


def test_a_spreadsheet_gets_columns(make_row):
    record = flat_record(told(make_row))
    assert record["margin_p10_db"] == -3.0
    assert record["losses"] == "distance 30.0 dB; obstruction:oak 3.0 dB"
    assert record["cures"] == "reaim 9.0 dB to 0.71"
    bare = flat_record(make_row())
    assert (bare["margin_p50_db"], bare["losses"], bare["cures"]) == (None, "", "")
    assert set(bare) == set(record)
