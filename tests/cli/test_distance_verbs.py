"""``mark same``, ``mark measure``, ``mark distance`` and ``draw --carry`` on the sample survey."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from sample_house import lay_out


def load(folder) -> dict:
    return json.loads((folder / "survey.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def laid_out(tmp_path_factory):
    """The sample survey, to be copied, not changed."""
    return lay_out(tmp_path_factory.mktemp("street") / "survey")


@pytest.fixture
def street(laid_out, tmp_path):
    """A copy of the sample survey."""
    return Path(shutil.copytree(laid_out, tmp_path / "survey"))


def test_distances_are_shown_and_kept_only_on_demand(run, street) -> None:
    before = load(street)
    shown = run.ok("mark", "distance", street, "oak", "pole", "--json")
    assert load(street) == before
    assert shown.json["format"] == "skyview.distance"
    rows = {row["obstruction"]: row for row in shown.json["rows"]}
    assert set(rows) == {"oak", "pole"}
    low, high = rows["oak"]["combined"]["low_m"], rows["oak"]["combined"]["high_m"]
    assert low < 23.06 < high
    table = run.ok("mark", "distance", street, "oak", "--keep")
    assert "kept: oak" in table.out
    oak = next(t for t in load(street)["obstructions"] if t["id"] == "oak")
    assert oak["distance_by"].startswith("combined: ")
    assert oak["measured"][0]["by"] == "laser"
    assert load(street)["revision"] == before["revision"] + 1


def test_a_contradiction_is_said_and_nothing_kept(run, street) -> None:
    run.ok("mark", "measure", street, "pole", 40, "--by", "tape", "--view", "gable")
    outcome = run.ok("mark", "distance", street, "pole", "--keep")
    assert "contradict each other about pole" in outcome.err
    assert "they disagree" in outcome.out
    assert "kept: nothing" in outcome.out
    pole = next(t for t in load(street)["obstructions"] if t["id"] == "pole")
    assert (pole["distance_m"], len(pole["measured"])) == (18.6, 1)


def test_a_size_gives_a_distance(run, street) -> None:
    run.ok(
        "mark", "measure", street, "house_north", "--view", "gable", "--size", 2.0,
        "--between", "1000,700 1000,760",
    )  # fmt: skip
    house = next(t for t in load(street)["obstructions"] if t["id"] == "house_north")
    (one,) = house["measured"]
    assert one["by"] == "size"
    assert 15.0 < one["distance_m"] < 30.0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["pole", "--view", "gable"], "give either METRES"),
        (["pole", "4", "--view", "attic"], "no view is called attic"),
        (["--view", "gable", "--", "pole", "-4"], "more than 0 m"),
        (["elm", "4", "--view", "gable"], "no obstruction is called elm"),
        (["pole", "--view", "gable", "--size", "2"], "needs two pixels"),
    ],
)
def test_measurements_that_cannot_be(run, street, arguments, said) -> None:
    before = load(street)
    assert said in run.refused("mark", "measure", street, *arguments)
    assert load(street) == before


def test_what_two_views_show_is_proposed_and_joined(run, street) -> None:
    data = load(street)
    data["obstructions"].append({"id": "thing", "kind": "tree", "kind_by": "guess"})
    for outline in data["outlines"]:
        if outline["obstruction"] == "oak" and outline["view"] == "gable":
            outline["obstruction"] = "thing"
        elif outline["obstruction"] == "oak" and outline["view"] == "mast":
            outline["obstruction"] = "gone"
    data["outlines"] = [o for o in data["outlines"] if o["obstruction"] != "gone"]
    (street / "survey.json").write_text(json.dumps(data), encoding="utf-8")
    rows = run.ok("mark", "same", street, "--json").json["rows"]
    assert {"oak", "thing"} == {rows[0]["first"], rows[0]["second"]}
    assert load(street) == data
    run.ok("mark", "same", street, "oak", "thing")
    after = load(street)
    assert all(t["id"] != "thing" for t in after["obstructions"])
    assert sum(o["obstruction"] == "oak" for o in after["outlines"]) == 2
    assert run.ok("mark", "same", street).out.startswith("no two obstructions")


def test_outlines_are_drawn_over_a_photo_from_another_place(run, street, tmp_path) -> None:
    target = tmp_path / "carried.svg"
    run.ok("draw", street, "--view", "gable", "--carry", "sweep", "-o", target)
    text = target.read_text(encoding="utf-8")
    assert "Outlines of “sweep” carried to where “gable” was taken" in text
    refused = run("draw", street, "--view", "gable", "--carry", "gable", "-o", tmp_path / "x.png")
    assert refused.code == 2
    assert "from one view to another" in refused.err
    both = run("draw", street, "--carry", "sweep", "--loss-at", 500, "-o", tmp_path / "x.png")
    assert both.code == 2
