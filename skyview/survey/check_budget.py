"""What the link budget lacks: powers, thresholds, the antenna, its line; each said once.

Nothing is asked for before there are stations and a spot for the antenna.
"""

from __future__ import annotations

import math
import shlex
from collections.abc import Iterator

import numpy as np

from skyview.errors import InputError
from skyview.link.field import SPREAD
from skyview.link.line import CABLES
from skyview.link.systems import USUAL_MODE, required_cn_db
from skyview.survey.budget.signals import supposes_mode
from skyview.survey.finding import Command, Finding, some
from skyview.survey.models import Antenna, Coax, Filter, Preamplifier, Station, Survey
from skyview.survey.raster import ground_of


def budget_findings(survey: Survey, command: Command) -> Iterator[Finding]:
    """What keeps reception from being told, or makes it less sure."""
    yield from _unknown_words(survey, command)
    if not survey.stations or not survey.spots:
        return
    yield from _stations(survey, command)
    yield from _terrain(survey, command)
    if survey.site.surroundings is None:
        yield Finding(
            "note",
            "site.surroundings",
            "What is built around is not known: suburban is assumed.",
            command.set("site.surroundings", "suburban"),
        )
    if not survey.antennas:
        spot = survey.spots[0].id
        yield Finding(
            "note",
            "antennas",
            "No antenna is described: reception is told for the one that planning assumes.",
            command.add(
                "antennas",
                f'{{"id": "main", "spot": "{spot}", "height_m": METRES, "aim_true_deg": DEGREES}}',
            ),
        )
    for antenna in survey.antennas:
        yield from _antenna(survey, antenna, command)


def _unknown_words(survey: Survey, command: Command) -> Iterator[Finding]:
    """Surroundings and cables without which no reception can be worked out."""
    known = (*SPREAD, "dense_urban")
    around = survey.site.surroundings
    if around is not None and around not in known:
        yield Finding(
            "missing",
            "site.surroundings",
            f"The surroundings {around} are not known: give one of {', '.join(known)}.",
            command.set("site.surroundings", "WORD"),
        )
    for antenna in survey.antennas:
        for number, part in enumerate(antenna.downlead):
            if isinstance(part, Coax) and part.type.lower() not in CABLES:
                field = f"antennas.{shlex.quote(antenna.id)}.downlead.{number}.type"
                yield Finding(
                    "missing",
                    field,
                    f"The cable {part.type} of antenna {antenna.id} is not known: give one of "
                    f"{', '.join(CABLES)}.",
                    command.set(field, "TYPE"),
                )


def _stations(survey: Survey, command: Command) -> Iterator[Finding]:
    wanted = [station for station in survey.stations if station.role == "wanted"]
    powerless = [s.id for s in survey.stations if s.erp_kw is None and s.field_dbuv_m is None]
    if powerless:
        yield Finding(
            "warning",
            f"stations.{powerless[0]}.erp_kw",
            f"The power of {some(powerless)} is not known: no reception can be told.",
            command.set(f"stations.{powerless[0]}.erp_kw", "KILOWATTS"),
        )
    open_ended = [s.id for s in wanted if _threshold_unknown(s)]
    if open_ended:
        yield Finding(
            "warning",
            f"stations.{open_ended[0]}.required_cn_db",
            f"How much carrier over noise {some(open_ended)} needs is not known: give its system "
            "and mode, or the figure.",
            command.set(f"stations.{open_ended[0]}.required_cn_db", "DB"),
        )
    supposed = [s for s in wanted if supposes_mode(s)]
    if supposed:
        modes = dict.fromkeys(USUAL_MODE[s.system or ""] for s in supposed)
        yield Finding(
            "note",
            f"stations.{supposed[0].id}.mode",
            f"The mode of {some([s.id for s in supposed])} is not known: {' or '.join(modes)}, as "
            "usual with its system, is supposed.",
            command.set(f"stations.{supposed[0].id}.mode", "MODE"),
        )


def _terrain(survey: Survey, command: Command) -> Iterator[Finding]:
    """A terrain file that cannot be used; without one, stations of which it is not known how high
    they stand over their country."""
    site = survey.site
    flat = [s.id for s in survey.stations if s.haat_m is None and s.field_dbuv_m is None]
    try:
        ground = ground_of(survey)
        here = [np.array([site.latitude_deg]), np.array([site.longitude_deg])]
        covered = ground is None or bool(np.isfinite(ground.heights_m(*here))[0])
    except InputError as error:
        sentence = error.message[:1].upper() + error.message[1:]
        sentence += f"; {error.mend}." if error.mend else "."
        yield Finding("missing", "site.terrain", sentence, command.set("site.terrain", "FILE"))
        return
    if not covered:
        yield Finding(
            "warning",
            "site.terrain",
            "The terrain file holds nothing at the site.",
            command.set("site.terrain", "FILE"),
        )
    if ground is None and flat:
        yield Finding(
            "note",
            f"stations.{flat[0]}.haat_m",
            f"The height above average terrain of {some(flat)} is not known: the antenna's height "
            "above the site's ground is taken. A terrain file (site.terrain) tells it too.",
            command.set(f"stations.{flat[0]}.haat_m", "METRES"),
        )


def _threshold_unknown(station: Station) -> bool:
    if station.required_cn_db is not None:
        return False
    if station.system is None and station.mode is None:
        return True
    return math.isnan(required_cn_db(station.system, station.mode))


def _antenna(survey: Survey, antenna: Antenna, command: Command) -> Iterator[Finding]:
    name = f"antennas.{shlex.quote(antenna.id)}"
    asked: tuple[tuple[bool, str, str, str], ...] = (
        (
            antenna.aim_true_deg is None,
            "aim_true_deg",
            "has no aim: it is taken as turned to each station in turn",
            "DEGREES",
        ),
        (
            antenna.height_m is None,
            "height_m",
            "has no height above its spot",
            "METRES",
        ),
        (
            antenna.gain_dbd is None,
            "gain_dbd",
            "names no gain: that of the antenna which planning assumes is taken",
            '{"high_vhf": DB, "uhf": DB}',
        ),
        (
            not antenna.downlead and not _shares_a_line(survey, antenna),
            "downlead",
            "has no downlead: the loss that planning assumes is taken, and neither cable nor "
            "preamplifier can be judged",
            '[{"kind": "coax", "type": "rg6", "length_m": METRES}]',
        ),
    )
    for missing, field, what, value in asked:
        if missing:
            sentence = f"Antenna {antenna.id} {what}."
            yield Finding(
                "note", f"{name}.{field}", sentence, command.set(f"{name}.{field}", value)
            )
    if _bare_before_cellular(survey, antenna):
        yield Finding(
            "warning",
            f"{name}.downlead",
            f"A mobile-phone mast is marked, and antenna {antenna.id} has no filter before its "
            "preamplifier.",
            None,
        )


def _shares_a_line(survey: Survey, antenna: Antenna) -> bool:
    return any(other.combined_with == antenna.id for other in survey.antennas)


def _bare_before_cellular(survey: Survey, antenna: Antenna) -> bool:
    """A preamplifier without a filter before it, near a marked mobile-phone mast."""
    if not any(thing.transmits == "cellular" for thing in survey.obstructions):
        return False
    for part in antenna.downlead:
        if isinstance(part, Filter):
            return False
        if isinstance(part, Preamplifier):
            return True
    return False
