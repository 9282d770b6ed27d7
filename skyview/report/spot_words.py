"""What is said about spots, heights and headings: the best, from where on, what to point at."""

from __future__ import annotations

from collections.abc import Sequence

from skyview.report.mount_words import refusal_sentence
from skyview.survey.aim_extras import Extra
from skyview.survey.aiming import AimRow, Aims
from skyview.survey.heights import Enough, Knee
from skyview.survey.mounts import Mounts
from skyview.survey.pointers import Part, Pointer
from skyview.survey.roof_map import RoofMap
from skyview.survey.tally import MountRow

CAUTIONS = (
    "Keep away from the roof's edge, tie yourself and the ladder, and look again for power lines "
    "before a mast is raised. Mast and coax are bonded to the building's grounding electrode "
    "system. Local codes and licensed practice decide."
)

_PARTS: dict[Part, str] = {
    "left_edge": "the left edge of {}",
    "right_edge": "the right edge of {}",
    "top": "the top of {}",
    "middle": "{}",
}

_PURPOSES = {
    "must_have": "best for what must be had",
    "count": "best for the most stations",
    "as_set": "as it is set in the survey",
}

_EXTRAS = {
    "vhf_elements": "elements for VHF",
    "second_separate": "a second antenna on a downlead of its own",
    "second_combined": "a second antenna on the same downlead",
    "rotator": "a rotator, or turning it by hand",
}


def height_sentences(found: Mounts) -> list[str]:
    """From which height on nothing more is gained, and from which it is good enough."""
    return [*map(knee_sentence, found.knees), *enough_sentences(found)]


def best_sentence(found: Mounts) -> str:
    """Which place is best, and which others are as good within what is known."""
    if found.best is None:
        return "Every place is refused: see the reasons above."
    text = f"Best by what is known: {found.best[0]} at {found.best[1]:.1f} m"
    if not found.alike:
        return f"{text}."
    names = [f"{spot} at {height:.1f} m" for spot, height in found.alike]
    return f"{text}; as good within what is known: {_listed(names)}."


def knee_sentence(knee: Knee) -> str:
    """From which height on nothing more is gained.

    >>> knee_sentence(Knee("ridge", 2.5, 3.0, 1.2))
    'ridge: above 2.5 m nothing more is gained; one step lower costs stations.'
    """
    if knee.lower_costs is None:
        return (
            f"{knee.spot}: nothing is gained above {knee.height_m:.1f} m, the lowest height tried."
        )
    lower = "" if knee.lower_costs < 0.25 else "; one step lower costs stations"
    if knee.height_m >= knee.higher_m:
        return (
            f"{knee.spot}: more is gained up to {knee.height_m:.1f} m, the greatest height allowed."
        )
    return f"{knee.spot}: above {knee.height_m:.1f} m nothing more is gained{lower}."


def refused_lines(rows: Sequence[MountRow]) -> list[str]:
    """Refused places with their reasons, those with the same reason in one line."""
    places: dict[str, list[str]] = {}
    for row in rows:
        if row.refused is not None:
            where = f"{row.spot} at {row.antenna_height_m:.1f} m"
            places.setdefault(refusal_sentence(row.refused), []).append(where)
    return [f"Refused: {', '.join(where)}: {reason}" for reason, where in places.items()]


def enough_sentences(found: Mounts) -> list[str]:
    """From which height what must be had is good enough; what nowhere is, in one sentence."""
    nowhere = {e.station for e in found.enough} - {
        e.station for e in found.enough if e.likely_from_m is not None
    }
    names = [name for name in dict.fromkeys(e.station for e in found.enough) if name in nowhere]
    text = [f"Likely nowhere that was tried: {_listed(names)}."] if names else []
    return text + [enough_sentence(e) for e in found.enough if e.station not in nowhere]


