"""The verb serve: the workbench in the browser."""

from __future__ import annotations

from pathlib import Path

import click

from skyview.cli.output import progress


@click.command("serve")
@click.argument("survey", required=False, type=click.Path(path_type=Path))
@click.option("--port", type=click.IntRange(1, 65535), help="Port; the first free one if left out.")
@click.option("--no-open", is_flag=True, help="Do not open the browser.")
@click.option("--share", is_flag=True, help="Let phones on the same network in, with a code.")
def serve_command(survey: Path | None, port: int | None, no_open: bool, share: bool) -> None:
    """Open SURVEY in the browser: mark on the picture, see the answer at once.

    Without SURVEY, or where there is none yet, it begins with the photo that is dropped on the
    page. Only this computer reaches the page, unless --share is given.
    """
    with progress("starting"):
        from skyview.survey.storage import FILE, load
        from skyview.workbench.server import listen, serve

        folder = _free_folder() if survey is None else survey
        if (folder / FILE).exists() or (folder.exists() and not folder.is_dir()):
            load(folder)
        listening = listen(port, share)
    serve(folder.resolve(), listening, share=share, open_browser=not no_open, say=click.echo)


def _free_folder() -> Path:
    """Where a new survey goes: survey, survey-2, ... in the folder where the program runs."""
    numbers = range(2, 10_000)
    names = ["survey", *(f"survey-{n}" for n in numbers)]
    return next(Path(name) for name in names if not Path(name).exists())
