"""Stations and antennas for the link budget."""

from __future__ import annotations

import numpy as np

from skyview.place.channels import centre_mhz
from skyview.survey.budget.listen import air_of
from skyview.survey.budget.signals import signals_of
from skyview.survey.models import validate

PLAN = "americas-6mhz"


def station(name, channel, **more):
    """A station that needs 15 dB, at a place that does not matter here."""
    return {
        "id": name,
        "latitude_deg": -38.5,
        "longitude_deg": -117.2,
        "antenna_amsl_m": 500.0,
        "rf_channel": channel,
        "system": "atsc1",
        "polarization": "h",
        **more,
    }


def survey_of(stations, antennas=(), **more):
    """A checked survey of stations and antennas with one spot."""
    return validate(
        {
            "format": "skyview-survey",
            "version": 1,
            "revision": 0,
            "site": {"latitude_deg": -38.6, "longitude_deg": -117.3, "ground_amsl_m": 100.0},
            "spots": [{"id": "ridge", "enu_m": [0.0, 0.0, 6.0]}],
            "stations": list(stations),
            "antennas": list(antennas),
            **more,
        }
    )


def signals(survey):
    """The stations' side of the budget."""
    channels = np.array([s.rf_channel for s in survey.stations])
    return signals_of(PLAN, survey.stations, np.asarray(centre_mhz(PLAN, channels), float))


def air(survey, field_dbuv_m, azimuth_deg, draws=1):
    """The same field for wanted and unwanted, at one position."""
    field = np.broadcast_to(np.asarray(field_dbuv_m, float), (draws, 1, len(survey.stations)))
    phase = np.linspace(0.0, 2.0 * np.pi, draws, endpoint=False)[:, None]
    return air_of(
        signals(survey),
        np.radians(np.atleast_2d(np.asarray(azimuth_deg, float))),
        field,
        field,
        np.zeros(field.shape),
        np.broadcast_to(phase, (draws, len(survey.stations))),
    )
