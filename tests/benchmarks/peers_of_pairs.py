# SPDX-License-Identifier: GPL-2.0-or-later
"""General-purpose libraries at the job of laying one capture over another.

The libraries work in space: the points of a capture are repeated at a few heights, so that their
normals come out horizontal.
"""

from __future__ import annotations

import numpy as np
from roomtie.processing.stations.connect_frames import turned

RASTER_M, SIDE = 0.08, 384
HEIGHTS_M = (-0.1, 0.0, 0.1)


def points_of(capture):
    """Usable readings ``(n, 2)``."""
    return capture.xy_m[capture.usable_ring]


def in_space(points):
    """Points ``(3 n, 3)`` at three heights."""
    return np.concatenate([np.column_stack([points, np.full(len(points), z)]) for z in HEIGHTS_M])


def matrix_of(pose):
    """A pose (x, y, clockwise turn) as a 4 x 4 matrix."""
    s, c = np.sin(pose[2]), np.cos(pose[2])
    matrix = np.eye(4)
    matrix[:2, :2] = [[c, s], [-s, c]]
    matrix[:2, 3] = pose[:2]
    return matrix


def pose_of(matrix):
    """The pose of a 4 x 4 matrix."""
    return np.array([matrix[0, 3], matrix[1, 3], np.arctan2(matrix[0, 1], matrix[0, 0])])


def raster(points):
    """How many points fall into each cell around the origin, no more than four counted."""
    cell = np.floor(points / RASTER_M).astype(np.int64) + SIDE // 2
    inside = ((cell >= 0) & (cell < SIDE)).all(axis=1)
    image = np.zeros((SIDE, SIDE))
    np.add.at(image, tuple(cell[inside].T), 1.0)
    return np.minimum(image, 4.0)


def refined_by_planes(first, second, start, gates=(0.2, 0.05, 0.03)):
    """small_gicp, plane to plane, from a coarse to a fine gate: of its methods, gates and spacings
    those that did best here."""
    import small_gicp

    matrix = matrix_of(start)
    for gate in gates:
        result = small_gicp.align(
            in_space(points_of(first)),
            in_space(points_of(second)),
            matrix,
            registration_type="GICP",
            downsampling_resolution=0.03,
            max_correspondence_distance=gate,
        )
        matrix = np.asarray(result.T_target_source)
    return pose_of(matrix)


def by_phase_correlation(pair):
    """scikit-image's phase correlation at turns around the start, then small_gicp."""
    from skimage.registration import phase_cross_correlation

    target = raster(points_of(pair.first))
    points = points_of(pair.second)
    best, most = pair.start, -1.0
    for off in np.radians(np.arange(-10.0, 10.1, 1.0)):
        turn = pair.start[2] + off
        laid = turned(points, turn)
        image = raster(laid + pair.start[:2])
        shift, _, _ = phase_cross_correlation(target, image, normalization=None)
        moved = np.roll(image, shift.astype(int), axis=(0, 1))
        agreed = float(np.minimum(target, moved).sum())
        if agreed > most and np.hypot(*shift) * RASTER_M < 4.0:
            most = agreed
            best = np.append(pair.start[:2] + shift * RASTER_M, turn)
    return refined_by_planes(pair.first, pair.second, best, (0.5, 0.1, 0.05, 0.03))


def by_features(pair):
    """Open3D's FPFH features and RANSAC without a start, then its point-to-plane ICP."""
    import open3d

    registration = open3d.pipelines.registration
    open3d.utility.random.seed(0)

    def cloud(capture, cell):
        points = open3d.geometry.PointCloud()
        points.points = open3d.utility.Vector3dVector(in_space(points_of(capture)))
        points = points.voxel_down_sample(cell)
        points.estimate_normals(open3d.geometry.KDTreeSearchParamHybrid(0.3, 30))
        points.orient_normals_towards_camera_location(np.zeros(3))
        return points

    first, second = cloud(pair.first, 0.08), cloud(pair.second, 0.08)
    around = open3d.geometry.KDTreeSearchParamHybrid(1.0, 100)
    found = registration.registration_ransac_based_on_feature_matching(
        second,
        first,
        registration.compute_fpfh_feature(second, around),
        registration.compute_fpfh_feature(first, around),
        True,
        0.15,
        registration.TransformationEstimationPointToPoint(False),
        3,
        [
            registration.CorrespondenceCheckerBasedOnEdgeLength(0.9),
            registration.CorrespondenceCheckerBasedOnDistance(0.15),
        ],
        registration.RANSACConvergenceCriteria(100_000, 0.999),
    )
    matrix = found.transformation
    first, second = cloud(pair.first, 0.02), cloud(pair.second, 0.02)
    for gate in (0.3, 0.1):
        matrix = registration.registration_icp(
            second,
            first,
            gate,
            matrix,
            registration.TransformationEstimationPointToPlane(),
        ).transformation
    return pose_of(matrix)
