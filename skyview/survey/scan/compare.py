"""One of a survey's scans beside the prediction and beside its other scans."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.errors import InputError
from skyview.survey.models import Antenna, Scan, Survey
from skyview.survey.scan.answer import CauseCode, Finding, ScanAnswer, StationScan
from skyview.survey.scan.expected import Expected, expected_of
from skyview.survey.scan.faults import Fault, band_named, between, faults_of
from skyview.survey.scan.observed import Observed, observed_of
from skyview.survey.scan.posterior import Posterior, posterior_of
from skyview.survey.scan.readings import (
    CN_DB,
    CN_TOP_DB,
    METER_DB,
    Readings,
    noise_at,
    power_sum_dbm,
    readings_of,
)
from skyview.survey.scan.seasons import again_on, leaf_on
from skyview.survey.scene import Leaf

NAMED, AGREES = 0.8, 0.5
"""Least probability with which a cause is named, and with which nothing is said to stand out: set
on simulated scans other than those of the table in shared/scan_study.csv."""

LISTED = 0.05
"""Other explanations are listed from this probability on."""

TOUCHED_DB = 3.0
"""A station is put down to a fault that moves it by so much or more."""

WIDE_SIGMAS = 1.645
"""A difference beyond so many sigmas, one in ten, is not agreement."""

OF_STATIONS = ("one_low", "co_channel", "not_predicted")
"""Causes that speak of one station."""

CROWNS_DB = 2.0
"""Crowns that cost less are no reason to come again."""

LINE_DOUBT, LEAST_SHARED = 0.02, 3
"""Scans at the terminals and at the set clear the line where its fault is no likelier than the
first, and so many stations were measured in both."""


@dataclass(frozen=True)
class Read:
    """A scan with its prediction."""

    scan: Scan
    leaf: Leaf
    expected: Expected
    seen: Observed
    readings: Readings

    @property
    def spoken(self) -> NDArray[np.bool_]:
        """Stations that the scan speaks of. (S,)"""
        return np.array(self.seen.row) >= 0


def compare(survey: Survey, number: int = -1) -> ScanAnswer:
    """What one of the survey's scans tells, the last if not told.

    It is held against the prediction, and together with the last earlier scan of the same
    antenna; a scan at the terminals and one at the set test the line between them. Raises
    InputError where there is no scan or nothing of it can be compared.
    """
    if not survey.scans:
        raise InputError(
            "the survey has no scan", field="scans", mend="read one with: skyview scan SURVEY FILE"
        )
    notes: list[str] = []
    chosen = range(len(survey.scans))[number]
    now = _read(survey, survey.scans[chosen], notes)
    if not now.scan.rows:
        raise InputError("the scan has no row", field="scans", mend="give the channels it found")
    partner = _partner(survey, chosen)
    other = None if partner is None else _read(survey, survey.scans[partner], notes)
    faults, found = _weighed(now, other)
    lower = now if other is None or not now.expected.at_terminals else other
    findings = _findings(found, faults, lower)
    finding, others = _named(findings)
    crossed = other is not None and other.scan.at != now.scan.at
    measured = _measured(now)
    return ScanAnswer(
        antenna=now.scan.antenna,
        taken=now.scan.taken,
        at=now.scan.at,
        rows=_rows(survey, now, finding, faults, found),
        finding=finding,
        others=others,
        since=other.scan.taken if other is not None and finding.new and not crossed else None,
        offset_db=found.common_db if measured else None,
        offset_sigma_db=found.common_sigma_db if measured else None,
        line_cleared=now.scan.line_cleared
        or now.expected.at_terminals
        or (crossed and other is not None and _line_is_sound(now, other, findings)),
        again_on=_again(survey, now),
        warnings=tuple(dict.fromkeys(notes)),
    )


def _weighed(now: Read, other: Read | None) -> tuple[list[Fault], Posterior]:
    """The faults that one scan, or two, may show, and what is to be thought of each."""
    if other is None:
        faults = _possible(faults_of(now.expected, now.spoken, greened=False))
        return faults, posterior_of(now.expected, now.readings, faults)
    lower, before = (other, now) if now.expected.at_terminals else (now, other)
    base = before.readings
    if before.seen.scale != lower.seen.scale:
        base = replace(base, likelihood=base.likelihood.mean(axis=1, keepdims=True))
    crossed = before.scan.at != lower.scan.at
    greened = before.leaf == "out" and lower.leaf == "in"
    spoken = before.spoken | lower.spoken
    faults = between(
        faults_of(before.expected if crossed else lower.expected, spoken, greened=False),
        faults_of(lower.expected, spoken, greened=greened),
        crossed,
    )
    faults = _possible(faults)
    return faults, posterior_of(lower.expected, lower.readings, faults, base)


def _possible(faults: Sequence[Fault]) -> list[Fault]:
    """Those that some station of the scan can show: one that speaks of none knows no single one."""
    return [fault for fault in faults if fault.weight.size]


def _named(findings: list[Finding]) -> tuple[Finding, tuple[Finding, ...]]:
    """The finding that stands out, if any, and what else may be."""
    first = findings[0]
    if first.probability >= (AGREES if first.code == "none" else NAMED):
        return first, tuple(f for f in findings[1:] if f.probability >= LISTED)
    unsure = Finding("cannot_tell", 1.0 - first.probability)
    return unsure, tuple(f for f in findings if f.probability >= LISTED)


def _measured(read: Read) -> bool:
    return read.seen.scale == "dbm" and bool(np.any(~np.isnan(read.seen.strength)))


def _line_is_sound(now: Read, other: Read, findings: Sequence[Finding]) -> bool:
    """Whether two scans, at the terminals and below the line, speak for the line."""
    both = ~np.isnan(now.seen.strength) & ~np.isnan(other.seen.strength)
    line = sum(f.probability for f in findings if f.code == "line")
    in_dbm = _measured(now) and _measured(other)
    return in_dbm and int(both.sum()) >= LEAST_SHARED and line <= LINE_DOUBT


def antenna_of(survey: Survey, name: str | None) -> Antenna | None:
    """The antenna of a scan: the named one, else the survey's first, None where it has none."""
    known = {a.id: a for a in survey.antennas}
    if name is not None:
        return known[name]
    second = {a.combined_with for a in survey.antennas}
    leading = [a for a in survey.antennas if a.id not in second]
    return leading[0] if leading else None


