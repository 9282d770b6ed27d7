"""Changes to a downlead, each the antenna with other parts; None where nothing would change."""

from __future__ import annotations

from collections.abc import Sequence

from skyview.link import chain, line
from skyview.survey.models import Antenna, Coax, DownleadPart, Filter, Preamplifier

AMPLIFIER_DB, AMPLIFIER_OVERLOAD_DBM = 20.0, -10.0
"""Gain and overload point of the preamplifier that is tried: common practice, no source."""

BEST_CABLE = min(line.CABLES, key=lambda name: float(line.coax_loss_db(name, 1.0, 600.0)))
"""The known cable with the least loss."""


def better_cable(antenna: Antenna) -> Antenna | None:
    """Every cable replaced by the best one.

    >>> cable = {"kind": "coax", "type": "rg59", "length_m": 9.0}
    >>> better_cable(Antenna(id="main", spot="ridge", downlead=[cable])).downlead[0].type
    'rg11'
    """
    parts = [
        part.model_copy(update={"type": BEST_CABLE}) if isinstance(part, Coax) else part
        for part in antenna.downlead
    ]
    return _with(antenna, parts)


def amplified(antenna: Antenna, pass_mhz: tuple[float, float] | None) -> Antenna | None:
    """A preamplifier before the first cable, behind a filter where ``pass_mhz`` is given.

    None where there is one already, or no cable is described that it could make good.
    """
    parts = list(antenna.downlead)
    if any(isinstance(part, Preamplifier) for part in parts):
        return None
    first = next((i for i, part in enumerate(parts) if isinstance(part, Coax)), None)
    if first is None:
        return None
    new: list[DownleadPart] = [
        Preamplifier(
            kind="preamplifier",
            gain_db=AMPLIFIER_DB,
            noise_figure_db=chain.PREAMPLIFIER_NOISE_FIGURE_DB,
            overload_dbm=AMPLIFIER_OVERLOAD_DBM,
        )
    ]
    if pass_mhz is not None:
        new.insert(0, Filter(kind="filter", pass_mhz=pass_mhz))
    return _with(antenna, [*parts[:first], *new, *parts[first:]])


def unamplified(antenna: Antenna) -> Antenna | None:
    """Without any preamplifier."""
    return _with(antenna, [p for p in antenna.downlead if not isinstance(p, Preamplifier)])


def filtered(antenna: Antenna, pass_mhz: tuple[float, float]) -> Antenna | None:
    """A filter right before the first preamplifier; None where there is none to protect."""
    parts = list(antenna.downlead)
    first = next((i for i, part in enumerate(parts) if isinstance(part, Preamplifier)), None)
    if first is None:
        return None
    return _with(
        antenna, [*parts[:first], Filter(kind="filter", pass_mhz=pass_mhz), *parts[first:]]
    )


def _with(antenna: Antenna, parts: Sequence[DownleadPart]) -> Antenna | None:
    if list(parts) == list(antenna.downlead):
        return None
    return antenna.model_copy(update={"downlead": list(parts)})
