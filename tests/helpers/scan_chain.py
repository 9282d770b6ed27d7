"""Scans of invented roofs with one known fault: a chain of its own from the field to the display.

The product tells where stations lie and what field the curves expect; everything after that is
computed here: errors of the field, fading, leaves, antenna, cable, amplifier, noise, receiver, and
the fault, put in where it physically sits. Levels in dBm, arrays over stations (S).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from pyproj import Geod
from whole_circle import WHOLE_CIRCLE

from skyview.place.channels import band_of, centre_mhz
from skyview.survey.models import Survey, validate
from skyview.survey.scene import scene_of

Array = np.ndarray
EARTH = Geod(ellps="WGS84")
SITE = {"latitude_deg": 44.0, "longitude_deg": -117.4, "ground_amsl_m": 50.0}
CAMERA = (0.0, 0.0, 6.5)
SIZE = (3600, 900)
"""A full circle facing north, 10 px a degree, level 600 px down."""

SITE_DB, OWN_DB = 6.0, 8.0
"""Field error of a suburban site: 10 dB in all, in common and of each station alone."""

COAX_DB = ((50.0, 1.5), (100.0, 2.0), (200.0, 2.8), (400.0, 4.0), (700.0, 5.5), (900.0, 6.2))
"""100 ft of series-6 cable at MHz, typical values of data sheets, from memory. [MHz, dB]"""

SPLIT_DB = {1: 0.0, 2: 3.6, 4: 7.2, 8: 10.8}
THERMAL_DBM = -106.2
"""kTB in 6 MHz at 290 K."""

FAULTS = (
    "line", "band", "aim", "one_low", "co_channel", "multipath", "overload", "foliage",
    "not_predicted",
)  # fmt: skip


@dataclass(frozen=True)
class Roof:
    """An invented survey and what the simulator knows of it."""

    name: str
    survey: Survey
    azimuth_deg: Array
    distance_km: Array
    frequency_mhz: Array
    expected_dbuv_m: Array
    """Field of the curves, half the time, before anything nearby. (S,)"""
    free_dbuv_m: Array
    bare_db: Array
    """Loss of what stands near the path, out of leaf. (S,)"""
    crown_m: Array
    """Depth of crowns that the path crosses. (S,)"""
    bands: tuple[str, ...]
    wanted: np.ndarray
    disturber: np.ndarray
    """Index of the other station on the channel, -1 for none. (S,)"""


@dataclass(frozen=True)
class Fault:
    """What is wrong in one case."""

    code: str
    subject: str | None = None
    """Station or band that is meant."""


@dataclass(frozen=True)
class Signals:
    """What is there: at the set, and the carrier to noise."""

    level_dbm: Array
    noise_dbm: Array
    cn_db: Array
    shaky: np.ndarray
    """Drop-outs whatever the margin. (S,)"""


def roof_of(name: str, rng: np.random.Generator) -> Roof:
    """A survey with 8 to 18 stations from a few places, an antenna, perhaps trees."""
    stations = _stations(rng)
    aim = float(np.median([s["azimuth"] for s in stations[:6]]))
    amplified = rng.random() < 0.4
    downlead: list[dict[str, Any]] = []
    if amplified:
        downlead.append(
            {"kind": "preamplifier", "gain_db": float(rng.choice([15.0, 20.0, 25.0])),
             "noise_figure_db": 2.5, "overload_dbm": -12.0}
        )  # fmt: skip
    downlead.append({"kind": "coax", "type": "rg6", "length_m": float(rng.uniform(10.0, 35.0))})
    trees = _trees(rng, [s["azimuth"] for s in stations]) if rng.random() < 0.5 else []
    ways = int(rng.choice([1, 2, 4]))
    data: dict[str, Any] = {
        "format": "skyview-survey", "version": 1, "revision": 1,
        "site": {**SITE, "surroundings": "suburban"},
        "spots": [{"id": "ridge", "enu_m": [0.0, 0.0, 6.0], "heights_m": [2.0]}],
        "views": [{
            "id": "round", "photo": "photos/round.jpg", "size_px": list(SIZE), "spot": "ridge",
            "camera_enu_m": list(CAMERA),
            "projection": WHOLE_CIRCLE,
            "prior": {"yaw_deg": 0, "yaw_sigma_deg": 0.5, "pitch_sigma_deg": 0.3,
                      "roll_sigma_deg": 0.3},
        }],
        "obstructions": [
            {"id": t["id"], "kind": "broadleaf", "distance_m": 22.0, "distance_from": "round",
             "distance_sigma_m": 2.0, "depth_m": t["depth"]} for t in trees
        ],
        "outlines": [
            {"id": f"{t['id']}-1", "obstruction": t["id"], "view": "round", "reaches_ground": True,
             "rings_px": [_ring(t["left"], t["right"], -15.0, 9.0)]} for t in trees
        ],
        "stations": [s["record"] for s in stations],
        "antennas": [{
            "id": "main", "spot": "ridge", "height_m": 2.0, "aim_true_deg": aim % 360.0,
            "front_to_back_db": {"low_vhf": 8.0, "high_vhf": 12.0, "uhf": 15.0},
            "gain_dbd": {"low_vhf": 1.0, "high_vhf": 6.0, "uhf": 9.0}, "downlead": downlead,
        }],
        "receiver": {"sets": ways, "splitter_ways": ways},
    }  # fmt: skip
    survey = validate(data)
    bare = scene_of(survey, heights_m=[2.0], leaf="out", draws=2)
    field = bare.field
    azimuth = np.degrees(bare.arrivals.azimuth[0])
    crown = np.zeros(len(stations))
    for t in trees:
        crown += np.where(np.abs(_turn(azimuth - t["middle"])) < t["half"], t["depth"], 0.0)
    channels = np.array([s.rf_channel for s in survey.stations])
    frequency = np.asarray(centre_mhz("americas-6mhz", channels), float)
    other = [
        next((j for j, c in enumerate(channels) if c == channel and j != i), -1)
        for i, channel in enumerate(channels)
    ]
    return Roof(
        name, survey, azimuth, bare.arrivals.distance_m[0] / 1e3, frequency,
        0.5 * (field.wanted_dbuv_m + field.unwanted_dbuv_m)[0], field.free_space_dbuv_m[0],
        np.array([answer.loss_db for answer in bare.answers[0]]), crown,
        tuple(band_of(float(f)) for f in frequency),
        np.array([s.role == "wanted" for s in survey.stations]), np.array(other),
    )  # fmt: skip


def _stations(rng: np.random.Generator) -> list[dict[str, Any]]:
    """Groups of transmitters on one hill each; now and then a far one on a used channel."""
    first = rng.uniform(0.0, 360.0)
    groups = [(first, rng.uniform(15.0, 60.0))]
    groups += [
        (first + rng.uniform(30.0, 330.0), rng.uniform(10.0, 95.0))
        for _ in range(int(rng.integers(1, 4)))
    ]
    count = int(rng.integers(8, 17))
    uhf, vhf = rng.permutation(np.arange(14, 37)), rng.permutation(np.arange(7, 14))
    made = []
    for i in range(count):
        azimuth, distance = groups[0] if i < 6 else groups[int(rng.integers(len(groups)))]
        high = i % 4 == 1
        channel = int(vhf[i // 4]) if high else int(uhf[i])
        power = rng.uniform(8.0, 60.0) if high else 10.0 ** rng.uniform(1.3, 3.0)
        made.append(_made(f"Q{i:02d}", azimuth + rng.normal(0.0, 2.0), distance, channel, power))
    if rng.random() < 0.4:
        twin = made[int(rng.integers(count))]
        far = _made(
            "QXX", twin["azimuth"] + rng.uniform(20.0, 340.0), rng.uniform(90.0, 180.0),
            twin["record"]["rf_channel"], 500.0,
        )  # fmt: skip
        far["record"]["role"] = "interferer"
        made.append(far)
    return made


def _made(
    name: str, azimuth: float, distance_km: float, channel: int, power_kw: float
) -> dict[str, Any]:
    longitude, latitude, _ = EARTH.fwd(
        SITE["longitude_deg"], SITE["latitude_deg"], azimuth, distance_km * 1e3
    )
    record = {
        "id": name, "latitude_deg": latitude, "longitude_deg": longitude, "rf_channel": channel,
        "erp_kw": float(power_kw), "system": "atsc1", "polarization": "h", "antenna_amsl_m": 420.0,
        "haat_m": 300.0,
    }  # fmt: skip
    return {"azimuth": azimuth, "record": record}


def _trees(rng: np.random.Generator, azimuths: list[float]) -> list[dict[str, Any]]:
    made = []
    for number in range(int(rng.integers(1, 3))):
        middle = float(azimuths[int(rng.integers(len(azimuths)))]) % 360.0
        half = float(rng.uniform(12.0, 28.0))
        made.append(
            {"id": f"tree{number}", "middle": middle, "half": half, "left": middle - half,
             "right": middle + half, "depth": float(rng.uniform(8.0, 25.0))}
        )  # fmt: skip
    if len(made) == 2 and abs(_turn(made[0]["middle"] - made[1]["middle"])) < 60.0:
        made.pop()
    return made


def _ring(left: float, right: float, bottom: float, top: float) -> list[list[float]]:
    """A rectangle of azimuth and elevation [deg] in pixels; x may run past the picture."""
    start = (left + 180.0) % 360.0
    end = start + right - left
    corners = [(start, bottom), (start, top), (end, top), (end, bottom)]
    return [[10.0 * x, 10.0 * (60.0 - y)] for x, y in corners]


def _turn(degrees: Any) -> Any:
    return (degrees + 180.0) % 360.0 - 180.0


@dataclass
class Air:
    """One roof's true fields and the fault's own numbers; scans of other days differ by fading."""

    roof: Roof
    rng: np.random.Generator
    fault: Fault
    field: Array
    leaves: Array
    """What leaves truly cost each station. (S,) [dB]"""
    numbers: dict[str, float]


def air_of(roof: Roof, code: str, rng: np.random.Generator) -> Air | None:
    """True fields and a fault of that code; None where the roof cannot have it."""
    count = len(roof.azimuth_deg)
    field = roof.expected_dbuv_m + rng.normal(0.0, SITE_DB) + rng.normal(0.0, OWN_DB, count)
    field = np.minimum(field, roof.free_dbuv_m + 3.0)
    crown = 0.2 * roof.frequency_mhz**0.3 * roof.crown_m**0.6
    leaves = crown * rng.uniform(0.4, 1.2) * np.exp(rng.normal(0.0, 0.3, count))
    wanted = np.flatnonzero(roof.wanted)
    numbers = {"size": float(rng.uniform(6.0, 30.0)), "kind": float(rng.random())}
    subject = None
    gain = _gain(roof.survey)
    if code == "band":
        bands = [roof.bands[i] for i in wanted]
        known = sorted({b for b in bands if bands.count(b) >= 2})
        if len(known) < 2:
            return None
        subject = str(rng.choice(known))
        numbers["size"] = float(rng.uniform(8.0, 25.0))
    elif code == "one_low":
        subject = roof.survey.stations[int(rng.choice(wanted))].id
        numbers["size"] = float(rng.uniform(12.0, 38.0))
    elif code == "aim":
        numbers["turn"] = float(rng.choice([-1.0, 1.0]) * rng.uniform(25.0, 180.0))
    elif code == "co_channel":
        shared = [i for i in wanted if roof.disturber[i] >= 0]
        if not shared:
            return None
        subject = roof.survey.stations[shared[0]].id
        numbers["size"] = float(rng.uniform(2.0, 18.0))
    elif code == "overload":
        if gain == 0.0:
            return None
        numbers["size"] = float(rng.uniform(8.0, 35.0))
    elif code == "foliage":
        if np.max(leaves[roof.wanted]) < 4.0:
            return None
    elif code == "not_predicted":
        numbers["size"] = float(rng.uniform(15.0, 45.0))
    return Air(roof, rng, Fault(code, subject), field, leaves, numbers)


def _gain(survey: Survey) -> float:
    part = survey.antennas[0].downlead[0]
    return float(part.gain_db) if part.kind == "preamplifier" else 0.0


def on_the_day(air: Air, leaf: str, faulty: bool) -> Signals:
    """What arrives at the set on one day, with or without the fault."""
    roof, rng, code = air.roof, air.rng, air.fault.code if faulty else "none"
    count, f, size = len(roof.azimuth_deg), roof.frequency_mhz, air.numbers["size"]
    names = [s.id for s in roof.survey.stations]
    fading = rng.normal(0.0, 1.0, count) * (1.0 + roof.distance_km / 40.0)
    field = air.field + fading - roof.bare_db
    field = field - (air.leaves if leaf == "in" else 0.0)
    if code == "one_low":
        field[names.index(str(air.fault.subject))] -= size
    if code == "not_predicted":
        field[names.index(str(air.fault.subject))] += size
    antenna = roof.survey.antennas[0]
    turn = air.numbers.get("turn", 0.0) if code == "aim" else 0.0
    offset = np.radians(_turn(roof.azimuth_deg - float(antenna.aim_true_deg or 0.0) - turn))
    back = np.array([(antenna.front_to_back_db or {})[b] for b in roof.bands])
    forward = 20.0 * np.log10(np.maximum(np.cos(offset), 1e-4) ** 4)
    gain = np.array([(antenna.gain_dbd or {})[b] for b in roof.bands])
    toward = gain + np.maximum(forward, -back)
    terminals = field - 20.0 * np.log10(f) - 75.07 + toward
    if code == "band":
        terminals = terminals - size * (np.array(roof.bands) == air.fault.subject)
    sky = 52.0 - 27.7 * np.log10(f / 10.0) - 2.0
    sky_mw = 10.0 ** ((THERMAL_DBM + sky) / 10.0)
    level, noise_mw = _through(roof, air, terminals, sky_mw, code == "line")
    cn = level - 10.0 * np.log10(noise_mw)
    ratio = np.where(roof.disturber >= 0, terminals - terminals[roof.disturber], np.inf)
    if code == "co_channel":
        ratio[names.index(str(air.fault.subject))] = size
    cn = -10.0 * np.log10(10.0 ** (-cn / 10.0) + 10.0 ** (-ratio / 10.0))
    shaky = np.zeros(count, bool)
    if code == "overload":
        level = level - rng.uniform(0.0, 3.0)
        raised = size + rng.normal(0.0, 2.0, count)
        cn = cn - 3.0 - np.maximum(raised, 0.0)
        shaky = rng.random(count) < 0.8
    if code == "co_channel":
        at = names.index(str(air.fault.subject))
        shaky[at] = rng.random() < 0.7
    if code == "multipath":
        middle = roof.azimuth_deg[int(rng.choice(np.flatnonzero(roof.wanted)))]
        near = np.abs(_turn(roof.azimuth_deg - middle)) < 25.0
        hit = near & (rng.random(count) < 0.7)
        hit[int(np.argmin(np.abs(_turn(roof.azimuth_deg - middle))))] = True
        best = rng.uniform(8.0, 22.0, count)
        spoilt = -10.0 * np.log10(10.0 ** (-cn / 10.0) + 10.0 ** (-best / 10.0))
        cn = np.where(hit, spoilt, cn)
        level = level + np.where(hit, rng.normal(0.0, 1.5, count), 0.0)
        shaky = hit & (rng.random(count) < 0.5)
    return Signals(level, 10.0 * np.log10(noise_mw), cn, shaky)


def _through(
    roof: Roof, air: Air, terminals: Array, noise_mw: Array, broken: bool
) -> tuple[Array, Array]:
    """Signal and noise carried through the line to the set, stage by stage."""
    f, size, kind = roof.frequency_mhz, air.numbers["size"], air.numbers["kind"]
    survey, gain = roof.survey, _gain(roof.survey)
    thermal = 10.0 ** (THERMAL_DBM / 10.0)
    level = terminals
    lost, dead = np.zeros(len(f)), False
    if broken and gain > 0.0 and kind < 0.5:
        dead, lost = True, np.full(len(f), size / 2.0)
    elif broken and kind < 0.7:
        lost = np.full(len(f), size)
    elif broken and kind < 0.85:
        reactance = (150.0 / f) * np.sqrt(10.0 ** (size / 10.0))
        lost = 10.0 * np.log10(1.0 + reactance**2)
    elif broken:
        lost = size * np.sqrt(f / 500.0)
    if gain > 0.0 and not dead:
        level = level + gain
        noise_mw = 10.0 ** (gain / 10.0) * (noise_mw + thermal * 10.0**0.25)
    else:
        noise_mw = noise_mw + thermal
    length = sum(p.length_m for p in survey.antennas[0].downlead if p.kind == "coax")
    table = np.array(COAX_DB)
    cable = np.interp(f, table[:, 0], table[:, 1]) * length / 30.48
    loss = cable + lost + SPLIT_DB[survey.receiver.splitter_ways]
    passed = 10.0 ** (-loss / 10.0)
    noise_mw = noise_mw * passed + thermal * (1.0 - passed)
    figure = np.where(f < 300.0, 10.0, 7.0)
    return level - loss, noise_mw + thermal * (10.0 ** (figure / 10.0) - 1.0)


@dataclass(frozen=True)
class Display:
    """How one receiver shows what it gets."""

    kind: str
    off_db: float
    first_dbm: float
    step_db: float
    top_cn_db: float
    shows_cn: bool
    shows_steady: bool
    shows_lost: bool


def display_of(rng: np.random.Generator) -> Display:
    """Bars in half the cases, a meter in dBm in four of ten, per cent in one of ten."""
    kind = str(rng.choice(["bars", "dbm", "percent"], p=[0.5, 0.4, 0.1]))
    return Display(
        kind, rng.normal(0.0, 2.5), rng.uniform(-90.0, -73.0), rng.uniform(5.0, 12.0),
        rng.uniform(30.0, 37.0), bool(rng.random() < (0.8 if kind == "dbm" else 0.5)),
        bool(rng.random() < 0.7), bool(rng.random() < 0.6),
    )  # fmt: skip


def rows_of(
    roof: Roof, signals: Signals, display: Display, rng: np.random.Generator
) -> list[dict[str, Any]]:
    """The scan's rows as the survey file keeps them."""
    rows = []
    for i in np.flatnonzero(roof.wanted):
        margin = signals.cn_db[i] - 15.2
        received = bool(margin + rng.normal(0.0, 0.8) > 0.0)
        row: dict[str, Any] = {
            "rf_channel": roof.survey.stations[i].rf_channel, "received": received
        }  # fmt: skip
        power = np.array([signals.level_dbm[i], signals.noise_dbm[i]])
        level = 10.0 * np.log10(np.sum(10.0 ** (power / 10.0))) + rng.normal(0.0, 1.5)
        if received or display.shows_lost or display.kind == "dbm":
            row |= _strength(display, level)
        if display.shows_cn and received:
            shown = -10.0 * np.log10(
                10.0 ** (-signals.cn_db[i] / 10.0) + 10.0 ** (-display.top_cn_db / 10.0)
            )
            row["cn_db"] = round(shown + rng.normal(0.0, 1.0), 1)
        if display.shows_steady and received:
            row["steady"] = bool(margin > rng.uniform(1.0, 5.0) and not signals.shaky[i])
        rows.append(row)
    return rows


def _strength(display: Display, level: float) -> dict[str, float]:
    if display.kind == "dbm":
        return {"strength_dbm": float(round(level + display.off_db))}
    steps = (level - display.first_dbm) / display.step_db + 1.0
    if display.kind == "bars":
        return {"strength_bars": float(np.clip(np.floor(steps), 0, 5))}
    return {"strength_percent": float(np.clip(round(steps * 20.0), 0, 100))}
