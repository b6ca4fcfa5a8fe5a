# SPDX-License-Identifier: GPL-2.0-or-later
from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.stations.adjustment import FreeNetwork, adjust
from roomtie.processing.stations.network_rigid import rigid_parts
from roomtie.processing.stations.network_walls import Gate, common_surfaces
from roomtie.processing.stations.observations import (
    Observations,
    RelativePoses,
    SurfaceDirections,
    SurfaceOffsets,
    Unknowns,
)
from scipy.optimize import approx_fprime, least_squares
from simulated import loop
from surveyed import POSES, faces_of, survey

GATE = Gate(0.05, np.radians(1.0))


def surfaces(poses, walls=None, gate=GATE):
    kwargs = {} if walls is None else {"walls": walls}
    taken = survey(seed=21, poses=poses, sighted={}, **kwargs)
    faces = faces_of(taken)
    level = np.array([c.level for c in taken.captures])
    return faces, common_surfaces(faces, np.arange(len(poses)), poses, level, gate)


def test_common_surfaces_are_walls_of_the_storey():
    faces, sights = surfaces(POSES)
    assert sights.surfaces >= 8
    for surface in range(sights.surfaces):
        of = np.flatnonzero(sights.surface == surface)
        assert len(set(sights.station[of])) >= 2
        azimuth = [
            faces[s].normal_rad[f] + POSES[s, 2]
            for s, f in zip(sights.station[of], sights.face[of])
        ]
        # Faces of one surface face the same side.
        assert np.all(np.cos(np.array(azimuth) - azimuth[0]) > 0.999)


def test_a_face_of_few_readings_makes_no_surface():
    faces, sights = surfaces(POSES)
    seen = list(zip(sights.station, sights.face))
    station, face = seen[0]
    readings = faces[station].readings.copy()
    readings[face] = 5
    few = [*faces]
    few[station] = replace(faces[station], readings=readings)
    level = np.zeros(len(POSES), dtype=int)
    left = common_surfaces(few, np.arange(len(POSES)), POSES, level, GATE)
    assert (station, face) not in set(zip(left.station, left.face))


def test_a_step_in_a_wall_stays_a_step():
    """Two faces 25 mm apart, both in the gate of a third of between: no chain joins them."""
    step = loop([(0, 0), (6, 0), (6, 3), (3, 3), (3, 3.025), (0, 3.025)])
    poses = np.array([(1.5, 1.5, 0.2), (4.5, 1.2, 1.0)])
    faces, sights = surfaces(poses, walls=step, gate=Gate(0.02, np.radians(1.0)))
    looked_at = 0
    for surface in range(sights.surfaces):
        of = np.flatnonzero(sights.surface == surface)
        at = [
            poses[s, :2] + _turned(faces[s].centre_m[f], poses[s, 2])
            for s, f in zip(sights.station[of], sights.face[of])
        ]
        y = np.array([p[1] for p in at if abs(p[1] - 3.0) < 0.1])
        if len(y) == len(at):
            looked_at += 1
            assert np.ptp(y) < 0.012
    assert looked_at == 2


def _turned(point, angle):
    s, c = np.sin(angle), np.cos(angle)
    return np.array([point[0] * c + point[1] * s, -point[0] * s + point[1] * c])


def observed(poses, faces, sights):
    """Unknowns and observations of common surfaces alone."""
    names, values, rows = [], [], {"surface": [], "distance": [], "reference": []}
    for surface in range(sights.surfaces):
        first = np.flatnonzero(sights.surface == surface)[0]
        s, f = sights.station[first], sights.face[first]
        azimuth = faces[s].normal_rad[f] + poses[s, 2]
        normal = np.array([np.sin(azimuth), np.cos(azimuth)])
        names += [f"wall {surface}", f"distance {surface}"]
        values += [azimuth, normal @ _turned(faces[s].centre_m[f], poses[s, 2])]
        rows["reference"].append(s)
    reference = np.array(rows["reference"])[sights.surface]
    pick = list(zip(sights.station, sights.face))
    unknowns = Unknowns(
        station=tuple(f"S{k}" for k in range(len(poses))),
        station_xy_m=poses[:, :2],
        orientation_rad=poses[:, 2],
        scalar_name=tuple(names),
        scalar=np.array(values),
    )
    observations = Observations(
        surface_directions=SurfaceDirections(
            station=sights.station,
            surface=2 * sights.surface,
            angle_rad=np.array([faces[s].normal_rad[f] for s, f in pick]),
            sigma_rad=np.array([faces[s].sigma_normal_rad[f] for s, f in pick]),
        ),
        surface_offsets=SurfaceOffsets(
            station=sights.station,
            reference=reference,
            surface=2 * sights.surface,
            normal_distance=2 * sights.surface + 1,
            centre_m=np.array([faces[s].centre_m[f] for s, f in pick]),
            sigma_m=np.array([faces[s].sigma_offset_m[f] for s, f in pick]),
        ),
    )
    return unknowns, observations