def enough_sentence(found: Enough) -> str:
    """From which height a station that must be had is good enough.

    >>> enough_sentence(Enough("ridge", "QVEL", 2.0, 1.5))
    'QVEL on ridge: likely from 1.5 m, sure from 2.0 m.'
    """
    head = f"{found.station} on {found.spot}"
    if found.likely_from_m is None:
        return f"{head}: not likely at any height tried."
    likely = f"likely from {found.likely_from_m:.1f} m"
    if found.sure_from_m is None:
        return f"{head}: {likely}, sure at none."
    if found.sure_from_m == found.likely_from_m:
        return f"{head}: sure from {found.sure_from_m:.1f} m."
    return f"{head}: {likely}, sure from {found.sure_from_m:.1f} m."


def pointer_text(pointer: Pointer | None, on_it_deg: float = 1.0) -> str | None:
    """What a heading points at; None where nothing that is known stands near.

    >>> pointer_text(Pointer("block", "left_edge", 0.4, None))
    'the left edge of block'
    >>> pointer_text(Pointer("block", "left_edge", -3.6, Pointer("spire", "middle", 4.2)))
    '4° left of the left edge of block, 4° right of spire'
    """
    if pointer is None:
        return None
    text = _beside(pointer, on_it_deg)
    if pointer.second is not None:
        text += f", {_beside(pointer.second, on_it_deg)}"
    return text


def _beside(pointer: Pointer, on_it_deg: float) -> str:
    what = _PARTS[pointer.part].format(pointer.thing)
    if abs(pointer.off_deg) <= on_it_deg:
        return what
    side = "right" if pointer.off_deg > 0.0 else "left"
    return f"{abs(pointer.off_deg):.0f}° {side} of {what}"


def purpose_word(row: AimRow) -> str:
    """What a heading is best for."""
    return _PURPOSES[row.purpose]


def range_words(row: AimRow, magnetic: bool) -> str:
    """Headings within one decibel, true or magnetic."""
    low = row.low_magnetic_deg if magnetic else row.low_deg
    high = row.high_magnetic_deg if magnetic else row.high_deg
    if (row.low_deg, row.high_deg) == (0.0, 360.0):
        return "any"
    return f"{low:.0f} to {high:.0f}"


def aim_sentence(row: AimRow) -> str:
    """One heading in full."""
    text = (
        f"{purpose_word(row).capitalize()}: {row.aim_true_deg:.0f}° true, "
        f"{row.aim_magnetic_deg:.0f}° by compass; {row.sure} sure, {row.likely} likely"
    )
    if row.must_have_missed:
        text += f"; misses {_listed(row.must_have_missed)}"
    point = pointer_text(row.point_at)
    return f"{text}. Point it at {point}." if point else f"{text}."


def extra_sentence(extra: Extra) -> str:
    """What one change would bring."""
    what = _EXTRAS[extra.code]
    if extra.aims_deg:
        what += f" ({' and '.join(f'{aim:.0f}°' for aim in extra.aims_deg)})"
    text = f"{what[0].upper()}{what[1:]}: {extra.sure} sure, {extra.likely} likely"
    if extra.gained:
        text += f"; gains {_listed(extra.gained)}"
    if extra.lost:
        text += f"; loses {_listed(extra.lost)}"
    if not extra.gained and not extra.lost:
        text += "; no station more or less"
    return f"{text}."


def aims_heading(found: Aims) -> str:
    """Which antenna is turned, and where it stands."""
    name = found.antenna or "the antenna that planning assumes"
    return f"{name} on {found.spot}, {found.antenna_height_m:.1f} m up"


def map_sentence(found: RoofMap) -> str:
    """How the map was made and how good it is."""
    free = sum(r is None for r in found.refused)
    text = (
        f"{len(found.points_m)} points {found.step_m:g} m apart, antenna {found.height_m:g} m "
        f"above the roof; {free} of them not refused"
    )
    if found.error_db is None:
        return f"{text}, all computed."
    return (
        f"{text}, {int(found.computed.sum())} computed; between these losses are read off, which "
        f"was {found.error_db:.1f} dB off (root mean square) where it was checked."
    )


def _listed(names: Sequence[str], most: int = 4) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more
