"""Parts timed inside one process, and what a program does that has been running for a while."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from itertools import cycle, islice
from pathlib import Path

import cv2
import numpy as np
from random_surveys import meet, random_survey
from skyline_figures import grab_cut
from speed_commands import demo_survey, picture, picture_size
from speed_work import MEGABYTE, ROOT, Case, Goal, Work
from ten_marks import ten_marks

sys.path.insert(0, str(ROOT / "tests" / "wave" / "reference"))
from scenes import Scene, scene
from split_step import split_step_field

from skyview.calibrate.estimate import estimate
from skyview.camera.pose import Camera
from skyview.camera.projections import Rectilinear
from skyview.outline.skyline import find_skyline
from skyview.photo.pixels import read_pixels
from skyview.survey.assess import assess
from skyview.survey.budget.quick import quick_losses
from skyview.survey.loss_view import loss_layer
from skyview.survey.storage import load
from skyview.wave.screens import Screen, field, fields
from skyview.workbench.heights import HeightTable, question
from skyview.workbench.pictures import make_tiles

PHONE = Camera(Rectilinear(2900.0, (2016.0, 1512.0)), *np.radians([121.0, 3.0, 1.0]).tolist())
SCENES = 20


def calibration(folder: Path) -> Work:
    prior, sights = ten_marks(PHONE)
    return Work(lambda: estimate(PHONE.projection, prior, sights))


def sky_of_12_megapixels(folder: Path) -> Work:
    """Both with one thread. The memory beside the picture is measured on the command."""
    cv2.setNumThreads(1)
    rgb = read_pixels(picture(folder, 12.0, "jpg"))
    return Work(lambda: find_skyline(rgb), beside=lambda: grab_cut(rgb))


def _one_screen() -> tuple[list[Screen], float]:
    """The outline of 60 vertices of a rich scene."""
    screen = max(scene(1).screens, key=lambda s: len(s.polygons_m[0]))
    return [Screen(screen.distance_m, screen.polygons_m[:1], [0.0])], scene(1).wavelength_m


def one_screen(together: bool) -> Callable[[Path], Work]:
    """Its loss, 64 wavelengths together or one by one."""

    def ready(folder: Path) -> Work:
        screens, wavelength = _one_screen()
        many = wavelength * np.linspace(1.0, 1.5, 64)
        alone = [lambda: [field(screens, w) for w in many], lambda: fields(screens, many)]
        return Work(alone[together], 64, lambda: split_step_field(screens, wavelength, 2048))

    return ready


def _scenes(wanted: Callable[[Scene], bool]) -> Iterator[Scene]:
    return (drawn for drawn in map(scene, range(10_000)) if wanted(drawn))


def joint(wanted: Callable[[Scene], bool]) -> Callable[[Path], Work]:
    """The joint field of the first random scenes of a kind."""

    def ready(folder: Path) -> Work:
        drawn = list(islice(_scenes(wanted), SCENES))
        return Work(lambda: [field(s.screens, s.wavelength_m) for s in drawn], SCENES)

    return ready


def warm_paths(folder: Path) -> Work:
    """The same survey with the antenna at another height each time."""
    survey, heights = random_survey(0, 100, 20), cycle(np.linspace(1.0, 4.0, 7).tolist())
    assess(survey)
    return Work(lambda: assess(survey, heights_m=[next(heights)]))


def joint_losses(folder: Path) -> Work:
    """The exact joint loss of every path at another height each time."""
    surveys = [random_survey(0, 100, 20, heights_m=(h,)) for h in (1.0, 2.0, 3.0)]
    turn = cycle(surveys)
    return Work(lambda: meet(next(turn)).exact_db())


def four_times_the_spots(folder: Path) -> Work:
    few, many = (meet(random_survey(0, 40, 15, spots=n)) for n in (3, 12))
    return Work(
        lambda: quick_losses(many.met, many.arrivals, many.frequency_mhz),
        beside=lambda: quick_losses(few.met, few.arrivals, few.frequency_mhz),
    )


def layer(folder: Path) -> Work:
    """120 degrees of the sample survey."""
    found = assess(load(folder / demo_survey(folder)), spots=["ridge"], heights_m=[3.0])
    antenna = np.array([-0.6, -1.16, 7.9])
    return Work(lambda: loss_layer(found.screens, antenna, 600.0, (-30.0, 90.0), (0.0, 38.0)))


def tiles(folder: Path) -> Work:
    file, size = picture(folder, 50.0, "jpg"), picture_size(50.0)
    return Work(
        lambda: make_tiles(lambda share: None, file, folder / "tiles", size),
        decoded_mb=size[0] * size[1] * 3 / MEGABYTE,
    )


def height_table(folder: Path) -> Work:
    """0 to 10 m by a quarter on one spot of the sample survey."""
    survey = load(folder / demo_survey(folder))
    wanted = question(survey, "ridge", "in", None, 10.0, 0.25, None)
    return Work(lambda: HeightTable(survey, wanted)(lambda share: None), len(wanted.heights_m))


INSIDE = (
    Case("calibration by ten marks", Goal(seconds=0.020), calibration, rounds=9, warm=1),
    Case("the sky of 12 megapixels", Goal(seconds=1.5, ratio=1.0), sky_of_12_megapixels,
         "cv2.grabCut, two rounds", 3, 1),
    Case("one outline, 64 wavelengths together, each", Goal(ratio=1e-3), one_screen(True),
         "split step, 2048 x 2048", 5, 1),
    Case("one outline, alone", Goal(ratio=1e-3), one_screen(False), "split step, 2048 x 2048",
         5, 1),
    Case("two to four plain outlines in a row", Goal(seconds=0.005),
         joint(lambda s: not s.rich), rounds=5, warm=1),
    Case("two to four rich outlines in a row", Goal(seconds=0.025), joint(lambda s: s.rich),
         rounds=5, warm=1),
    Case("four rich outlines in a row", Goal(seconds=0.025),
         joint(lambda s: s.rich and len(s.screens) == 4), rounds=5, warm=1),
    Case("100 stations, 20 outlines: joint losses at another height", Goal(seconds=1.0),
         joint_losses, rounds=3, warm=1),
    Case("100 stations, 20 outlines, 500 draws: asked again at another height",
         Goal(seconds=2.0), warm_paths, rounds=3, warm=1),
    Case("joint losses of 12 spots", Goal(ratio=4.0), four_times_the_spots,
         "those of 3 spots", 5, 1),
    Case("loss layer of 120 degrees", Goal(seconds=2.0), layer, warm=1),
    Case("workbench: all tiles of 50 megapixels", Goal(), tiles),
    Case("workbench: the table by height, each of 41 heights", Goal(), height_table, rounds=1),
)  # fmt: skip