def _read(survey: Survey, scan: Scan, notes: list[str]) -> Read:
    leaf = scan.leaf or leaf_on(scan.taken, survey.site.latitude_deg)
    if leaf is None:
        leaf = "in"
        notes.append("the scan's day does not tell the season: trees are taken in leaf")
    expected = expected_of(survey, antenna_of(survey, scan.antenna), scan.at, leaf)
    seen = observed_of(scan, survey.stations, expected.level_dbm)
    unknown = [
        station.id
        for station, level, row in zip(survey.stations, expected.level_dbm, seen.row, strict=True)
        if np.isnan(level) and row >= 0
    ]
    if unknown:
        notes.append(f"the power of {', '.join(unknown)} is not known: it cannot be compared")
    return Read(scan, leaf, expected, seen, readings_of(expected, seen))


def _partner(survey: Survey, number: int) -> int | None:
    """The other scan to hold it against: one of the other place first, else the last earlier one.

    Scans are in the order of their days, undated ones in that of the file.
    """
    mine = survey.scans[number]
    same = [
        i for i, scan in enumerate(survey.scans) if i != number and scan.antenna == mine.antenna
    ]
    crossed = [i for i in same if survey.scans[i].at != mine.at]
    if crossed:
        return crossed[-1]
    dated = [i for i in same if (survey.scans[i].taken or "") <= (mine.taken or "~")]
    earlier = [i for i in dated if survey.scans[i].taken is not None or i < number]
    return max(earlier, key=lambda i: (survey.scans[i].taken or "", i)) if earlier else None


def _findings(found: Posterior, faults: Sequence[Fault], read: Read) -> list[Finding]:
    """Every explanation, stations and bands apart, the likeliest first."""
    asked = np.flatnonzero(read.spoken & ~np.isnan(read.expected.level_dbm))
    chances: dict[tuple[str, int], list[tuple[float, Fault, Array]]] = {}
    for fault, cases in zip(faults, found.cases, strict=True):
        for subject in np.unique(fault.subject):
            mine = cases * (fault.subject == subject)
            chances.setdefault((fault.code, int(subject)), []).append(
                (float(mine.sum()), fault, mine)
            )
    findings = []
    for (code, subject), ways in chances.items():
        chance = sum(way[0] for way in ways)
        _, fault, mine = max(ways, key=lambda way: way[0])
        size = float(mine @ fault.size / max(float(mine.sum()), 1e-300))
        findings.append(
            Finding(
                code,
                chance,
                station=read.expected.signals.ids[subject] if code in OF_STATIONS else None,
                band=band_named(read.expected, asked, subject) if code == "band" else None,
                size_db=size if code in ("line", "band", "one_low", "foliage") else None,
                turn_deg=float(np.degrees(fault.size[np.argmax(mine)])) if code == "aim" else None,
                new=fault.new,
            )
        )
    return sorted(findings, key=lambda f: -f.probability)


