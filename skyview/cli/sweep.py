"""The verb sweep: frames of one turn joined into a panorama with true angles."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from skyview.cli.output import OutputFile, about, emit_json, text_table, warn
from skyview.cli.photo import add_view
from skyview.errors import InputError

if TYPE_CHECKING:
    from skyview.photo.facts import PhotoFacts
    from skyview.sweep.join import Sweep

SPOILT = 0.01
"""A share of the panorama that no frame sees, above which it is said."""


@click.command("sweep")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    required=True,
    type=OutputFile("a panorama is a JPEG", ".jpg", ".jpeg"),
    help="Panorama to write; .jpg.",
)
@click.option("--into", type=click.Path(path_type=Path), metavar="SURVEY", help="Add it there.")
@click.option("--spot", metavar="ID", help="Id of the spot where the frames were taken.")
@click.option("--id", "view_id", metavar="ID", help="Id of the new view; else the panorama's name.")
@click.option("--leaf", type=click.Choice(["in", "out"]), help="Trees in or out of leaf.")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def sweep_command(
    files: tuple[Path, ...],
    output: Path,
    into: Path | None,
    spot: str | None,
    view_id: str | None,
    leaf: str | None,
    as_json: bool,
) -> None:
    """Join FILES, frames of one turn in any order, into one panorama with a level horizon.

    Every frame's direction and how well it is known are told, and kept with --into, so that a
    mark made in a frame or in the panorama means the same angle.
    """
    from skyview.photo.panorama_file import PanoramaPlace, write_panorama
    from skyview.photo.pixels import read_pixels
    from skyview.report.sweep_words import left_out, notice, step
    from skyview.survey.sweeps import frame_facts, frame_records
    from skyview.sweep.join import NoSweep, panorama, turn_frames

    names = _names(files, output)
    if into is None and (spot or view_id or leaf):
        raise InputError(
            "--spot, --id and --leaf tell of a survey's view",
            field="--into",
            mend="name the survey with --into",
        )
    if into is not None:
        _check_survey(into, spot, view_id or output.stem)
    headers, broken = _headers(files)
    good = [n for n in range(len(files)) if n not in broken]
    say = _Progress(lambda said: step(said, [names[n] for n in good]))
    declination_deg = _declination(into, headers, good)
    sizes = [(headers[n].width_px, headers[n].height_px) for n in good]
    facts = [frame_facts(headers[n], declination_deg) for n in good]

    def read(number: int, longest: int | None) -> Any:
        return read_pixels(files[good[number]], longest)

    try:
        with say:
            found = turn_frames(sizes, facts, read, say)
            rgb, uncovered = panorama(found, read, say)
    except NoSweep as none:
        told = "; ".join(
            f"{names[good[n]]}: {left_out(w.code, w.values)}"
            for n, w in list(none.left.items())[:3]
        )
        raise InputError(
            f"no two frames can be joined ({told})",
            mend="take the turn again with more overlap and something far off in every frame",
        ) from None
    reasons = broken | {good[n]: left_out(w.code, w.values) for n, w in found.left.items()}
    records = _records(
        frame_records(
            found,
            [names[n] for n in good],
            sizes,
            {n: left_out(w.code, w.values) for n, w in found.left.items()},
        ),
        names,
        broken,
        good,
    )
    canvas = found.canvas
    first = files[good[next(iter(found.held))]]
    place = PanoramaPlace(
        (canvas.full_px, canvas.full_px // 2),
        canvas.left_px,
        canvas.top_px,
        _heading_deg(found),
        len(found.held),
    )
    write_panorama(output, rgb, place, first)
    notes = [f"{names[n]} was left out: {why}" for n, why in sorted(reasons.items())]
    own = [names[n] for n in good]
    notes += [notice(n.code, n.values, [own[f] for f in n.frames]) for n in found.notices]
    if uncovered > SPOILT:
        notes.append(notice("uncovered", {"share": uncovered}, []))
    revision = None
    if into is not None:
        used = [files[good[n]] for n in found.held]
        revision = _store(
            found, records, output, (into, spot, view_id, leaf), used, headers[good[0]]
        )
    row = _row(found, records, output)
    if as_json:
        emit_json("sweep", [row], revision, notes)
        return
    _describe(row, found)
    warn(notes)
    if revision is not None:
        click.echo(f"added to {into} as view {view_id or output.stem} (revision {revision})")


class _Progress:
    """One line on the terminal that says what is being done."""

    def __init__(self, words: Callable[[str], str]) -> None:
        self._words = words
        self._shown = sys.stderr.isatty()

    def __call__(self, said: str) -> None:
        if self._shown:
            click.echo(f"\r\033[K{self._words(said)} ...", err=True, nl=False)

    def __enter__(self) -> _Progress:
        return self

    def __exit__(self, *_: object) -> None:
        if self._shown:
            click.echo("\r\033[K", err=True, nl=False)


def _names(files: tuple[Path, ...], output: Path) -> list[str]:
    names = [file.name for file in files]
    if any(file.resolve() == output.resolve() for file in files):
        raise InputError(
            "the panorama would take the place of a frame",
            output,
            "--output",
            "give the panorama a name of its own",
        )
    twice = {name for name in names if names.count(name) > 1}
    if twice:
        raise InputError(
            f"{min(twice)} is named twice", mend="give every frame once, and a name of its own"
        )
    if len(files) < 2:
        raise InputError(
            "one frame makes no panorama", files[0], mend="give two or more that overlap"
        )
    return names


def _headers(files: tuple[Path, ...]) -> tuple[dict[int, PhotoFacts], dict[int, str]]:
    """What the frames' headers tell, and which cannot be read."""
    from skyview.photo.facts import read_header

    headers, broken = {}, {}
    for number, file in enumerate(files):
        try:
            headers[number] = read_header(file)
        except InputError as error:
            if not file.exists():
                raise
            broken[number] = error.message
    if len(headers) < 2:
        raise InputError(
            "fewer than two of the frames can be read",
            files[min(broken)],
            mend="copy them from the phone again",
        )
    return headers, broken


