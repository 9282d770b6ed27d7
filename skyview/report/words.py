"""All wording of pictures, tables and sentences. Other code asks for it by code.

Numbers come in the units of the results and leave with their unit said. A minus sign is the
typographic one in sentences; tables for other programs use the plain hyphen.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

from skyview.report.figures import bearing, day, elevation, metres, number, spread
from skyview.survey.kinds import TREES, WIRES
from skyview.survey.results import PathRow, PathWord, Plate

PATH_WORDS: tuple[PathWord, ...] = get_args(PathWord)

_PATH: dict[PathWord, tuple[str, str]] = {
    "clear": ("clear", "costs 1 dB or less"),
    "grazing": ("grazing", "an edge costs 1 to 6 dB"),
    "through_trees": ("through trees", "mostly a tree's crown"),
    "blocked": ("blocked", "an edge costs more than 6 dB"),
    "not_seen": ("not seen", "no picture shows that direction"),
}

_KIND = {
    "conifer": "conifer",
    "broadleaf": "broadleaf tree",
    "dead_tree": "dead tree",
    "tree": "tree",
    "building": "building",
    "mast": "mast",
    "wire": "wire",
    "hill": "hill",
    "own_roof": "own roof",
    "power_line": "power line",
}

DEEPEST_SURE_DB = 28.0
"""Joint losses beyond this are only said to be at least this."""

TREE_KINDS = frozenset(TREES)
LINE_KINDS = frozenset(WIRES)

_SENTENCES = {
    "beyond_horizon": "beyond the horizon",
    "beyond_horizon_meaning": "the earth hides the transmitter",
    "unseen_behind": "unseen behind",
    "unseen_behind_meaning": "an outline hid this direction from the camera",
    "whole_way": (
        "Reception is told for the whole way from the transmitter to the set. The near path is the "
        "last few hundred metres, and only what was outlined there."
    ),
    "legend_lines": "The line",
    "legend_lines_meaning": "whether it comes in",
    "legend_marks": "The mark",
    "legend_marks_meaning": "what stands in the last few hundred metres",
    "legend_picture": "On the picture",
    "legend_picture_meaning": "shapes are drawn at the antenna, not at the camera",
    "legend_solid": "building, mast or hill",
    "legend_tree": "tree",
    "legend_power_line": "power line or wire, a hazard",
    "legend_level": "level, with what the calibration leaves open",
    "legend_terrain": "skyline of the bare ground, from the terrain file",
    "legend_spread": "bar: one sigma of a place, where wider than its mark",
    "legend_chosen": "chosen station and what costs most",
    "legend_zone": "first Fresnel zone where that stands",
    "legend_magnetic": "lower scale: bearings from magnetic north",
    "caption_outlines": "Outlines are drawn as the antenna sees them",
    "untagged": "In the picture, without room for a tag",
    "outside_left": "Outside the picture, to the left",
    "outside_right": "Outside the picture, to the right",
    "caution_power_line": (
        "Touching one kills, and so does a mast or ladder that falls on one. "
        "Keep mast, antenna, ladder and yourself clear of them, follow the local code, and leave "
        "work near them to licensed people."
    ),
    "lines_unchecked": (
        "Nobody has noted that power lines were looked for. Look before anything is raised: "
        "touching one kills, and so does a mast or ladder that falls on one."
    ),
    "no_stations": "No station is listed.",
    "true": "true",
    "magnetic": "magn.",
    "level": "level",
    "north": "N",
    "loss_reading": (
        "Read it like a depth chart: every line is a step of loss, the heavy line is 6 dB. "
        "Nothing is drawn below level."
    ),
    "loss_legend": "Loss",
    "loss_caption": (
        "Loss over open sky of all that was outlined, taken together at its distance, for "
        "transmitters far away; what is finer than the bearings are good is smoothed, and specks "
        "are left out. The marks keep the word of their own station's channel."
    ),
}


_TABLE_COLUMNS = {
    "station": ("station", ""),
    "channel": ("channel", ""),
    "frequency": ("frequency", "MHz"),
    "bearing": ("bearing", "° true"),
    "magnetic": ("compass", "° magn."),
    "bearing_sigma": ("bearing ±", "°"),
    "distance": ("distance", "km"),
    "elevation": ("elevation", "°"),
    "elevation_sigma": ("elevation ±", "°"),
    "reception": ("reception", ""),
    "margin": ("margin", "dB"),
    "margin_low": ("margin low", "dB"),
    "margin_high": ("margin high", "dB"),
    "chance": ("chance", "%"),
    "path": ("near path", ""),
    "remarks": ("remark", ""),
    "obstruction": ("costs most", ""),
    "loss": ("loss", "dB"),
    "clearance_deg": ("clearance", "°"),
    "clearance_m": ("clearance", "m"),
    "clearance_radii": ("clearance", "zones"),
}

_TABLE_WORDS = {"beyond": "beyond", "unseen": "unseen"}

_TABLE_NOTES = {
    "beyond": "beyond: the earth hides the transmitter; the wave comes over the last edge.",
    "unseen": "unseen: an outline hid this direction from the camera; what is behind is not known.",
    "clearance": "clearance: from the ray to that outline's nearest edge, + free, - inside it.",
    "zones": "zones: the same in radii of the first Fresnel zone.",
    "reception": (
        "sure: 9 chances in 10 or more; likely: 6 to 9; doubtful: 2 to 6; no: fewer; unknown: not "
        "seen, or a figure is missing."
    ),
    "margin": (
        "margin: over what the station needs, middle of the estimate; eight estimates in ten lie "
        "within ±. The spread is of the estimate, not of the weather."
    ),
}


def sentence(code: str) -> str:
    """The text with this code; a KeyError names the codes that there are.

    >>> sentence("beyond_horizon")
    'beyond the horizon'
    """
    try:
        return _SENTENCES[code]
    except KeyError:
        raise KeyError(f"no text {code!r}; there are {', '.join(sorted(_SENTENCES))}") from None


def table_heading(spot: str, antenna_height_m: float, antenna: str | None) -> str:
    """The line over one group of the table.

    >>> table_heading("ridge", 3.0, "main")
    'Antenna main, 3.0 m above ridge'
    """
    name = f"Antenna {antenna}," if antenna else "Antenna"
    return f"{name} {number(antenna_height_m, 1)} m above {spot}"


def table_column(code: str) -> tuple[str, str]:
    """A column's name and its unit, which may be empty."""
    return _TABLE_COLUMNS[code]


