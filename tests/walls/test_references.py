# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.stations.model import Targets
from roomtie.processing.walls.references import ReferenceKind, references
from shapely.geometry import LineString, Point
from simulated_walls import walls_of

# A room of 4 m by 3 m with a partition that runs against a wall, and the same room a storey up.
ROOM = [
    [(0, 0), (0, 3)],
    [(0, 3), (4, 3)],
    [(4, 3), (4, 0)],
    [(4, 0), (0, 0)],
    [(2, 1), (2, 2.998)],
]
ENDS = np.array([*ROOM, ROOM[0]], dtype=float)


@pytest.fixture(scope="module")
def plan():
    walls = walls_of(ENDS, network=[1] * 6)
    walls.level[5] = 1
    targets = Targets(
        ("T1", "T2"),
        np.array([[0.02, 1.5], [1.0, 1.0]]),
        np.zeros((2, 2, 2)),
        np.array([2, 2]),
        np.array([1, 1]),
    )
    return references(walls, targets, [0, None])


def test_corners_are_where_a_wall_ends_at_another(plan):
    corners = {
        name: tuple(np.round(ends[0], 3).tolist())
        for name, kind, ends in zip(plan.name, plan.kind, plan.ends)
        if kind == ReferenceKind.CORNER
    }
    assert corners == {
        "W001/W002": (0.0, 3.0),
        "W002/W003": (4.0, 3.0),
        "W003/W004": (4.0, 0.0),
        "W001/W004": (0.0, 0.0),
        "W002/W005": (2.0, 2.998),
    }


@pytest.mark.parametrize(
    ("point", "within", "name"),
    [
        ((0.0, 1.4), 0.15, "T1"),  # a target before the wall it hangs on
        ((0.0, 1.0), 0.15, "W001"),
        ((0.05, 2.9), 0.15, "W001/W002"),  # a corner before its walls
        ((0.05, 2.9), 0.02, None),
        ((2.05, 1.5), 0.15, "W005"),
        ((1.0, 1.1), 0.15, "T2"),
        ((1.5, 2.0), 0.15, None),
    ],
)
def test_the_thing_under_a_point_is_named(plan, point, within, name):
    found = plan.near(np.array(point), within)
    assert (plan.name[found] if found >= 0 else None) == name


def test_only_the_storeys_that_are_shown_count(plan):
    upstairs = plan.near(np.array([0.0, 1.5]), 0.15, levels={1})
    assert plan.name[upstairs] == "W006"
    assert plan.near(np.array([2.0, 1.5]), 0.15, levels={1}) == -1
    # A target of an unknown storey may be on any.
    assert plan.name[plan.near(np.array([1.0, 1.1]), 0.15, levels={1})] == "T2"
    assert plan.near(np.array([1.0, 1.1]), 0.15, levels=set()) >= 0


def test_nothing_lies_on_an_empty_plan():
    none = np.empty(0, dtype=np.int64)
    targets = Targets((), np.empty((0, 2)), np.empty((0, 2, 2)), none, none)
    empty = references(walls_of(np.empty((0, 2, 2))), targets)
    assert len(empty) == 0
    assert empty.near(np.zeros(2), 1.0) == -1


def test_things_are_found_where_they_were_placed(plan):
    moved = plan.placed(lambda _, xy: xy @ np.array([[0.0, -1.0], [1.0, 0.0]]) + [500.0, 900.0])
    assert moved.name[moved.near(np.array([502.0 - 0.5, 898.0]), 0.1)] == "W005"
    assert moved.name[moved.near(np.array([503.0, 900.0]), 0.1)] == "W001/W002"


@given(st.floats(-1.0, 5.0), st.floats(-1.0, 4.0), st.floats(0.01, 1.0))
def test_what_is_found_is_the_nearest_of_its_kind(x, y, within):
    """Against shapely's distances."""
    walls = walls_of(ENDS[:5], network=[1] * 5)
    none = np.empty(0, dtype=np.int64)
    plan = references(walls, Targets((), np.empty((0, 2)), np.empty((0, 2, 2)), none, none))
    found = plan.near(np.array([x, y]), within)
    away = np.array([Point(x, y).distance(LineString(ends)) for ends in plan.ends])
    if found < 0:
        assert away.min() >= within * (1.0 - 1e-9)
        return
    same = plan.kind == plan.kind[found]
    assert away[found] <= min(away[same].min(), within) + 1e-9
    assert not (away[plan.kind < plan.kind[found]] < within * (1.0 - 1e-9)).any()
