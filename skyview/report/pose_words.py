"""What a calibration says about itself, in sentences. The codes come from ``survey.solving``."""

from __future__ import annotations

from collections.abc import Sequence

from skyview.survey.models import Calibration, PoseFinding

PARAMETERS = {
    "yaw": "yaw",
    "pitch": "pitch",
    "roll": "roll",
    "log_scale": "scale",
    "level_row_px": "level row",
    "k1": "distortion",
    "log_aspect": "width against height",
}

WORTH = 0.9
"""A further mark is told where it would leave less than this share of the error."""

SETTLES_ELEVATION = (
    "a landmark whose height is known, a level line (the sea, or a spirit level sighted at eye "
    "height) or two plumb edges far apart would settle it"
)


def listed(names: Sequence[str]) -> str:
    """Names in a sentence.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def parameter_names(names: Sequence[str]) -> str:
    """Parameters as words.

    >>> parameter_names(["yaw", "log_scale"])
    'yaw and scale'
    """
    orders = [name.removeprefix("stretch_") for name in names if name.startswith("stretch_")]
    words = [PARAMETERS[name] for name in names if name in PARAMETERS]
    return listed(words + ([f"stretch of order {listed(orders)}"] if orders else []))


def sentence(finding: PoseFinding) -> str:
    """What the calibration noticed, as one sentence without its full stop."""
    marks, v = listed(finding.marks), finding.values
    match finding.code:
        case "near":
            return (
                f"mark {marks} shows something near: its place on the map leaves "
                f"{v['sigma_deg']:.1f} degrees; something farther off would hold the heading"
            )
        case "swapped":
            return f"the marks {marks} look swapped: each fits where the other was put"
        case "magnetic_for_true":
            return (
                f"the bearing of {marks} looks like a magnetic one taken for true: with the "
                f"declination of {v['declination_deg']:+.1f} degrees it agrees"
            )
        case "true_for_magnetic":
            return f"the bearing of {marks} looks like a true one taken for magnetic"
        case "hour_slip":
            hours = v["hours"]
            many = f"{abs(hours):.0f} hour" + ("" if abs(hours) == 1 else "s")
            wrong, right = ("early", "later") if hours > 0 else ("late", "earlier")
            return f"the photo's time looks {many} too {wrong}: {many} {right} the sun agrees"
        case "mirrored":
            return "the picture looks mirrored: the marks agree once left and right are exchanged"
        case "upside_down":
            return "the picture looks upside down: the marks agree once it is turned by half a turn"
        case "span_misstated":
            return (
                f"the panorama says that it spans {v['claimed_deg']:.0f} degrees, but the marks "
                f"put it at {v['solved_deg']:.1f}; that was used"
            )
        case "contradict":
            return f"the marks {marks} contradict each other; look at each of them again"
        case "probably_wrong":
            return (
                f"mark {marks} is probably wrong: it misses what the others say by "
                f"{v['doubt_sigmas']:.1f} sigmas"
            )
        case "compass_off":
            return f"the compass was {abs(v['off_deg']):.0f} degrees off"
        case "declination":
            return (
                f"magnetic bearings ({marks}) were turned by {v['declination_deg']:+.1f} ± "
                f"{v['declination_sigma_deg']:.1f} degrees of declination"
            )
        case "declination_year":
            return (
                "the photo's date lies outside the magnetic models' years: the declination of "
                f"{v['year']:.0f} was used"
            )
        case "elevation_rough":
            return (
                f"elevations are only known to ± {v['elevation_sigma_deg']:.1f} degrees, as rough "
                f"as the telephone's level: {SETTLES_ELEVATION}"
            )
        case "narrow_sector":
            return (
                f"all marks with an azimuth lie within {v['span_deg']:.0f} degrees: at the "
                f"picture's ends the azimuth is known to ± {v['edge_sigma_deg']:.1f} degrees"
            )
        case "next_landmark":
            return (
                f"a landmark between {v['from_deg']:.0f} and {v['to_deg']:.0f} degrees would cut "
                f"the error from {v['now_deg']:.2g} to {v['then_deg']:.2g} degrees"
            )
        case "next_level":
            return (
                "a level line across the picture would cut the error from "
                f"{v['now_deg']:.2g} to {v['then_deg']:.2g} degrees"
            )
    return finding.code


def sentences(view: str, calibration: Calibration) -> list[str]:
    """All that a calibration noticed; a further mark only where it is worth the walk."""
    told = [
        finding
        for finding in calibration.findings
        if not finding.code.startswith("next_")
        or finding.values["then_deg"] < WORTH * finding.values["now_deg"]
    ]
    return [f"view {view}: {sentence(finding)}" for finding in told]


def suggestion(calibration: Calibration) -> dict[str, float | str] | None:
    """The next mark that would help most, for programs: its kind, sector and effect."""
    for finding in calibration.findings:
        if finding.code.startswith("next_"):
            return {"kind": finding.code.removeprefix("next_"), **finding.values}
    return None