def table_word(code: str) -> str:
    """The short word for a remark in the table."""
    return _TABLE_WORDS[code]


def table_note(code: str) -> str:
    """What a short word or a column of the table means."""
    return _TABLE_NOTES[code]


def path_word(path: PathWord) -> str:
    """A path word as people read it.

    >>> path_word("through_trees")
    'through trees'
    """
    return _PATH[path][0]


def path_meaning(path: PathWord) -> str:
    """What a path word means, in a few words."""
    return _PATH[path][1]


def kind_word(kind: str) -> str:
    """An obstruction kind as people read it; an unknown one with its underscores opened.

    >>> kind_word("own_roof")
    'own roof'
    """
    return _KIND.get(kind, kind.replace("_", " "))


def heading(plate: Plate) -> str:
    """The picture's heading."""
    return f"What the antenna sees from “{plate.spot}”"


def subtitle(plate: Plate) -> str:
    """Where the antenna stands, the trees, the day, and how good the angles are."""
    leaves = "Trees in leaf" if plate.leaf == "in" else "Trees out of leaf"
    when = day(plate.taken)
    return (
        f"Antenna {number(plate.antenna_height_m, 1)} m above “{plate.spot}”. "
        f"{leaves}{f', {when}' if when else ''}. "
        f"Bearings good to {spread(plate.azimuth_sigma_deg)}, "
        f"elevations to {spread(plate.elevation_sigma_deg)}."
    )


def counted(inside: int, outside: int) -> str:
    """How many stations the picture shows and how many lie outside it.

    >>> counted(1, 0), counted(9, 2)
    ('1 station in view', '9 stations in view, 2 outside the picture')
    """
    text = f"{inside} station{'' if inside == 1 else 's'} in view"
    return f"{text}, {outside} outside the picture" if outside else text


def and_more(count: int) -> str:
    """The last line of a chip that is full.

    >>> and_more(7)
    'and 7 more, see below'
    """
    return f"and {count} more, see below"


def obstruction_name(name: str, kind: str, distance_m: float | None) -> str:
    """An outline's name on the picture; a power line's carries its caution.

    Without a distance only the name stands.

    >>> obstruction_name("oak", "broadleaf", 22.3)
    'oak, 22 m'
    """
    if distance_m is None:
        return f"{name}, power line: keep clear" if kind == "power_line" else name
    if kind == "power_line":
        return f"{name}, power line: keep clear"
    if kind == "wire":
        return f"{name}, wire, {metres(distance_m)}"
    return f"{name}, {metres(distance_m)}"


