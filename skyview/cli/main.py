"""The command ``skyview``: its verbs, loaded when they are called, and its exit codes."""

from __future__ import annotations

import os
import sys
from importlib import import_module

import click

from skyview import __version__
from skyview.cli.verbs import Verbs
from skyview.errors import SkyviewError

VERBS = {
    "new": ("survey", "Start a survey folder."),
    "photo": ("photo", "Tell what a photograph knows, or add it to a survey."),
    "sweep": ("sweep", "Join frames of one turn into a panorama with true angles."),
    "skyline": ("skyline", "Find the sky of a picture or a view, and propose outlines."),
    "mark": ("mark", "Add a landmark, a mark in a picture, or an outline."),
    "check": ("survey", "Say what is missing or wrong and what to do next."),
    "set": ("survey", "Set, add or remove any field of a survey by its path."),
    "calibrate": ("pose", "Solve where a view looks from its marks."),
    "locate": ("pose", "Azimuth and elevation of pixels in a view."),
    "stations": ("stations", "Read a list of stations into a survey."),
    "paths": ("paths", "Whether every station comes in, at every spot and height."),
    "why": ("why", "Why a station comes in or not, and what would help."),
    "spots": ("spots", "What every spot and height brings, and which is best."),
    "aim": ("spots", "Which way to turn the antenna, and what to point it at."),
    "scan": ("scan", "Hold what a receiver found against the prediction."),
    "draw": ("paths", "Draw a view with stations, outlines and angles."),
    "schema": ("survey", "Print the JSON Schema of the survey file."),
    "brief": ("papers", "Write what to expect before the visit."),
    "card": ("papers", "Write the roof card: what to photograph and measure."),
    "sheet": ("papers", "Write the sheet for the customer."),
    "job": ("papers", "Write the sheet for the installer."),
    "pack": ("pack", "Put a survey with its pictures and answers into one file."),
    "batch": ("batch", "Hold every survey of a folder against a new station list."),
    "serve": ("serve", "Open a survey in the browser: mark, and see the answer at once."),
    "demo": ("demo", "Run the whole job on the sample survey."),
}
"""Each verb, the module of this package that holds it, and its line of help."""


class _Verbs(Verbs):
    """Lists verbs without loading them, so that help comes at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        module = import_module(f"skyview.cli.{VERBS[cmd_name][0]}")
        command = getattr(module, f"{cmd_name}_command")
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(verb, line) for verb, (_, line) in VERBS.items()])


@click.command(
    cls=_Verbs,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Start with: skyview demo",
)
@click.version_option(__version__, prog_name="skyview")
def main() -> None:
    """Decide where a rooftop TV antenna goes, from photos of the view.

    Mind the roof's edge, the ladder and power lines; local codes and licensed practice decide.
    """


def run(arguments: list[str] | None = None) -> None:
    """Entry point: every ending has its exit code and, where it failed, one sentence."""
    # The matrices here are small: a pool of threads costs more than it brings, many times more
    # on a computer that is busy with other work. It must be said before numpy is loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        code = main(args=arguments, prog_name="skyview", standalone_mode=False)
        sys.stdout.flush()
    except SkyviewError as error:
        _say(str(error))
        sys.exit(error.exit_code)
    except click.UsageError as error:
        told = error.format_message().rstrip(".")
        place = error.ctx.command_path if error.ctx else _verb_of(arguments or sys.argv[1:])
        end = " See: " if told.endswith("?") else "; see: "
        _say(f"{told[:1].lower()}{told[1:]}{end}{place} --help.")
        sys.exit(error.exit_code)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        _say("interrupted: nothing was half-written")
        sys.exit(130)
    except BrokenPipeError:
        # Whoever read the answer has closed it; let the interpreter's own flush find nothing.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except ImportError as error:
        if "libGL" not in str(error):
            raise
        _say(
            "opencv-python needs the system's libGL, which is missing; "
            "install it (on Debian: apt-get install libgl1 libglib2.0-0)"
        )
        sys.exit(1)
    sys.exit(code if isinstance(code, int) else 0)


def _verb_of(arguments: list[str]) -> str:
    """The verb that was called, for the few errors that do not name it.

    >>> _verb_of(["new", "house", "--spot", "roof"])
    'skyview new'
    """
    return " ".join(["skyview", *(word for word in arguments[:1] if word in VERBS)])


def _say(sentence: str) -> None:
    click.echo(f"skyview: {sentence}", err=True)
