"""From a roof photo to a verdict for every TV station.

Sub-packages follow a survey visit: photo, camera, place, calibrate, outline, wave, mount,
survey, report, cli. Nothing heavy is imported here; the names below load when first used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from skyview.survey.assess import assess as assess
    from skyview.survey.storage import load as load
    from skyview.survey.storage import save as save

__version__ = "0.1.0"
__all__ = ["__version__", "assess", "load", "save"]

_HOME = {
    "assess": "skyview.survey.assess",
    "load": "skyview.survey.storage",
    "save": "skyview.survey.storage",
}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'skyview' has no attribute '{name}'")
    from importlib import import_module

    return getattr(import_module(_HOME[name]), name)
