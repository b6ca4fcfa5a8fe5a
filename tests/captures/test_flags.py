# SPDX-License-Identifier: GPL-2.0-or-later
"""Flags against readings whose truth is known."""

import json
from dataclasses import replace

import numpy as np
import pytest
import shapely
from roomtie.processing.angles import turn
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.model import Flag, Kind
from roomtie.processing.captures.reading import import_captures
from shapely.geometry import shape
from simulated import capture_of, loop

ROOM = loop([(-2, -2), (3, -2), (3, 3), (-2, 3)])
# A corridor of 2 m by 60 m, seen along its length: the walls are met at up to 89 degrees.
CORRIDOR = loop([(-1, -5), (1, -5), (1, 55), (-1, 55)])
# A room with a door of 0.9 m into a second one.
DOOR = np.concatenate(
    [
        loop([(-6, -4), (6, -4), (6, 4), (-6, 4)]),
        [[(0, -4), (0, -0.5)], [(0, -0.5), (0.12, -0.5)], [(0.12, -0.5), (0.12, -4)]],
        [[(0, 4), (0, 0.4)], [(0, 0.4), (0.12, 0.4)], [(0.12, 0.4), (0.12, 4)]],
    ]
)


def with_distance(capture, index, distance):
    changed = capture.distance_m.copy()
    changed[index] = distance
    return replace(capture, distance_m=changed, slope_distance_m=changed)


def flagged(capture, **limits):
    flags = flag_readings(capture, **limits).flag
    return {Flag(flag): np.flatnonzero(flags == flag).tolist() for flag in set(flags) - {0}}


@pytest.mark.parametrize("walls", [ROOM, CORRIDOR, DOOR], ids=["room", "corridor", "door"])
@pytest.mark.parametrize("readings", [360, 1600, 3600])
@pytest.mark.parametrize("origin", [(0.3, 0.2), (-0.7, -1.0), (0.8, 2.2)])
def test_good_readings_stay_usable(walls, readings, origin):
    wrong = 0
    for seed in range(3):
        rng = np.random.default_rng(seed)
        capture, _ = capture_of(walls, origin, 0.4, rng=rng, readings=readings)
        wrong += int((flag_readings(capture).flag != Flag.USABLE).sum())
    # A jamb may be met by one reading only, which then hangs between two surfaces.
    assert wrong <= 0.003 * 3 * readings


def test_a_reading_alone_is_isolated_wherever_it_lies():
    capture, _ = capture_of(ROOM, (0, 0), 0.3, rng=np.random.default_rng(2))
    where = np.arange(20, 1600, 80)
    for distance in (0.4, 1.2, 5.5, 11.0):
        found = flagged(with_distance(capture, where, distance))
        assert found == {Flag.ISOLATED: where.tolist()}


def test_a_reading_off_its_wall_by_ten_sigma_is_isolated():
    capture, _ = capture_of(ROOM, (0, 0), 0.3, rng=np.random.default_rng(2))
    where = np.arange(20, 1600, 80)
    found = flagged(with_distance(capture, where, capture.distance_m[where] + 0.02))
    assert len(found[Flag.ISOLATED]) >= 0.9 * len(where)
    assert set(found[Flag.ISOLATED]) <= set(where)


def test_a_mixed_return_at_an_edge():
    rng = np.random.default_rng(3)
    found = wrong = there = 0
    for origin in [(-3, 0.2), (-2, 1), (-1.5, -1.4), (-4, -2), (-2.2, 0.1), (-3.3, 0.7)]:
        capture, hit = capture_of(DOOR, origin, 0.1, rng=rng, mixed=True)
        flags = flag_readings(capture).flag
        there += int((hit == -1).sum())
        found += int((flags[hit == -1] != Flag.USABLE).sum())
        wrong += int((flags[hit != -1] != Flag.USABLE).sum())
    # Half of the jumps were blended with a share from 0 to 1: those near 0 or 1 lie on a surface.
    assert there >= 8
    assert found >= 0.8 * there
    assert wrong <= 3


