# SPDX-License-Identifier: GPL-2.0-or-later
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.captures.model import Flag, Kind, Survey
from roomtie.processing.stations.connect_frames import apart, composed, fitted, inverse, moved
from roomtie.processing.stations.target_poses import (
    Common,
    pose_from_direction,
    pose_from_targets,
)
from roomtie.processing.stations.target_surfaces import surfaces_of
from roomtie.processing.stations.targets import sightings_of
from simulated_targets import INSTRUMENT_M, Mark, Sighted
from surveyed import POSES, TARGETS, survey

angle = st.floats(-3.1, 3.1)
metre = st.floats(-20.0, 20.0)
pose = st.tuples(metre, metre, angle).map(np.array)


@given(pose, pose)
def test_motions_form_a_group(a, b):
    shift, turn = apart(composed(composed(a, b), inverse(b)), a)
    assert shift < 1e-9 and turn < 1e-9


@given(pose, st.integers(0, 1000))
def test_the_fitted_motion_is_that_of_scipy(motion, seed):
    """Against scipy's solution of Wahba's problem, with z held at 0."""
    from scipy.spatial.transform import Rotation

    rng = np.random.default_rng(seed)
    points = rng.normal(size=(6, 2)) * 5
    goal = moved(motion, points) + 0.01 * rng.normal(size=(6, 2))
    weight = rng.uniform(0.5, 2.0, 6)
    found = fitted(points, goal, weight)
    share = weight / weight.sum()

    def flat(p):
        return np.column_stack([p - share @ p, np.zeros(len(p))])

    turn, _ = Rotation.align_vectors(flat(goal), flat(points), weights=weight)
    expected = turn.apply(flat(points))[:, :2] + share @ goal
    assert np.allclose(moved(found, points), expected, atol=1e-6)


def common(motion, wrong=()):
    first = np.array(list(TARGETS.values()))
    second = moved(inverse(motion), first)
    for index in wrong:
        second[index] += (0.4, -0.3)
    return Common(first, second, np.full(len(first), 0.003), np.arange(len(first)))


def test_targets_that_disagree_are_left_out():
    motion = np.array([2.0, -3.0, 0.8])
    found, agree = pose_from_targets(common(motion, wrong=(2, 5)))
    shift, turn = apart(found, motion)
    assert shift < 1e-9 and turn < 1e-9
    assert list(np.flatnonzero(~agree)) == [2, 5]


def test_two_targets_of_different_distance_give_no_pose():
    two = common(np.array([1.0, 1.0, 0.1]), wrong=(0,))
    only = Common(two.first_m[:2], two.second_m[:2], two.sigma_m[:2], two.target[:2])
    assert pose_from_targets(only) is None


def test_two_targets_side_by_side_do_not_fix_the_turn():
    close = np.array([[1.0, 1.0], [1.1, 1.0]])
    assert pose_from_targets(Common(close, close, np.full(2, 0.002), np.arange(2))) is None


@given(pose, metre, metre, angle)
def test_one_target_and_its_surface_give_the_pose(motion, x, y, normal):
    point = np.array([x, y])
    back = inverse(motion)
    found = pose_from_direction(point, moved(back, point), normal, normal + back[2])
    shift, turn = apart(found, motion)
    assert shift < 1e-9 and turn < 1e-9


def test_sightings_lie_where_the_targets_are():
    found = sightings_of(survey(seed=3))
    at = moved(POSES[found.station], found.local_m)
    truth = np.array([TARGETS[found.name[t]] for t in found.target])
    # 2 mm and 0.03 deg at up to 5 m: 3.3 mm; four sigmas.
    assert np.abs(at - truth).max() < 0.013
    assert list(found.name) == sorted(found.name)


def test_flagged_sightings_are_not_used():
    taken = survey(seed=3)
    first = taken.captures[0]
    masked = first.with_flags(first.kind == Kind.TARGET, Flag.MOVED)
    found = sightings_of(Survey((masked, *taken.captures[1:])))
    assert 0 not in found.station


@pytest.mark.parametrize("rise", [0.0, 1.6, -1.6, 3.0])
def test_a_slanting_sighting_has_the_errors_of_slope_and_zenith_angle(rise):
    """Standardised errors of 2000 horizontal distances have unit variance (1 +- 0.1 is three
    standard errors)."""
    marks = {"T": Mark(1.2, 2.0, INSTRUMENT_M + rise)}
    truth = Sighted(np.zeros((2000, 3)), np.zeros(2000, dtype=int), marks, [("T",)] * 2000)
    found = sightings_of(truth.survey(np.random.default_rng(8)))
    z = (found.distance_m - np.hypot(1.2, 2.0)) / found.sigma_m
    assert 0.9 < np.mean(z**2) < 1.1


def test_the_direction_of_a_surface_has_an_honest_error():
    """The wall y = 0 under T2 seen from the first station, five readings, 200 times: standardised
    errors have unit variance (chi-square with 200 degrees: 0.82 to 1.22 at 97.5 %)."""
    rng = np.random.default_rng(5)
    base = survey(seed=3, readings=200).captures[0]
    x, y, turn = POSES[0]
    spots = np.column_stack([np.linspace(1.7, 2.3, 5), np.zeros(5)])
    dx, dy = (spots - (x, y)).T
    z = []
    for _ in range(200):
        angle_deg = np.degrees(np.arctan2(dx, dy) - turn) + 0.03 * rng.standard_normal(5)
        distance = np.hypot(dx, dy) + 0.002 * rng.standard_normal(5)
        rows = slice(0, 5)
        changed = {
            "angle_deg": angle_deg,
            "distance_m": distance,
            "kind": np.full(5, int(Kind.SURFACE)),
            "target": np.full(5, "T2"),
            "flag": np.zeros(5, dtype=np.int64),
        }
        for name in ("seq", "zenith_deg", "slope_distance_m", "intensity", "line"):
            changed[name] = getattr(base, name)[rows]
        found = surfaces_of(Survey((replace(base, **changed),)), ["T2"])
        # The free side is y > 0: its normal has plan azimuth 0.
        error = (found.angle_rad[0] + turn + np.pi) % (2 * np.pi) - np.pi
        z.append(error / found.sigma_rad[0])
    assert 0.8 < np.mean(np.square(z)) < 1.25
    assert abs(np.mean(z)) < 0.25


def test_one_reading_gives_no_direction():
    base = survey(seed=3, readings=200).captures[0]
    kind = base.kind.copy()
    kind[0] = Kind.SURFACE
    target = base.target.astype("<U4")
    target[0] = "T2"
    assert len(surfaces_of(Survey((replace(base, kind=kind, target=target),)), ["T2"])) == 0


def test_no_targets_at_all():
    found = sightings_of(survey(seed=3, sighted={}))
    assert len(found) == 0 and found.name == ()
    assert found.local_m.shape == (0, 2)