def _rows(
    survey: Survey, now: Read, finding: Finding, faults: Sequence[Fault], found: Posterior
) -> tuple[StationScan, ...]:
    expected, seen = now.expected, now.seen
    reading, difference, sigma = _differences(now)
    causes = _causes(now, finding, faults, found, difference / sigma)
    rows = []
    for s in np.flatnonzero(now.spoken):
        read = now.scan.rows[seen.row[s]]
        rows.append(
            StationScan(
                station=expected.signals.ids[s],
                rf_channel=survey.stations[s].rf_channel,
                received=read.received,
                predicted_probability=_known(expected.probability[s]),
                predicted_dbm=_known(reading[s]),
                strength_dbm=read.strength_dbm,
                difference_db=_known(difference[s]),
                sigma_db=_known(sigma[s]) if not np.isnan(difference[s]) else None,
                cause=causes[s],
            )
        )
    for number in seen.unlisted:
        read = now.scan.rows[number]
        rows.append(
            StationScan(
                None, read.rf_channel, read.received, None, None, read.strength_dbm, None, None,
                "not_listed" if read.received else "agrees",
            )
        )  # fmt: skip
    return tuple(rows)


def _differences(now: Read) -> tuple[Array, Array, Array]:
    """Predicted strength [dBm], read less predicted, and one sigma of that [dB]. (S,)"""
    expected, seen = now.expected, now.seen
    shared = np.where(expected.shares_offset, expected.offset_db, 0.0)
    level = expected.level_dbm + shared
    reading = power_sum_dbm(level, noise_at(expected))
    common = np.where(expected.shares_offset, expected.offset_sigma_db, 0.0)
    sigma = np.hypot(np.hypot(expected.own_sigma_db, common), METER_DB)
    ratio = level - noise_at(expected)
    shown = -10.0 * np.log10(10.0 ** (-ratio / 10.0) + 10.0 ** (-CN_TOP_DB / 10.0))
    by_ratio = np.where(shown < CN_TOP_DB - 1.0, seen.cn_db - shown, np.nan)
    if seen.scale != "dbm":
        return reading, by_ratio, np.hypot(sigma, CN_DB)
    by_strength = seen.strength - reading
    return reading, np.where(np.isnan(by_strength), by_ratio, by_strength), sigma


def _causes(
    now: Read,
    finding: Finding,
    faults: Sequence[Fault],
    found: Posterior,
    in_sigmas: Array,
) -> list[CauseCode]:
    """Why each station differs. (S,)"""
    expected, seen = now.expected, now.seen
    chance = np.nan_to_num(expected.probability, nan=0.5)
    surprise = np.where(seen.received > 0.5, chance < 0.1, chance > 0.9)
    off = (np.abs(np.nan_to_num(in_sigmas)) > WIDE_SIGMAS) | (surprise & ~np.isnan(seen.received))
    causes: list[CauseCode] = ["cannot_tell" if far else "agrees" for far in off]
    touched = _touched(now, finding, faults, found, len(off))
    for s in map(int, np.flatnonzero(touched)):
        causes[s] = cast(CauseCode, finding.code)
    for s, strange in enumerate(seen.other_station):
        if strange and seen.received[s] > 0.5:
            causes[s] = "other_station"
    return causes


def _touched(
    now: Read,
    finding: Finding,
    faults: Sequence[Fault],
    found: Posterior,
    count: int,
) -> NDArray[np.bool_]:
    """Stations that the finding speaks of. (S,)"""
    nobody = np.zeros(count, bool)
    ways = [i for i, f in enumerate(faults) if f.code == finding.code]
    if not ways or finding.code == "none" or (finding.code == "line" and now.expected.at_terminals):
        return nobody
    number = max(ways, key=lambda i: found.probability[i])
    fault, cases = faults[number], found.cases[number]
    if finding.station is not None:
        return np.array([name == finding.station for name in now.expected.signals.ids])
    if finding.code == "overload":
        return now.spoken
    if finding.code == "multipath":
        return now.spoken & _spoilt(now)
    best = int(np.argmax(cases))
    result: NDArray[np.bool_] = np.abs(fault.shift_db[best]) >= TOUCHED_DB
    return result


def _spoilt(now: Read) -> NDArray[np.bool_]:
    """Stations whose quality is poorer than their strength supports. (S,)"""
    strength, plain = now.readings.likelihood[0], now.readings.likelihood[1]
    best = np.max(plain, axis=(0, 2)) > 2.0 * np.max(strength, axis=(0, 2))
    return np.asarray(best)


def _again(survey: Survey, now: Read) -> str | None:
    """The day to look again, where leaves that were not out yet will cost something."""
    if now.leaf == "in" or not np.any(now.expected.crowns_db > CROWNS_DB):
        return None
    day = again_on(now.scan.taken, survey.site.latitude_deg)
    return None if day is None else day.isoformat()


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