def test_mixed_is_told_from_isolated():
    # A screen before a wall.
    walls = np.concatenate([ROOM, [[(-1, 1), (1, 1.2)]]])
    capture, hit = capture_of(walls, (0, 0), 0.3, rng=np.random.default_rng(4))
    assert flagged(capture) == {}
    d = capture.distance_m
    edges = np.flatnonzero((hit[:-1] == 4) != (hit[1:] == 4))
    assert len(edges) == 2
    found = flagged(with_distance(capture, edges, 0.4 * d[edges - 1] + 0.6 * d[edges + 1]))
    assert found == {Flag.MIXED: edges.tolist()}
    found = flagged(with_distance(capture, edges, 0.3))
    assert found == {Flag.ISOLATED: edges.tolist()}


def test_partial_turns_do_not_meet_across_the_gap():
    capture, _ = capture_of(CORRIDOR, (0, 0), 0.9, rng=np.random.default_rng(5), part_deg=180)
    assert flagged(capture) == {}


def test_the_order_of_rows_does_not_matter():
    rng = np.random.default_rng(6)
    capture, _ = capture_of(DOOR, (-3, 0.2), 0.1, rng=rng, outliers=0.01, mixed=True)
    order = rng.permutation(len(capture))
    shuffled = replace(
        capture,
        angle_deg=capture.angle_deg[order],
        distance_m=capture.distance_m[order],
        slope_distance_m=capture.slope_distance_m[order],
        flag=capture.flag[order],
    )
    expected = flag_readings(capture).flag
    assert (expected != Flag.USABLE).sum() > 10
    np.testing.assert_array_equal(flag_readings(shuffled).flag, expected[order])


def test_two_sweeps_are_judged_each_by_itself():
    rng = np.random.default_rng(7)
    # The second sweep lags behind by 3 degrees, as a hobby instrument's may.
    there, _ = capture_of(ROOM, (0, 0), 0.3, rng=rng, readings=400)
    back, _ = capture_of(ROOM, (0, 0), 0.3 + np.radians(3.0), rng=rng, readings=400)
    joined = {
        name: np.concatenate([getattr(there, name), getattr(back, name)[::-1]])
        for name in ("angle_deg", "distance_m", "slope_distance_m", "zenith_deg", "intensity")
        + ("kind", "target", "flag")
    }
    numbers = np.arange(1, 801)
    capture = replace(there, seq=numbers, line=numbers, **joined)
    assert flagged(capture) == {}
    spoilt = with_distance(capture, [100, 650], 6.0)
    assert flagged(spoilt) == {Flag.ISOLATED: [100, 650]}


def test_a_real_corridor_is_not_too_far_but_an_absurd_distance_is():
    # Seen from a small room through a door, the end of the corridor is 25 times as far as the
    # room's walls.
    walls = np.concatenate(
        [
            [[(-1, -1), (1, -1)], [(-1, -1), (-1, 1)], [(1, -1), (1, 1)]],
            [[(-1, 1), (-0.4, 1)], [(0.4, 1), (1, 1)], [(-0.4, 1), (-0.4, 30)]],
            [[(0.4, 1), (0.4, 30)], [(-0.4, 30), (0.4, 30)]],
        ]
    )
    capture, _ = capture_of(walls, (0, 0), 0.5, rng=np.random.default_rng(8))
    assert capture.distance_m.max() > 29
    assert flagged(capture) == {}
    found = flagged(with_distance(capture, [200, 900], 228.73))
    assert found == {Flag.TOO_FAR: [200, 900]}


def test_limits_are_inclusive_at_the_near_end():
    capture, _ = capture_of(ROOM, (0, 0), 0.3, readings=360)
    capture = with_distance(capture, [10, 20, 30], [0.1, 0.0999, 0.05])
    assert flagged(capture)[Flag.TOO_NEAR] == [10, 20, 30]
    near = flagged(capture, min_distance_m=0.02)
    assert Flag.TOO_NEAR not in near
    far = flagged(capture, max_distance_m=3.0)[Flag.TOO_FAR]
    assert far == np.flatnonzero(capture.distance_m > 3.0).tolist()


def test_a_lone_reading_among_no_returns_is_isolated():
    capture, _ = capture_of(ROOM, (0, 0), 0.3)
    capture = with_distance(capture, np.r_[100:140, 141:200], np.nan)
    assert flagged(capture)[Flag.ISOLATED] == [140]


def test_alternating_surfaces_hold_each_other():
    # Slats before a wall: every second reading passes between them.
    angle = np.radians(np.arange(-30, 30, 0.25))
    wall = 4.0 / np.cos(angle)
    capture, _ = capture_of(ROOM, (0, 0), readings=len(angle))
    distance = np.where(np.arange(len(angle)) % 2, wall, 0.75 * wall)
    capture = replace(
        capture, angle_deg=np.degrees(angle), distance_m=distance, slope_distance_m=distance
    )
    assert flagged(capture) == {}