def test_walls_adjust_as_scipy_does():
    """Poses and covariance against `scipy.optimize.least_squares` on the same residuals, written
    down anew; the first station held."""
    poses = POSES[2:4]
    faces, sights = surfaces(poses)
    unknowns, observations = observed(poses, faces, sights)
    held = np.zeros((2, 3), dtype=bool)
    held[0] = True
    unknowns = Unknowns(
        station=unknowns.station,
        station_xy_m=poses[:, :2] + [[0, 0], [0.01, -0.01]],
        orientation_rad=poses[:, 2] + [0, 0.005],
        scalar_name=unknowns.scalar_name,
        scalar=unknowns.scalar,
        station_held=held,
    )
    found = adjust(unknowns, observations)
    pick = list(zip(sights.station, sights.face, sights.surface))

    def residual(x):
        pose = np.vstack([poses[0], x[:3]])
        out = []
        for s, f, w in pick:
            azimuth, away = x[3 + 2 * w], x[4 + 2 * w]
            normal = np.array([np.sin(azimuth), np.cos(azimuth)])
            first = pick[[p[2] for p in pick].index(w)][0]
            point = pose[s, :2] + _turned(faces[s].centre_m[f], pose[s, 2])
            turn = azimuth - pose[s, 2] - faces[s].normal_rad[f]
            out.append(((turn + np.pi) % (2 * np.pi) - np.pi) / faces[s].sigma_normal_rad[f])
            out.append((away - normal @ (point - pose[first, :2])) / faces[s].sigma_offset_m[f])
        return np.array(out)

    start = np.concatenate([poses[1], unknowns.scalar])
    reference = least_squares(residual, start, xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale="jac")
    ours = np.append(found.unknowns.station_xy_m[1], found.unknowns.orientation_rad[1])
    # scipy's derivatives are finite differences here, which limits its own answer.
    assert np.allclose(ours, reference.x[:3], atol=1e-7)
    assert found.sum_of_squares == pytest.approx(2 * reference.cost, rel=1e-9)
    jacobian = approx_fprime(reference.x, residual, 1e-7)
    expected = np.linalg.inv(jacobian.T @ jacobian)[:3, :3]
    assert np.allclose(found.station_covariance()[1], expected, rtol=1e-3, atol=1e-12)


def test_a_corridor_leaves_the_shift_along_it_open():
    corridor = loop([(-50, 0), (50, 0), (50, 2), (-50, 2)])
    # The far ends are out of sight of the readings that would fix them: only side walls remain.
    poses = np.array([(0.0, 0.8, 0.1), (3.0, 1.1, 1.0)])
    faces, sights = surfaces(poses, walls=corridor[[0, 2]])
    unknowns, observations = observed(poses, faces, sights)
    assert rigid_parts(unknowns, observations, observations.all_used()) == [[0], [1]]


def test_a_room_fixes_its_stations():
    faces, sights = surfaces(POSES[2:4])
    unknowns, observations = observed(POSES[2:4], faces, sights)
    assert rigid_parts(unknowns, observations, observations.all_used()) == [[0, 1]]


def test_parts_follow_what_is_used():
    unknowns = Unknowns(
        station=("A", "B", "C", "D"),
        station_xy_m=np.array([(0, 0), (3, 1), (5, -2), (9, 9)], dtype=float),
        orientation_rad=np.zeros(4),
    )
    tie = RelativePoses(
        station=[0, 1, 2],
        to=[1, 2, 3],
        pose=[(3, 1, 0), (2, -3, 0), (4, 11, 0)],
        covariance=np.eye(3) * 1e-6,
    )
    observations = Observations(relative_poses=tie)
    used = observations.all_used()
    assert rigid_parts(unknowns, observations, used) == [[0, 1, 2, 3]]
    used[3:6] = False
    assert rigid_parts(unknowns, observations, used) == [[0, 1], [2, 3]]
    free = FreeNetwork(np.ones(4, dtype=bool))
    assert adjust(unknowns, observations, free=free).converged
