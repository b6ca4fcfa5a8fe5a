# SPDX-License-Identifier: GPL-2.0-or-later
"""The bound against the ray caster itself, differentiated by differences."""

from types import SimpleNamespace

import numpy as np
from cramer_rao import bound_of
from simulated import loop
from simulated_rays import cast

WALLS = loop([(0, 0), (5.2, 0.1), (5, 3.4), (2.6, 3.3), (2.6, 4.5), (-0.1, 4.4)])
POSES = np.array([(1.3, 1.2, 0.4), (3.9, 2.2, -1.1), (1.1, 3.5, 2.0)])
SIGMA_M, SIGMA_DEG, READINGS = 0.002, 0.03, 600


def ranges(pose, walls, angle):
    return cast(walls, pose[:2], angle + pose[2])[0]


def moved_walls(shift, turn):
    """Every wall on the line it lies on, made longer and cut at the next ones again."""
    edge = WALLS[:, 1] - WALLS[:, 0]
    middle = WALLS.mean(axis=1)
    azimuth = np.arctan2(*edge.T) + turn
    along = np.column_stack([np.sin(azimuth), np.cos(azimuth)])
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    at = middle + shift[:, None] * normal
    corners = []
    for k in range(len(at)):
        j = (k + 1) % len(at)
        rows = np.array([normal[k], normal[j]])
        corners.append(np.linalg.solve(rows, [normal[k] @ at[k], normal[j] @ at[j]]))
    corners = np.array(corners)
    return np.stack([np.roll(corners, 1, axis=0), corners], axis=1)


def test_the_bound_is_that_of_the_ray_caster():
    """J' W J of numerical derivatives of cast ranges with respect to every pose and wall, its
    pseudo-inverse in the datum of the mean position and turn: equal to 1 %."""
    angle = np.arange(READINGS) * (2 * np.pi / READINGS)
    count = len(POSES)

    def predicted(x):
        poses = POSES + x[: 3 * count].reshape(-1, 3)
        shift, turn = x[3 * count :].reshape(2, -1)
        walls = moved_walls(shift, turn)
        return np.concatenate([ranges(pose, walls, angle) for pose in poses])

    size = 3 * count + 2 * len(WALLS)
    step = 1e-6
    jacobian = np.column_stack(
        [(predicted(step * e) - predicted(-step * e)) / (2 * step) for e in np.eye(size)]
    )
    by_angle = np.concatenate(
        [
            (ranges(pose, WALLS, angle + step) - ranges(pose, WALLS, angle - step)) / (2 * step)
            for pose in POSES
        ]
    )
    # Rays that change from one wall to the next within a step are left out; the bound has them.
    steady = np.abs(by_angle) < 50.0
    sigma = np.hypot(SIGMA_M, by_angle * np.radians(SIGMA_DEG))
    white = jacobian[steady] / sigma[steady, None]
    covariance = np.linalg.pinv(white.T @ white, rcond=1e-10, hermitian=True)
    # From the pseudo-inverse's datum into that of the positions' mean and turn (S-transformation).
    away = POSES[:, :2] - POSES[:, :2].mean(axis=0)
    motion = np.zeros((3 * count, 3))
    motion[0::3, 0] = motion[1::3, 1] = motion[2::3, 2] = 1.0
    motion[0::3, 2], motion[1::3, 2] = away[:, 1], -away[:, 0]
    held = np.zeros((3, 3 * count))
    held[0, 0::3] = held[1, 1::3] = 1.0
    held[2, 0::3], held[2, 1::3] = away[:, 1], -away[:, 0]
    s = np.eye(3 * count) - motion @ np.linalg.solve(held @ motion, held)
    expected = s @ covariance[: 3 * count, : 3 * count] @ s.T

    captures = tuple(
        SimpleNamespace(
            angle_rad=angle,
            distance_m=ranges(pose, WALLS, angle),
            usable_ring=np.ones(READINGS, dtype=bool),
            distance_sigma_m=SIGMA_M,
            angle_sigma_deg=SIGMA_DEG,
        )
        for pose in POSES
    )
    truth = SimpleNamespace(
        pose=POSES, level=np.zeros(count, dtype=int), storeys=(SimpleNamespace(segments=WALLS),)
    )
    found = bound_of(SimpleNamespace(captures=captures), truth, np.arange(count))
    for k in range(count):
        own = expected[3 * k : 3 * k + 3, 3 * k : 3 * k + 3]
        np.testing.assert_allclose(found[k], own, atol=0.01 * np.abs(own).max())