def _records(
    records: list[dict[str, Any]], names: list[str], broken: dict[int, str], good: list[int]
) -> list[dict[str, Any]]:
    """Frames in the order in which they were given, those that cannot be read among them."""
    answer = [{"file": n, "used": False, "reason": broken.get(i)} for i, n in enumerate(names)]
    for number, record in zip(good, records, strict=True):
        answer[number] = record
    return answer


def _declination(
    into: Path | None, headers: dict[int, PhotoFacts], good: list[int]
) -> float | None:
    """Declination at the survey's site, else where the frames say that they were taken."""
    if not any(headers[n].direction_north == "magnetic" for n in good):
        return None
    if into is not None:
        from skyview.survey.inputs import declination_of
        from skyview.survey.storage import load

        return declination_of(load(into)).declination_deg
    from skyview.place.declination import decimal_year, declination
    from skyview.survey.inputs import day_of

    for number in good:
        own = headers[number]
        if own.latitude_deg is not None and own.longitude_deg is not None:
            year = decimal_year(day_of(None))
            return declination(own.latitude_deg, own.longitude_deg, 0.0, year).declination_deg
    return None


def _check_survey(into: Path, spot: str | None, name: str) -> None:
    """Whatever would refuse the view later refuses it before the work."""
    from skyview.survey.new_views import whereabouts
    from skyview.survey.storage import load

    with about(into):
        whereabouts(load(into), name, spot)


def _store(
    found: Sweep,
    records: list[dict[str, Any]],
    output: Path,
    where: tuple[Path, str | None, str | None, str | None],
    used: list[Path],
    header: PhotoFacts,
) -> int:
    """The panorama and its frames into the survey, as a view."""
    from skyview.survey.new_views import whereabouts
    from skyview.survey.storage import load
    from skyview.survey.sweeps import view_record

    into, spot, view_id, leaf = where
    name = view_id or output.stem
    view = view_record(
        found,
        [{k: v for k, v in record.items() if v is not None} for record in records],
        photo=f"photos/{name}.jpg",
        taken=header.taken,
        leaf=leaf,
        **whereabouts(load(into), name, spot),
    )
    copies = {f"photos/{name}.jpg": output}
    copies |= {f"photos/{name}-frames/{file.name}": file for file in used}
    return add_view(into, {k: v for k, v in view.items() if v is not None}, copies)


def _heading_deg(found: Sweep) -> float | None:
    return None if found.heading is None else math.degrees(found.heading)


def _row(found: Sweep, records: list[dict[str, Any]], output: Path) -> dict[str, Any]:
    from skyview.survey.sweeps import projection_record

    keys = ("yaw_deg", "pitch_deg", "roll_deg", "focal_px", "k1", "sigmas")
    frames = [
        {"file": r["file"]}
        | {key: r.get(key) for key in keys}
        | {"used": r["used"], "reason": r.get("reason")}
        for r in records
    ]
    return {
        "frames": frames,
        "panorama": str(output),
        "width_px": found.canvas.width,
        "height_px": found.canvas.height,
        "projection": projection_record(found),
        "heading_deg": _heading_deg(found),
        "closed": found.canvas.closed,
        "level_sigma_deg": math.degrees(found.level_sigma),
        "scale_sigma": found.scale_sigma,
        "local_sigma_deg": math.degrees(found.local_sigma),
        "findings": [
            {"code": n.code, "values": n.values, "frames": list(n.frames)} for n in found.notices
        ],
    }


def _describe(row: dict[str, Any], found: Sweep) -> None:
    span = row["projection"]["right_deg"] - row["projection"]["left_deg"]
    click.echo(
        f"wrote {row['panorama']}: {row['width_px']} x {row['height_px']} pixels, {span:.0f} deg "
        f"from {len(found.held)} frames, horizon level to ±{row['level_sigma_deg']:.2f} deg"
    )
    north = "yaw" if found.heading is not None else "yaw (no compass: from the middle)"
    headings = ["frame", north, "±", "pitch", "roll", "focal length"]
    rows = [
        [
            f["file"],
            f"{f['yaw_deg']:.2f}",
            f"{f['sigmas']['yaw_deg']:.2f}",
            f"{f['pitch_deg']:+.2f}",
            f"{f['roll_deg']:+.2f}",
            f"{f['focal_px']:.0f} px",
        ]
        if f["used"]
        else [f["file"], "left out", "-", "-", "-", "-"]
        for f in row["frames"]
    ]
    click.echo(text_table(headings, rows))
