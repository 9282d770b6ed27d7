"""A paper as one HTML file that holds everything it shows, for the telephone."""

from __future__ import annotations

import base64
from importlib.resources import files

from jinja2 import Environment, FunctionLoader, StrictUndefined

from skyview.report.papers.blocks import Paper, Picture


def html_of(paper: Paper) -> str:
    """The paper as HTML: styles and pictures within, nothing fetched, no script.

    Text is escaped, whatever it holds.

    >>> "1 &lt; 2" in html_of(Paper("1 < 2", "", ()))
    True
    """
    made = Environment(
        loader=FunctionLoader(_template),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["kind"] = lambda block: type(block).__name__.lower()
    made.filters["data"] = _data
    return made.get_template("paper.html").render(paper=paper)


def _template(name: str) -> str:
    return (files("skyview.report.papers") / name).read_text("utf-8")


def _data(picture: Picture) -> str:
    content = base64.b64encode(picture.content).decode("ascii")
    return f"data:image/{picture.form};base64,{content}"
