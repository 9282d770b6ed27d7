"""Small frames of invented streets, rendered once a session."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
import street_frames as sf

from skyview.photo.pixels import read_pixels
from skyview.sweep.join import Sweep, turn_frames
from skyview.sweep.register import FrameFacts

SIZE = (360, 270)
FOCAL_PX, WIDE_PX = 277.0, 190.0


@dataclass(frozen=True)
class Turn:
    """Frames of one turn with the poses from which they were rendered."""

    files: list[Path]
    poses: list[sf.Pose]

    def facts(self, told: bool = True) -> list[FrameFacts]:
        """Metadata whose focal length is 3 % off."""
        return [
            FrameFacts(1.03 * p.focal_px if told else None, 0.04, f"{max(p.size_px)}")
            for p in self.poses
        ]

    def read(self, number, longest):
        return read_pixels(self.files[number], longest)

    def joined(self, told: bool = True) -> Sweep:
        return turn_frames([p.size_px for p in self.poses], self.facts(told), self.read)

    def yaw_errors_deg(self, found: Sweep) -> np.ndarray:
        """Found less true yaw of the frames used, against the first of them. [deg]"""
        off = [np.degrees(h.yaw) - self.poses[n].yaw_deg for n, h in found.held.items()]
        return (np.array(off) - off[0] + 180.0) % 360.0 - 180.0

    def tilt_error_deg(self, found: Sweep) -> float:
        """How far the panorama's upright leans against the true one. [deg]"""
        ups = [
            sf.axes_of(self.poses[number])[:, 2] @ found.cameras.axes[index]
            for index, number in enumerate(found.held)
        ]
        east, north, up = np.mean(ups, axis=0)
        return float(np.degrees(np.arctan2(np.hypot(east, north), up)))


def _rendered(folder, seed: int, poses: list[sf.Pose]) -> Turn:
    return Turn(sf.write(folder, sf.street(seed), poses, seed), poses)


@pytest.fixture(scope="session")
def sector(tmp_path_factory) -> Turn:
    """Four frames over about 100 deg, all from one place."""
    poses = sf.sweep_poses(2, 4, 100.0, 3.0, size_px=SIZE, focal_px=FOCAL_PX)
    return _rendered(tmp_path_factory.mktemp("sector"), 2, poses)


@pytest.fixture(scope="session")
def circle(tmp_path_factory) -> Turn:
    """A whole turn in seven wide frames, one of them upright, in a mixed-up order."""
    poses = sf.sweep_poses(1, 7, 360.0, 2.0, size_px=SIZE, focal_px=WIDE_PX)
    poses[2] = replace(poses[2], size_px=SIZE[::-1])
    order = [3, 0, 5, 1, 6, 2, 4]
    return _rendered(tmp_path_factory.mktemp("circle"), 1, [poses[i] for i in order])


@pytest.fixture(scope="session")
def moved(tmp_path_factory) -> Turn:
    """Three frames from a telephone carried round at arm's length."""
    poses = sf.sweep_poses(8, 3, 70.0, 2.0, 0.5, size_px=SIZE, focal_px=FOCAL_PX)
    return _rendered(tmp_path_factory.mktemp("moved"), 8, poses)


@pytest.fixture(scope="session")
def just_closing(tmp_path_factory) -> Turn:
    """Nine frames 66 deg wide over 300 deg, so that the ends just meet."""
    poses = sf.sweep_poses(70, 9, 300.0, 3.0, size_px=(1200, 900), focal_px=923.9)
    return _rendered(tmp_path_factory.mktemp("just_closing"), 20, poses)


@pytest.fixture(scope="session")
def short_step(tmp_path_factory) -> Turn:
    """Eight frames over 300 deg, the telephone 0.15 m in front of the axis of the turn."""
    poses = sf.sweep_poses(67, 8, 300.0, 3.0, 0.15, size_px=(520, 390), focal_px=400.4)
    return _rendered(tmp_path_factory.mktemp("short_step"), 17, poses)