def test_targets_are_checked_for_range_only():
    capture, _ = capture_of(ROOM, (0, 0), 0.3, readings=360)
    kind = capture.kind.copy()
    kind[[5, 15, 25, 35]] = [Kind.TARGET, Kind.SURFACE, Kind.TARGET, Kind.TARGET]
    capture = with_distance(replace(capture, kind=kind), [5, 15, 25, 35], [0.5, 7.0, 0.04, 500.0])
    assert flagged(capture) == {Flag.TOO_NEAR: [25], Flag.TOO_FAR: [35]}


def test_flagging_twice_changes_nothing_and_other_flags_stay():
    rng = np.random.default_rng(9)
    capture, _ = capture_of(DOOR, (-3, 0.2), 0.1, rng=rng, outliers=0.02)
    flags = capture.flag.copy()
    flags[7] = Flag.PASSER_BY
    once = flag_readings(replace(capture, flag=flags))
    assert once.flag[7] == Flag.PASSER_BY
    np.testing.assert_array_equal(flag_readings(once).flag, once.flag)


@pytest.mark.parametrize("readings", [1, 2, 3, 6])
def test_a_few_readings_are_no_trouble(readings):
    capture, _ = capture_of(ROOM, (0, 0), readings=readings)
    assert flagged(capture) == {}
    lost = with_distance(capture, slice(None), np.nan)
    assert flagged(lost) == {Flag.NO_RETURN: list(range(readings))}


def test_duplex_outliers_are_found_and_walls_are_left_alone(shared_data):
    """Against the walls of a published building model: a reading is good when it lies on a wall
    within four standard errors (2 mm, 0.03 deg across at most)."""
    folder = shared_data("duplex-level-1")
    truth = json.loads((folder / "truth.json").read_text())
    pose = {station["station"]: station for station in truth["stations"]}
    walls = shape(truth["walls"]).boundary
    bad = found = good = wrong = 0
    for capture in import_captures(folder).captures:
        station = pose[capture.station]
        xy = turn(capture.xy_m, np.radians(station["orientation_deg"]))
        ring = (capture.kind == Kind.RING) & np.isfinite(capture.distance_m)
        at = shapely.points(xy[ring] + [station["x"], station["y"]])
        tolerance = 4 * np.hypot(0.002, capture.distance_m[ring] * np.radians(0.03))
        on_wall = shapely.distance(at, walls) < tolerance
        out = capture.flag[ring] != Flag.USABLE
        bad, found = bad + (~on_wall).sum(), found + (out & ~on_wall).sum()
        good, wrong = good + on_wall.sum(), wrong + (out & on_wall).sum()
    assert bad == 184
    assert found >= 0.97 * bad
    assert wrong <= 0.0005 * good


def test_absurd_ranges_of_a_real_flat_are_flagged(shared_data):
    survey = import_captures(shared_data("flat-six-stations"))
    for capture in survey.captures:
        assert capture.distance_m[capture.usable].max() < 10
        assert capture.usable.mean() > 0.75
    far = sum(int((capture.flag == Flag.TOO_FAR).sum()) for capture in survey.captures)
    assert far == 5


def test_every_reading_of_the_example_has_a_known_cause(example_survey):
    """A second check, on the project's own scenario: its truth says of each reading why it is what
    it is (w wall, f furniture, s stray return, m mixed at an edge)."""
    truth = json.loads((example_survey.parent / "example_truth.json").read_text())
    causes = {station["station"]: station["cause"] for station in truth["stations"]}
    count = dict.fromkeys("wfsm", 0)
    out = dict.fromkeys("wfsm", 0)
    for capture in import_captures(example_survey / "captures").captures:
        flags = capture.flag[capture.kind == Kind.RING]
        for cause, flag in zip(causes[capture.station], flags):
            if cause in count:
                count[cause] += 1
                out[cause] += flag != Flag.USABLE
    assert count["w"] > 15000
    assert out["w"] < 0.003 * count["w"]
    assert out["f"] < 0.003 * count["f"]
    assert out["s"] > 0.95 * count["s"]
    # Many a mixed return lies on one of its surfaces, or by chance on a third.
    assert out["m"] > 0.6 * count["m"]
