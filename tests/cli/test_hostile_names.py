"""Names are only names: in tables, pages, drawings, papers and packs they stay what was typed."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from html.parser import HTMLParser
from xml.etree.ElementTree import Element

import pypdfium2
import pytest
from defusedxml.ElementTree import fromstring
from sample_house import lay_out

MARKUP = '<script>alert(1)</script><img src=x onerror="alert(2)">'
SET = '#eval("1+1") $x^2 \\frac{1}{ *b* _i_ @a {{ 7*7 }} {% x %} [c] // `r` ]]> --> &lt;'
FORMULA = '=HYPERLINK("//x.test?"&A1)'
TITLE = f"{MARKUP} {SET} {FORMULA}"
NAMES = {
    "stations": ["=1+1", "<b>QIVE", "@SUM_A1", "$x^2$", "-2+3", "+49"],
    "spots": ["<i>ridge", "$\\frac"],
    "obstructions": ["</text><script>", "#set_x", "$oak$"],
    "landmarks": ["<img/src=x>", "=cmd|x"],
    "antennas": ["&amp;main"],
    "views": ["=sweep"],
}
"""New ids for the first items of each list; blanks and quotes no id may hold."""

OUTPUTS = {
    "paths.csv": ("paths",), "paths.geojson": ("paths",), "spots.csv": ("spots",),
    "stations.csv": ("stations",), "view.svg": ("draw",), "view.pdf": ("draw",),
    "spots.svg": ("spots", "--draw"), "sheet.html": ("sheet",), "job.html": ("job",),
    "brief.html": ("brief",), "sheet.pdf": ("sheet",), "brief.pdf": ("brief",),
    "all.zip": ("pack",),
}  # fmt: skip


@pytest.fixture(scope="module")
def poisoned(tmp_path_factory):
    """The sample survey with names that mean something to every language it is written in."""
    folder = lay_out(tmp_path_factory.mktemp("names") / "survey")
    text = (folder / "survey.json").read_text(encoding="utf-8")
    data = json.loads(text)
    renamed = {
        item["id"]: new
        for name, ids in NAMES.items()
        for item, new in zip(data[name], ids, strict=False)
    }
    data = _renamed(data, renamed)
    data["title"] = TITLE
    data["stations"][0]["name"] = TITLE
    for view in data["views"]:
        view.pop("calibration", None)
    (folder / "survey.json").write_text(json.dumps(data), encoding="utf-8")
    return folder


def _renamed(value, names):
    if isinstance(value, dict):
        return {key: _renamed(inner, names) for key, inner in value.items()}
    if isinstance(value, list):
        return [_renamed(inner, names) for inner in value]
    return names.get(value, value) if isinstance(value, str) else value


@pytest.fixture(scope="module")
def written(poisoned, tmp_path_factory):
    """Every file that the command line writes of it."""
    from skyview.cli.main import run

    home = tmp_path_factory.mktemp("out")
    for file, (verb, *option) in OUTPUTS.items():
        with pytest.raises(SystemExit) as ended:
            run([verb, str(poisoned), *(option or ["-o"]), str(home / file)])
        assert not ended.value.code, file
    return home


class _Tags(HTMLParser):
    def __init__(self, page):
        super().__init__()
        self.tags, self.attributes, self.text = set(), [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes += attrs

    def handle_data(self, data):
        self.text.append(data)


@pytest.mark.parametrize("file", [f for f in OUTPUTS if f.endswith(".csv")])
def test_no_cell_is_a_formula(written, file):
    text = (written / file).read_text(encoding="utf-8")
    cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
    for cell in cells:
        if cell.startswith(("=", "+", "-", "@", "\t", "\r")):
            assert float(cell) <= 0.0, cell
    assert "'=1+1" in cells


@pytest.mark.parametrize("file", ["sheet.html", "job.html", "brief.html"])
def test_pages_hold_no_markup_of_names(written, file):
    page = (written / file).read_text(encoding="utf-8")
    found = _Tags(page)
    assert not found.tags & {"script", "iframe", "object", "embed", "link", "form", "b"}
    assert not [name for name, _ in found.attributes if name.startswith("on")]
    sources = [value for name, value in found.attributes if name in ("src", "href")]
    assert all(value.startswith("data:image/") for value in sources)
    assert MARKUP in "".join(found.text)
    assert "{{ 7*7 }}" in "".join(found.text)


@pytest.mark.parametrize("file", ["view.svg", "spots.svg"])
def test_drawings_hold_no_markup_of_names(written, file):
    root: Element = fromstring((written / file).read_bytes())
    kinds = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert not kinds & {"script", "foreignObject", "a", "image", "iframe", "b", "i"} - {"image"}
    for element in root.iter():
        assert not [name for name in element.attrib if name.startswith("on")]
        for name, value in element.attrib.items():
            if name.rpartition("}")[2] == "href":
                assert value.startswith(("#", "data:image/"))
    said = "".join(root.itertext())
    assert "<i>ridge" in said or "<b>QIVE" in said


@pytest.mark.parametrize("file", ["sheet.pdf", "brief.pdf", "view.pdf"])
def test_papers_set_names_as_they_are(written, file):
    with pypdfium2.PdfDocument(written / file) as document:
        text = "".join(page.get_textpage().get_text_bounded() for page in document)
    text = "".join(text.split()).replace("\u200b", "")
    assert "=1+1" in text
    if file != "view.pdf":
        assert '#eval("1+1")$x^2\\frac{1}{' in text
    content = (written / file).read_bytes()
    assert b"/JavaScript" not in content
    assert b"/Launch" not in content


def test_a_pack_holds_only_its_own_names(written):
    with zipfile.ZipFile(written / "all.zip") as packed:
        names = packed.namelist()
    assert all(name.split("/")[0] in ("survey.json", "photos", "answers") for name in names)
    assert not [name for name in names if ".." in name or name.startswith("/")]


def test_the_map_is_json_and_nothing_else(written):
    data = json.loads((written / "paths.geojson").read_text(encoding="utf-8"))
    assert {feature["properties"]["station"] for feature in data["features"]} >= {"=1+1", "<b>QIVE"}


def test_the_terminal_gets_no_control_codes(run, poisoned):
    for words in (("paths", poisoned), ("check", poisoned), ("spots", poisoned)):
        told = run.ok(*words)
        assert "\x1b" not in told.out + told.err