def outlines_caption(above_camera_m: float) -> str:
    """Why outlines may lie beside what the photograph shows."""
    if abs(above_camera_m) < 0.05:
        return "Outlines are drawn as the antenna sees them, not as the camera did."
    side = "above" if above_camera_m > 0 else "below"
    return (
        "Outlines are drawn as the antenna sees them. It stands "
        f"{number(abs(above_camera_m), 1)} m {side} the camera, "
        "so they need not lie on the photograph."
    )


def power_line_caution(names: Sequence[str]) -> str:
    """The caution under a picture that shows power lines, each of them named.

    >>> power_line_caution(["feeder"])[:35]
    'Power line in this picture: feeder.'
    """
    head = "Power line" if len(names) == 1 else "Power lines"
    return f"{head} in this picture: {', '.join(names)}. {sentence('caution_power_line')}"


def loss(row: PathRow) -> str:
    """The joint loss as people say it; deep ones only as a bound.

    >>> from types import SimpleNamespace
    >>> loss(SimpleNamespace(obstruction_loss_db=13.57, loss_at_least=False))
    '13.6 dB'
    """
    if row.loss_at_least:
        return f"at least {number(min(row.obstruction_loss_db, DEEPEST_SURE_DB))} dB"
    return f"{number(row.obstruction_loss_db, 1)} dB"


def share(row: PathRow) -> float:
    """What the costliest thing alone would give back. [dB]"""
    return row.shares_db.get(row.obstruction or "", row.obstruction_loss_db)


def chosen_sentence(row: PathRow) -> str:
    """The chosen station in one or two sentences: where it lies, its word, what costs most."""
    text = (
        f"{row.station}, channel {row.rf_channel}, lies at {bearing(row.bearing_deg, 1)} true "
        f"({bearing(row.magnetic_bearing_deg, 1)} magnetic), {number(row.distance_km)} km away: "
        f"near path {path_word(row.path)}{', beyond the horizon' if row.beyond_horizon else ''}; "
        f"reception {row.reception}."
    )
    if row.obstruction is not None:
        text += f" What stands there costs {loss(row)}"
        if len(row.shares_db) > 1:
            text += f", above all {row.obstruction}"
        else:
            text += f": {row.obstruction}"
        if row.clearance_deg is not None:
            where = "free of" if row.clearance_deg >= 0 else "inside"
            text += f"; the ray runs {number(abs(row.clearance_deg), 1)}° {where} its outline"
        text += "."
    if row.unseen_behind:
        text += " What lies behind that outline was never seen."
    return text


def description(plate: Plate) -> str:
    """The picture in words, for those who do not see it: every station with its word."""
    stations = "; ".join(
        f"{row.station} at {bearing(row.bearing_deg)}: {path_word(row.path)}"
        f"{', beyond the horizon' if row.beyond_horizon else ''}, reception {row.reception}"
        for row in plate.rows
    )
    list_of_all = f"{stations}." if stations else sentence("no_stations")
    return f"{subtitle(plate)} {list_of_all} {sentence('whole_way')}"


def loss_heading(plate: Plate) -> str:
    """The heading of a picture of the loss in every direction."""
    return f"Loss in every direction from “{plate.spot}”"


def loss_frequency(frequency_mhz: float, channel: int | None) -> str:
    """The frequency of one loss layer, with the RF channel where a station has it.

    >>> loss_frequency(551.0, 27), loss_frequency(69.0, None)
    ('551 MHz (RF channel 27)', '69 MHz')
    """
    text = f"{frequency_mhz:g} MHz"
    return text if channel is None else f"{text} (RF channel {channel})"


def loss_step(low_db: float | None, high_db: float | None) -> str:
    """One step of the loss layer.

    >>> loss_step(None, 1.0), loss_step(1.0, 6.0), loss_step(20.0, None)
    ('under 1 dB', '1 to 6 dB', 'over 20 dB')
    """
    if low_db is None:
        return f"under {high_db:g} dB"
    return f"over {low_db:g} dB" if high_db is None else f"{low_db:g} to {high_db:g} dB"


def loss_label(level_db: float) -> str:
    """The figure on a line of equal loss; the lowest carries the unit."""
    return f"{level_db:g} dB" if level_db == 1.0 else f"{level_db:g}"


def loss_share(share: float, upto_deg: float, level_db: float) -> str:
    """How much of the low sky costs more than a level.

    >>> loss_share(0.344, 10.0, 6.0)
    'Of the view from level to +10°, 34 % costs more than 6 dB.'
    """
    low_sky = f"the view from level to {elevation(upto_deg)}"
    return f"Of {low_sky}, {number(100.0 * share)} % costs more than {level_db:g} dB."
