"""One of a survey's scans beside the prediction and beside its other scans."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.errors import InputError
from skyview.survey.models import Antenna, Scan, Survey
from skyview.survey.scan.answer import CauseCode, Finding, ScanAnswer, StationScan
from skyview.survey.scan.expected import Expected, expected_of
from skyview.survey.scan.faults import Fault, band_named, faults_of
from skyview.survey.scan.observed import Observed, observed_of
from skyview.survey.scan.posterior import Posterior, posterior_of
from skyview.survey.scan.readings import CN_DB, CN_TOP_DB, METER_DB, Readings, readings_of
from skyview.survey.scan.seasons import again_on, leaf_on
from skyview.survey.scene import Leaf

NAMED = 0.75
"""Least probability with which a cause is named: set on simulated scans (shared/scan_study.csv)
that the table there does not hold."""

LISTED = 0.05
"""Other explanations are listed from this probability on."""

TOUCHED_DB = 3.0
"""A station is put down to a fault that moves it by so much or more."""

WIDE_SIGMAS = 1.645
"""A difference beyond so many sigmas, one in ten, is not agreement."""

LEAVES_DB = 2.0
"""Leaves that cost less are no reason to come again."""

SOUND = 0.6
"""Probability of no fault between the antenna's terminals and the set that clears the line."""


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

    It is held against the prediction, and against the last earlier scan of the same antenna; a
    scan at the terminals and one at the set test the line between them. Raises InputError where
    there is no scan or nothing of it can be compared.
    """
    if not survey.scans:
        raise InputError(
            "the survey has no scan", field="scans", mend="read one with: skyview scan SURVEY FILE"
        )
    notes: list[str] = []
    chosen = range(len(survey.scans))[number]
    now = _read(survey, survey.scans[chosen], notes)
    if not np.any(now.spoken) and not now.seen.unlisted:
        raise InputError("the scan has no row", field="scans", mend="give the channels it found")
    first = faults_of(now.expected, now.spoken, compared=False)
    plain = posterior_of(now.expected, now.readings, first)
    findings = _findings(plain, first, now)
    since, line = None, None
    earlier = _partner(survey, chosen)
    if earlier is not None:
        other = _read(survey, survey.scans[earlier], notes)
        later, before = (other, now) if now.expected.at_terminals else (now, other)
        changes, which = _changes(later, before)
        line = changes[0].code == "none" and changes[0].probability >= SOUND
        crossed = later.expected.at_terminals != before.expected.at_terminals
        if changes[0].code not in ("none", "cannot_tell") and changes[0].probability >= NAMED:
            findings, first, plain = changes, *which
            since = before.scan.taken or "an undated scan"
        line = line and crossed
    finding = findings[0]
    if finding.probability < NAMED:
        finding = Finding("cannot_tell", 1.0 - findings[0].probability)
        others = tuple(f for f in findings if f.probability >= LISTED)
    else:
        others = tuple(f for f in findings[1:] if f.probability >= LISTED)
    measured = now.seen.scale == "dbm" and bool(np.any(~np.isnan(now.seen.strength)))
    return ScanAnswer(
        antenna=now.scan.antenna,
        taken=now.scan.taken,
        at=now.scan.at,
        rows=_rows(survey, now, finding, first, plain),
        finding=finding,
        others=others,
        since=since,
        offset_db=plain.common_db if measured else None,
        offset_sigma_db=plain.common_sigma_db if measured else None,
        line_cleared=now.scan.line_cleared or now.expected.at_terminals or bool(line),
        again_on=_again(survey, now),
        warnings=tuple(dict.fromkeys(notes)),
    )


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
        for station, level, row in zip(
            survey.stations, expected.level_dbm, seen.row, strict=True
        )
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


def _changes(later: Read, before: Read) -> tuple[list[Finding], tuple[list[Fault], Posterior]]:
    """What differs between two scans."""
    base = before.readings
    if before.seen.scale != later.seen.scale:
        mean = base.likelihood.mean(axis=1, keepdims=True)
        base = replace(base, likelihood=mean)
    greened = before.leaf == "out" and later.leaf == "in"
    faults = faults_of(later.expected, later.spoken & before.spoken, compared=greened)
    faults = [f for f in faults if f.code != "not_predicted"]
    found = posterior_of(later.expected, later.readings, faults, base)
    return _findings(found, faults, later), (faults, found)


def _findings(found: Posterior, faults: Sequence[Fault], read: Read) -> list[Finding]:
    """Every explanation, stations and bands apart, the likeliest first."""
    asked = np.flatnonzero(read.spoken & ~np.isnan(read.expected.level_dbm))
    findings = []
    for fault, cases in zip(faults, found.cases, strict=True):
        for subject in np.unique(fault.subject):
            mine = fault.subject == subject
            chance = float(cases[mine].sum())
            size = float(np.sum(cases * mine * fault.size) / max(chance, 1e-300))
            named = fault.code in ("one_low", "co_channel", "not_predicted")
            findings.append(
                Finding(
                    fault.code,
                    chance,
                    station=read.expected.signals.ids[subject] if named else None,
                    band=band_named(read.expected, asked, int(subject))
                    if fault.code == "band"
                    else None,
                    size_db=size if fault.code in ("line", "band", "one_low") else None,
                    turn_deg=float(np.degrees(fault.size[np.argmax(cases)]))
                    if fault.code == "aim"
                    else None,
                )
            )
    return sorted(findings, key=lambda f: -f.probability)


def _rows(
    survey: Survey, now: Read, finding: Finding, faults: Sequence[Fault], found: Posterior
) -> tuple[StationScan, ...]:
    expected, seen = now.expected, now.seen
    difference, sigma = _differences(now, found)
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
                predicted_dbm=_known(expected.level_dbm[s] + expected.offset_db),
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


def _differences(now: Read, found: Posterior) -> tuple[Array, Array]:
    """Read less predicted, and one sigma of it. (S,) [dB]"""
    expected, seen = now.expected, now.seen
    shared = np.where(expected.shares_offset, expected.offset_db, 0.0)
    level = expected.level_dbm + shared
    common = np.where(expected.shares_offset, expected.offset_sigma_db, 0.0)
    sigma = np.hypot(np.hypot(expected.own_sigma_db, common), METER_DB)
    ratio = level - expected.noise_dbm
    shown = -10.0 * np.log10(10.0 ** (-ratio / 10.0) + 10.0 ** (-CN_TOP_DB / 10.0))
    by_ratio = np.where(shown < CN_TOP_DB - 1.0, seen.cn_db - shown, np.nan)
    if seen.scale != "dbm":
        return by_ratio, np.hypot(sigma, CN_DB)
    by_strength = seen.strength - level
    return np.where(np.isnan(by_strength), by_ratio, by_strength), sigma


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
    off = (np.abs(np.nan_to_num(in_sigmas)) > WIDE_SIGMAS) | (
        surprise & ~np.isnan(seen.received)
    )
    causes: list[CauseCode] = ["cannot_tell" if far else "agrees" for far in off]
    touched = _touched(now, finding, faults, found, off)
    for s in np.flatnonzero(touched):
        causes[s] = finding.code  # type: ignore[assignment]
    for s, strange in enumerate(seen.other_station):
        if strange and seen.received[s] > 0.5:
            causes[s] = "other_station"
    return causes


def _touched(
    now: Read,
    finding: Finding,
    faults: Sequence[Fault],
    found: Posterior,
    off: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Stations that the finding speaks of. (S,)"""
    nobody = np.zeros(len(off), bool)
    number = next((i for i, fault in enumerate(faults) if fault.code == finding.code), None)
    if number is None or finding.code == "none":
        return nobody
    fault, cases = faults[number], found.cases[number]
    if finding.station is not None:
        return np.array([name == finding.station for name in now.expected.signals.ids])
    if finding.code == "overload":
        return now.spoken
    if finding.code == "multipath":
        return now.spoken & _spoilt(now)
    best = int(np.argmax(cases))
    return np.abs(fault.shift_db[best]) >= TOUCHED_DB


def _spoilt(now: Read) -> NDArray[np.bool_]:
    """Stations whose quality is poorer than their strength supports. (S,)"""
    strength, plain = now.readings.likelihood[0], now.readings.likelihood[1]
    best = np.max(plain, axis=(0, 2)) > 2.0 * np.max(strength, axis=(0, 2))
    return np.asarray(best)


def _again(survey: Survey, now: Read) -> str | None:
    """The day to look again, where leaves that were not out yet will cost something."""
    if now.leaf == "in" or not np.any(now.expected.leaves_db > LEAVES_DB):
        return None
    day = again_on(now.scan.taken, survey.site.latitude_deg)
    return None if day is None else day.isoformat()


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
