"""Calls that cannot be meant: refused before any work, in a sentence that says what to do."""

from __future__ import annotations

import pytest

WRITERS = [
    ("paths", "none", "-o"),
    ("draw", "none", "-o"),
    ("spots", "none", "-o"),
    ("spots", "none", "--draw"),
    ("locate", "none", "v", "1", "2", "-o"),
    ("stations", "none", "-o"),
    ("batch", "none", "--stations", "none.csv", "-o"),
    ("brief", "none", "-o"),
    ("sheet", "none", "-o"),
    ("job", "none", "-o"),
    ("card", "-o"),
    ("pack", "none", "-o"),
    ("skyline", "none.jpg", "-o"),
    ("sweep", "none1.jpg", "none2.jpg", "-o"),
]
"""Verbs that write a file, called on what is not there: looking at it would be another refusal."""

NAMES = {"spots --draw": ".png", "draw": ".png", "card": ".pdf", "brief": ".pdf", "sheet": ".pdf",
         "job": ".pdf", "pack": ".zip", "skyline": ".png", "sweep": ".jpg"}  # fmt: skip


@pytest.mark.parametrize("call", WRITERS, ids=" ".join)
def test_a_file_s_name_is_looked_at_before_any_work(run, tmp_path, call) -> None:
    refused = run.refused(*call, tmp_path / "answer.xlsx")
    assert "answer.xlsx" in refused
    assert "; end its name in ." in refused
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("call", WRITERS, ids=" ".join)
def test_a_file_s_folder_is_looked_at_before_any_work(run, tmp_path, call) -> None:
    ending = NAMES.get(f"{call[0]} --draw" if call[-1] == "--draw" else call[0], ".csv")
    refused = run.refused(*call, tmp_path / "nowhere" / f"answer{ending}", code=1)
    assert refused.endswith("there is no such folder; make the folder first.")


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (("scan", "s", "scan.csv", "--row", "21 yes"), "a FILE or from rows, not from both"),
        (("scan", "s", "--strict"), "which file?"),
        (("scan", "s", "--all-channels"), "which scan?"),
        (("photo", "a.jpg", "--spot", "roof"), "name the survey with --into"),
        (("sweep", "a.jpg", "b.jpg", "-o", "p.jpg", "--id", "x"), "name the survey with --into"),
        (("new", "n", "--latitude", "3", "--place-from", "a.jpg"), "the place is told twice"),
        (("new", "n", "--spot", "roof", "0", "0"), "see: skyview new --help"),
        (("set", "s", "--add", "spots", "gable"), 'write it as in {"id": "gable"'),
        (("stations", "s", "l.csv", "--columns", "id,foo"), "--columns: 'foo' is no known column"),
        (("mark", "outlin", "s"), "there is no verb outlin; did you mean outline?"),
        (("mark",), "line, outline, same, measure, distance, --accept"),
        (("mark", "--accept", "s"), "see: skyview mark accept --help"),
        (("mark", "point", "s", "v", "1", "2", "--sun", "--magnetic"), "give them with --bearing"),
    ],
    ids=lambda part: " ".join(part) if isinstance(part, tuple) else "",
)
def test_what_cannot_be_meant(run, tmp_path, monkeypatch, call, said) -> None:
    monkeypatch.chdir(tmp_path)
    run.ok("new", "s", "--latitude", "40", "--longitude", "-100")
    (tmp_path / "l.csv").write_text("Q1,40\n")
    assert said in run.refused(*call)


@pytest.mark.parametrize("typed", ["21.6.2026", "2026-06-31", "June", "", "-4", "2026-06-21T12"])
def test_a_day_that_is_none(run, typed) -> None:
    refused = run.refused("brief", "none", "-o", "brief.pdf", "--day", typed)
    assert refused == (
        f"skyview: --day: {typed!r} is no day; write year, month and day as in 2026-06-21."
    )


@pytest.mark.parametrize("typed", ["0001-01-01", "2019-12-31", "2051-01-01", "9999-12-31"])
def test_a_day_without_a_known_sun(run, typed) -> None:
    refused = run.refused("brief", "none", "-o", "brief.pdf", "--day", typed)
    assert refused == (
        "skyview: --day: the sun's place is known for 2020 to 2050; give a day of those years."
    )


def test_a_mend_names_the_survey_s_own_folder(run, tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    run.ok("new", "s", "--latitude", "40", "--longitude", "-100")
    assert run.refused("spots", "s").endswith("skyview set s limits.lines_checked=yes.")


def test_a_mark_in_a_frame_that_is_not_there(run, samples, tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    run.ok("new", "s", "--latitude", "40", "--longitude", "-100")
    run.ok("photo", samples / "gable_sector.jpg", "--into", "s", "--id", "gable")
    words = ("mark", "point", "s", "gable", "5", "6", "--bearing", "9", "--frame", "turn_1.jpg")
    assert "views.gable.frames: no frame is called turn_1.jpg; known: none" in run.refused(*words)
