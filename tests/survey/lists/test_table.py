"""Encodings, line ends, delimiters, headers and broken files."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from skyview.errors import InputError, StorageError
from skyview.survey.lists import table
from skyview.survey.lists.reading import Notes
from skyview.survey.lists.table import fitted, table_of, text_of

_TEXT = "id,name,lat,lon\nQALD,Qäldér Höhe,41.5,-97.25\nQBEL,Qbel,41.6,-97.3\n"


@pytest.mark.parametrize(
    ("encoding", "mark", "says"),
    [
        ("utf-8", b"", False),
        ("utf-8", b"\xef\xbb\xbf", False),
        ("utf-16-le", b"\xff\xfe", False),
        ("utf-16-be", b"\xfe\xff", False),
        ("utf-32-le", b"\xff\xfe\x00\x00", False),
        ("utf-16-le", b"", True),
        ("utf-16-be", b"", True),
        ("cp1252", b"", True),
    ],
)
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(
    tmp_path: Path, encoding: str, mark: bytes, says: bool, line_end: str
) -> None:
    path, notes = tmp_path / "list.csv", Notes()
    path.write_bytes(mark + _TEXT.replace("\n", line_end).encode(encoding))
    assert text_of(path, notes)[0] == _TEXT
    assert bool(notes.sentences()) == says


def test_latin_1_where_windows_1252_has_no_letter(tmp_path: Path) -> None:
    path, notes = tmp_path / "list.csv", Notes()
    path.write_bytes(b"id,name\nQALD,\x81\xe9" + b"a" * 200)
    assert text_of(path, notes)[1] == "latin-1"
    assert "Latin-1" in notes.sentences()[0]


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "empty"),
        (b" \r\n\r\n", "empty"),
        (b"\xef\xbb\xbf", "empty"),
        (b"id,lat\nQ\x00,1\n" + b"a" * 50, "line 2 holds a zero byte"),
        (b"PK\x03\x04....", "workbook or an archive"),
        (b"\xd0\xcf\x11\xe0....", "workbook"),
        (b"%PDF-1.7", "PDF"),
        (b"\x1f\x8b\x08", "compressed"),
        (b"\x89PNG\r\n", "picture"),
        (bytes(range(1, 32)) * 40, "binary"),
        (b"\xff\xfe\x00\xd8\x41", "no utf-16 text"),
    ],
)
def test_what_is_no_list(tmp_path: Path, data: bytes, reason: str) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(data)
    with pytest.raises(InputError, match=reason) as caught:
        text_of(path, Notes())
    assert caught.value.file == str(path)


def test_missing_files_and_folders(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        text_of(tmp_path / "absent.csv", Notes())
    with pytest.raises(InputError, match="no such file"):
        text_of("a\0b.csv", Notes())
    with pytest.raises(InputError, match="folder"):
        text_of(tmp_path, Notes())


def test_a_file_that_the_system_refuses(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, os.strerror(13))

    monkeypatch.setattr("builtins.open", refuse)
    with pytest.raises(StorageError, match="Permission denied"):
        text_of(tmp_path / "list.csv", Notes())


def test_a_file_too_long_for_a_list(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(table, "MOST_BYTES", 10)
    (tmp_path / "list.csv").write_text(_TEXT, encoding="utf-8")
    with pytest.raises(InputError, match="longer than"):
        text_of(tmp_path / "list.csv", Notes())


@pytest.mark.parametrize(
    ("delimiter", "name"),
    [(",", "comma"), (";", "semicolon"), ("\t", "tabulator"), ("|", "vertical bar")],
)
def test_delimiters(delimiter: str, name: str) -> None:
    text = "id,name,lat,lon\nQALD,a b,41.5,-97.25\n".replace(",", delimiter)
    found = table_of(text, "stations", None, "list.csv", Notes())
    assert found.name == name
    assert found.rows == [(2, ["QALD", "a b", "41.5", "-97.25"])]
    ordered = table_of(text.split("\n")[1], "stations", "id,name,lat,lon", "list.csv", Notes())
    assert ordered.name == name
    assert ordered.rows == [(1, ["QALD", "a b", "41.5", "-97.25"])]


def test_another_delimiter_inside_quotes_does_not_win() -> None:
    text = 'id;name;lat;lon\nQALD;"a, b, c; d";41,5;-97,25\n'
    found = table_of(text, "stations", None, "list.csv", Notes())
    assert found.rows == [(2, ["QALD", "a, b, c; d", "41,5", "-97,25"])]


def test_lines_before_and_between() -> None:
    above = "Stations of the valley\n\n# fetched\nid,lat,lon\n"
    text = f"{above}\nQA,1,2\n# note\nid,lat,lon\n--,--,--\nQB,3,4\n"
    notes = Notes()
    found = table_of(text, "stations", None, "list.csv", notes)
    assert [line for line, _ in found.rows] == [6, 10]
    assert notes.sentences() == [
        "lines up to the headers skipped, 2 in all",
        "comments, rules and repeated headers skipped, 3 in all",
    ]


def test_headers_behind_a_comment_mark() -> None:
    found = table_of("# id,lat,lon\nQA,1,2\n", "stations", None, "list.csv", Notes())
    assert sorted(found.layout.columns) == ["id", "latitude", "longitude"]
    assert found.rows == [(2, ["QA", "1", "2"])]


def test_headers_are_passed_over_where_columns_are_named() -> None:
    notes = Notes()
    found = table_of("id,lat,lon\nQA,1,2\n", "stations", "name,lat,lon", "list.csv", notes)
    assert sorted(found.layout.columns) == ["latitude", "longitude", "name"]
    assert found.rows == [(2, ["QA", "1", "2"])]
    assert notes.sentences() == ["lines up to the headers skipped, 1 in all"]


def test_no_row_of_data_is_taken_for_headers() -> None:
    text = "QA,y,x,41.5,-97.2,21\nQB,n,x,41.6,-97.2,22\n"
    found = table_of(text, "stations", "id,must_have,-,lat,lon,rf", "list.csv", Notes())
    assert [line for line, _ in found.rows] == [1, 2]


def test_columns_that_no_row_has() -> None:
    with pytest.raises(InputError, match="no row has the 4 values"):
        table_of("QA 1 2 21\n", "stations", "id,lat,lon,rf", "list.csv", Notes())


def test_line_numbers_count_lines_inside_quotes() -> None:
    text = 'id,name,lat,lon\nQA,"two\nlines",1,2\nQB,b,3,4\n'
    found = table_of(text, "stations", None, "list.csv", Notes())
    assert [line for line, _ in found.rows] == [2, 4]


def test_a_quotation_mark_that_is_never_closed() -> None:
    text = 'id,name,lat,lon\nQA,a,1,2\nQB,"b,3,4\nQC,c,5,6\n'
    found = table_of(text, "stations", None, "list.csv", Notes())
    assert [line for line, _ in found.rows] == [2, 4]
    assert found.broken == [(3, "a quotation mark opens here and is never closed")]


def test_a_quotation_mark_never_closed_in_a_long_list() -> None:
    rows = "".join(f"Q{n},name {n},1,2\n" for n in range(20_000))
    text = f'id,name,lat,lon\nQA,"a,1,2\n{rows}'
    found = table_of(text, "stations", None, "list.csv", Notes())
    assert [line for line, _ in found.broken] == [2]
    assert len(found.rows) == 20_000
    assert found.rows[-1][0] == 20_002


def test_a_line_too_long_for_a_row() -> None:
    text = f"id,name,lat,lon\nQA,{'a' * 200_000},1,2\nQB,b,3,4\n"
    found = table_of(text, "stations", None, "list.csv", Notes())
    assert found.broken == [(2, "the line is too long for a row of a list")]
    assert [line for line, _ in found.rows] == [3]


def test_no_headers_and_no_rows() -> None:
    with pytest.raises(InputError, match=r"'QALD, 41\.5, -97\.25, 21'.*--columns"):
        table_of("QALD,41.5,-97.25,21\n", "stations", None, "list.csv", Notes())
    with pytest.raises(InputError, match="no row stands below"):
        table_of("id,lat,lon\n", "stations", None, "list.csv", Notes())


def test_surplus_delimiters_at_the_ends() -> None:
    assert fitted(["", "a", "b", "", ""], 2) == ["a", "b"]
    assert fitted(["", "b"], 2) == ["", "b"]
    assert fitted(["a", "b", "c"], 2) == ["a", "b", "c"]
