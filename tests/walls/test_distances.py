# SPDX-License-Identifier: GPL-2.0-or-later
from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.angles import along, unit
from roomtie.processing.errors import SurveyError
from roomtie.processing.stations.model import Targets
from roomtie.processing.walls.distances import Distances
from roomtie.processing.walls.rooms_errors import FaceErrors
from scipy.sparse import csr_matrix
from simulated_walls import network_of, walls_of

# A room of 4 m by 3 m, its walls turned clockwise with the free side to the right, and one wall
# that belongs to another part of the plan.
ENDS = np.array(
    [
        [(0, 0), (0, 3)],
        [(0, 3), (4, 3)],
        [(4, 3), (4, 0)],
        [(4, 0), (0, 0)],
        [(9, 0), (9, 3)],
    ],
    dtype=float,
)
OWN = np.array([[1e-6, 4e-8], [4e-6, 1e-8], [9e-6, 2e-8], [1e-6, 1e-8], [1e-6, 1e-8]])


@pytest.fixture
def plan():
    walls = walls_of(ENDS, network=[1, 1, 1, 1, 2])
    errors = FaceErrors(OWN, csr_matrix((10, 3)), np.zeros((3, 3)))
    network = network_of(["A"], [[1.0, 1.0]], [0.0])
    targets = Targets(
        ("T1", "T2", "T3", "T4"),
        np.array([[1.0, 1.0], [1.0, 2.5], [0.01, 1.5], [2.0, 2.99]]),
        np.array([np.diag([1e-6, 4e-6]), *[np.diag([1e-6, 1e-6])] * 3]),
        np.array([2, 2, 1, 1]),
        np.array([1, 1, 1, 1]),
    )
    return walls, errors, replace(network, targets=targets)


@pytest.mark.parametrize(
    ("first", "second", "length"),
    [
        ("W001", "W003", 4.0),
        ("W002", "W004", 3.0),
        ("W001/W002", "W003/W004", 5.0),
        ("T1", "T2", 1.5),
        ("T1", "W003", 3.0),
        ("W002", "T1", 2.0),
        (" W001 / W004 ", "T1", np.sqrt(2.0)),
        ("W001/W002", "W004", 3.0),
        ("wall T3", "W003", 4.0),
        ("corner T3 T4", "T1", np.sqrt(5.0)),
    ],
)
def test_lengths_are_as_a_tape_is_held(plan, first, second, length):
    distance = Distances(*plan).between(first, second)
    assert distance.length_m == pytest.approx(length, abs=1e-12)
    assert np.hypot(*(distance.ends_m[1] - distance.ends_m[0])) == pytest.approx(length, abs=1e-12)


def moved_walls(walls, change):
    """The walls with parameters changed: offsets along the normals, turns about the centres."""
    offset, turn = change.reshape(-1, 2).T
    centre = walls.centre_m + offset[:, None] * unit(walls.normal_rad)
    normal = walls.normal_rad + turn
    along_m = np.einsum("wij,wj->wi", walls.drawn_m - walls.centre_m[:, None], walls.direction)
    drawn = centre[:, None] + along_m[:, :, None] * along(normal)[:, None]
    return replace(walls, centre_m=centre, normal_rad=normal, drawn_m=drawn)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("W001", "W003"),
        ("W001/W002", "W003/W004"),
        ("T1", "W003"),
        ("T1", "T2"),
        ("W001/W002", "T2"),
        ("W001/W002", "W003"),
    ],
)
def test_standard_errors_are_those_of_many_plans_with_such_errors(plan, first, second):
    """600 plans whose walls and targets are off by their errors, each measured anew: the scatter of
    the length within 12 % (four times its own uncertainty)."""
    walls, errors, network = plan
    stated = Distances(*plan).between(first, second).sigma_m
    rng = np.random.default_rng(1)
    found = []
    for _ in range(600):
        change = rng.standard_normal(10) * np.sqrt(OWN.ravel())
        sigma = np.sqrt(np.diagonal(network.targets.covariance_m2, axis1=1, axis2=2))
        xy = network.targets.xy_m + sigma * rng.standard_normal((4, 2))
        other = replace(network, targets=replace(network.targets, xy_m=xy))
        distances = Distances(moved_walls(walls, change), errors, other)
        found.append(distances.between(first, second).length_m)
    assert stated == pytest.approx(np.std(found), rel=0.12)


def test_what_walls_share_through_their_station_does_not_count(plan):
    """Both walls move with the station's x alike: its error of 10 mm leaves their distance."""
    walls, _, network = plan
    by_station = np.zeros((10, 3))
    by_station[0::2, :2] = unit(walls.normal_rad)
    shared = FaceErrors(OWN, csr_matrix(by_station), np.diag([1e-4, 1e-4, 0.0]))
    alone = Distances(*plan).between("W001", "W003").sigma_m
    assert Distances(walls, shared, network).between("W001", "W003").sigma_m == pytest.approx(alone)
    # A target does not move with the station here: the 10 mm count.
    to_target = Distances(walls, shared, network).between("T1", "W003").sigma_m
    assert to_target == pytest.approx(np.hypot(0.01, np.sqrt(9e-6 + 1e-6)), rel=0.02)


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        ("W007", "W001", r"'W007' is no wall, corner or target of the plan; expected .*W001"),
        ("W001", "W002", r"90.0 deg from parallel"),
        ("W001/W003", "T1", r"0.0 deg from parallel and make no corner"),
        ("W001", "W001", r"are one wall"),
        ("T1", "T1", r"are one place"),
        ("W001", "W005", r"nothing ties to each other"),
        ("W001/W002/W003", "T1", r"is no wall, corner or target"),
        ("wall T1", "W003", r"Target T1 is on no wall .*\(the nearest lies 1.00 m away"),
        ("corner T3 T9", "T1", r"'corner T3 T9' is no wall"),
    ],
)
def test_what_has_no_distance_is_said(plan, first, second, said):
    with pytest.raises(SurveyError, match=said):
        Distances(*plan).between(first, second)


def test_a_target_may_have_blanks_in_its_name(plan):
    walls, errors, network = plan
    names = ("door left", "T2", "by the stair", "T4")
    named = replace(network, targets=replace(network.targets, name=names))
    distances = Distances(replace(walls, level=np.array([2, 2, 2, 2, 0])), errors, named)
    between = distances.between("corner by the stair T4", "door left")
    assert between.length_m == pytest.approx(np.sqrt(5.0))
    assert distances.level_of("door left") is None
    assert distances.level_of("wall by the stair") == 2
    assert distances.level_of("corner  by the stair  T4") == 2
    assert distances.level_of("W005") == 0
    with pytest.raises(SurveyError, match=r"'wall left' is no wall, corner or target"):
        distances.level_of("wall left")


def test_a_target_where_no_wall_is_drawn_is_said_to_be_on_none(plan):
    walls, errors, network = plan
    apart = replace(network.targets, network=np.array([1, 1, 3, 1]))
    distances = Distances(walls, errors, replace(network, targets=apart))
    with pytest.raises(SurveyError, match=r"Target T3 is on no wall of its part .*\(it has none\)"):
        distances.between("wall T3", "W003")


def test_walls_past_each_other_are_measured_from_the_nearest_end(plan):
    walls, errors, network = plan
    drawn = walls.drawn_m.copy()
    drawn[2] = [(4, 9), (4, 7)]
    past = replace(walls, drawn_m=drawn)
    distance = Distances(past, errors, network).between("W001", "W003")
    assert distance.length_m == pytest.approx(4.0)
    assert distance.ends_m[0] == pytest.approx([0.0, 3.0])
