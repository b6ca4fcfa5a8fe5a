# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.captures.model import Survey
from roomtie.processing.stations.connect_frames import composed, fitted
from roomtie.processing.stations.network import adjust_survey
from roomtie.processing.stations.network_options import NetworkOptions
from scipy.optimize import least_squares
from simulated import capture_of
from surveyed import POSES, STOREY, TARGETS, faces_of, survey, with_sightings

ONLY_TARGETS = NetworkOptions(use_overlap=False, use_compass=False)


def sighting(rng, poses=POSES[:4]):
    """Stations that sight the same targets (walls do not matter here)."""
    captures = []
    for k, pose in enumerate(poses):
        capture, _ = capture_of(STOREY, pose[:2], pose[2], readings=200, station=f"S{k + 1}")
        points = {name: TARGETS[name] for name in ("T1", "T2", "T3", "T5")}
        captures.append(with_sightings(capture, pose, points, rng))
    return Survey(tuple(captures))


def test_without_noise_every_loop_closes():
    taken = sighting(None)
    network = adjust_survey(taken, faces_of(taken), ONLY_TARGETS)
    # Four stations that all sight the same: six pairs, of which a tree takes three.
    assert len(network.loops) == 3
    for loop in network.loops:
        assert loop.misclosure_m < 1e-9 and loop.misclosure_rad < 1e-9
        there = network.xy_m[list(loop.stations)]
        around = np.hypot(*(there - np.roll(there, -1, axis=0)).T).sum()
        assert loop.length_m == pytest.approx(around)


SHARED = {(0, 1): ("T1", "T2"), (1, 2): ("T3", "T5"), (0, 2): ("T4", "T6")}
"""Each pair of three stations shares two targets of its own: no sighting is in two pairs."""


def pair_by_scipy(first, second, names):
    """The pose of the second station in the first from the sightings of two targets, whose places
    are unknowns, by scipy: nothing of the tested code takes part."""

    def polar(capture):
        at = [int(np.flatnonzero(capture.target == name)[0]) for name in names]
        return capture.angle_rad[at], capture.distance_m[at]

    (a, d), (b, e) = polar(first), polar(second)

    def residuals(x):
        points = x[3:].reshape(-1, 2)
        local = points - x[:2]
        turned = np.arctan2(local[:, 0], local[:, 1]) - x[2]
        angles = np.concatenate([np.arctan2(points[:, 0], points[:, 1]) - a, turned - b])
        lengths = np.concatenate([np.hypot(*points.T) - d, np.hypot(*local.T) - e])
        angles = (angles + np.pi) % (2 * np.pi) - np.pi
        return np.concatenate([angles / np.radians(0.03), lengths / 0.002])

    points = d[:, None] * np.stack([np.sin(a), np.cos(a)], axis=-1)
    there = e[:, None] * np.stack([np.sin(b), np.cos(b)], axis=-1)
    start = np.concatenate([fitted(there, points, np.ones(2)), points.ravel()])
    return least_squares(residuals, start, xtol=1e-15, ftol=1e-15, gtol=1e-15).x[:3]


@pytest.mark.parametrize("seed", range(3))
def test_a_loop_is_what_the_pairs_say_one_after_the_other(seed):
    """Within 2 % of the misclosure and 1 um: the pairs are linear about the adjusted poses."""
    rng = np.random.default_rng(seed)
    captures = []
    for k, pose in enumerate(POSES[:3]):
        names = [name for pair, of in SHARED.items() if k in pair for name in of]
        capture, _ = capture_of(STOREY, pose[:2], pose[2], readings=200, station=f"S{k + 1}")
        captures.append(with_sightings(capture, pose, {name: TARGETS[name] for name in names}, rng))
    taken = Survey(tuple(captures))
    network = adjust_survey(taken, faces_of(taken), ONLY_TARGETS)
    (loop,) = network.loops
    pose = np.zeros(3)
    around = [*loop.stations, loop.stations[0]]
    for i, j in zip(around[:-1], around[1:]):
        names = SHARED[min(i, j), max(i, j)]
        pose = composed(pose, pair_by_scipy(captures[i], captures[j], names))
    assert loop.misclosure_m == pytest.approx(np.hypot(*pose[:2]), rel=0.02, abs=1e-6)
    assert loop.misclosure_rad == pytest.approx(
        abs((pose[2] + np.pi) % (2 * np.pi) - np.pi), rel=0.02
    )


def test_a_chain_has_no_loop():
    taken = survey(3, readings=1000)
    network = adjust_survey(Survey(taken.captures[:2]), faces_of(taken)[:2])
    assert network.loops == ()
