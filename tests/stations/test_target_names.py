# SPDX-License-Identifier: GPL-2.0-or-later
"""Names of targets that were mistaken: what the sightings themselves tell is found and named, and
nothing else is."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.captures.model import Survey
from roomtie.processing.stations import target_names
from roomtie.processing.stations.connect_frames import apart, between, fitted, moved
from roomtie.processing.stations.model import Status
from roomtie.processing.stations.network import adjust_survey
from roomtie.processing.stations.network_options import NetworkOptions
from roomtie.processing.stations.target_constellations import likenesses
from roomtie.processing.stations.target_poses import Points
from simulated_targets import Mark, Sighted

TARGETS_ONLY = NetworkOptions(use_overlap=False)
NAMES = "ABCDEF"


def adjusted(truth, seed=1):
    taken = truth.survey(np.random.default_rng(seed))
    return adjust_survey(taken, [no_faces(len(c)) for c in taken.captures], TARGETS_ONLY)


def sighted(at, pose, by=None, written=None):
    """Stations in one room; `at` are the targets by name, `written` the names that were mistaken:
    by station and target."""
    marks = {name: Mark(*point) for name, point in at.items()}
    pose = np.array(pose, dtype=float)
    level = np.zeros(len(pose), dtype=int)
    by = [list(at)] * len(pose) if by is None else by
    return Sighted(pose, level, marks, by, written or {})


def permuted(station, names, order):
    """What a station writes that names its targets in another order."""
    return {(station, own): other for own, other in zip(names, order) if own != other}


def found_names(network, rejected_too=False):
    """The target that each sighting was taken for, by the name of the tie; none for those not used,
    unless the `rejected_too` are asked for."""
    return {
        name: network.targets.name[k] if used or rejected_too else ""
        for name, k, used, kind in zip(
            network.ties.name, network.ties.to_target, network.ties.used, network.ties.kind
        )
        if kind.value == "target"
    }


def right(network, truth):
    """Whether the stations stand where they do."""
    here = np.column_stack([network.xy_m, network.orientation_rad])
    shift, turn = apart(between(here[0], here), between(truth.pose[0], truth.pose))
    # 2 mm and 0.03 deg at some metres, shared by three targets or more.
    return shift.max() < 0.03 and turn.max() < np.radians(1.0)


def fitting_orders(truth, station, names):
    """The orders of names under which a station's sightings lie on the targets, by laying the true
    points over each other in every order: the oracle."""
    goal = np.array([(truth.marks[n].x, truth.marks[n].y) for n in names])
    fits, doubtful = [], False
    for order in permutations(range(len(names))):
        source = goal[list(order)]
        motion = fitted(source, goal, np.ones(len(names)))
        off = np.hypot(*(moved(motion, source) - goal).T).max()
        doubtful |= bool(off > 0.0 and 0.004 < off < 0.15)
        if off <= 0.004:
            fits.append(order)
    return fits, doubtful


POSES = ((0.0, 0.0, 0.3), (1.2, -0.8, -2.0), (-0.9, 0.7, 1.4))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-4, 4), st.floats(-4, 4)), min_size=3, max_size=5),
    st.randoms(use_true_random=False),
)
def test_any_order_of_names_of_one_station_is_found(points, random):
    at = dict(zip(NAMES, points))
    spread = [np.hypot(*np.subtract(a, b)) for a, b in permutations(points, 2)]
    near = [np.hypot(x - p[0], y - p[1]) for x, y in points for p in POSES]
    assume(min(spread) > 0.6 and min(near) > 0.3)
    order = list(at)
    random.shuffle(order)
    truth = sighted(at, POSES, written=permuted(2, at, order))
    fits, doubtful = fitting_orders(truth, 2, list(at))
    assume(not doubtful)
    network = adjusted(truth)
    if len(fits) > 1:  # the targets lie alike in another order: nothing tells
        return
    assert right(network, truth)
    taken = found_names(network, rejected_too=True)  # by chance one in a thousand is
    for own, other in zip(at, order):
        assert taken[f"S3 to {other}"] == own
        assert taken[f"S1 to {own}"] == taken[f"S2 to {own}"] == own
    named = [w for w in network.warnings if "named" in w and "in the capture" in w]
    assert len(named) == sum(own != other for own, other in zip(at, order))


SQUARE = {"A": (-2.0, -2.0), "B": (2.0, -2.0), "C": (2.0, 2.0), "D": (-2.0, 2.0)}


def test_names_turned_with_the_room_cannot_be_told_and_nothing_is_renamed():
    """Four targets at the corners of a square, named from the next corner on: the station may as
    well stand turned by a right angle."""
    truth = sighted(SQUARE, POSES, written=permuted(2, "ABCD", "BCDA"))
    network = adjusted(truth)
    assert all(name.endswith(f" to {taken}") for name, taken in found_names(network).items())
    assert not any("in the capture" in warning for warning in network.warnings)


def test_of_two_ways_with_as_many_mistakes_none_is_taken():
    """A and C exchanged on a rectangle: B and D exchanged, half a turn later, explains it too."""
    at = {"A": (-2.0, -1.0), "B": (2.0, -1.0), "C": (2.0, 1.0), "D": (-2.0, 1.0)}
    truth = sighted(at, POSES, written={(2, "A"): "C", (2, "C"): "A"})
    network = adjusted(truth)
    assert network.status[2] is Status.UNCONNECTED
    assert not any("in the capture" in warning for warning in network.warnings)


def test_two_targets_with_exchanged_names_cannot_be_told():
    at = {"A": (-1.5, 2.0), "B": (2.0, 1.0)}
    truth = sighted(at, POSES, written={(2, "A"): "B", (2, "B"): "A"})
    network = adjusted(truth)
    assert not any("in the capture" in warning for warning in network.warnings)
    told = [warning for warning in network.warnings if "exchanged" in warning]
    assert len(told) == 2 and all("by A and B alone" in warning for warning in told)


def test_compasses_tell_that_two_names_were_exchanged():
    at = {"A": (-1.5, 2.0), "B": (2.0, 1.0)}
    truth = sighted(at, POSES[:2], written={(1, "A"): "B", (1, "B"): "A"})
    taken = truth.survey(np.random.default_rng(1))
    bearing = np.degrees(truth.pose[:, 2]) + 9.0
    taken = Survey(
        tuple(
            replace(c, magnetic_azimuth_deg=b % 360.0, magnetic_azimuth_sigma_deg=3.0)
            for c, b in zip(taken.captures, bearing)
        )
    )
    network = adjust_survey(taken, [no_faces(len(c)) for c in taken.captures], TARGETS_ONLY)
    assert network.statistics.unconnected_stations == 2
    (told,) = [warning for warning in network.warnings if "exchanged" in warning]
    assert told.startswith("A and B would tie S2 to S1, but the compasses differ from it by 1")
    assert told.endswith("it would do if their names had been exchanged.")


def test_two_targets_that_a_third_station_confirms_are_not_warned_of():
    """Each pair of three stations shares two targets of its own: a half turn would not close."""
    at = {"A": (-1.5, 2.0), "B": (2.0, 1.0), "C": (1.5, -2.5), "D": (-2.5, -1.0), "E": (0.3, 3.0)}
    truth = sighted({**at, "F": (2.9, -0.4)}, POSES, ["ABCD", "ABEF", "CDEF"])
    assert not any("exchanged" in warning for warning in adjusted(truth).warnings)


FOUR = {"A": (-2.0, -1.7), "B": (2.3, -1.1), "C": (1.4, 2.2), "D": (-2.6, 0.9)}


def test_of_two_stations_either_may_have_mistaken_a_name():
    truth = sighted(FOUR, POSES[:2], written={(1, "A"): "B", (1, "B"): "A"})
    network = adjusted(truth)
    assert right(network, truth)
    assert "S2 and S1 alone do not tell whose name is right" in " ".join(network.warnings)


def test_three_stations_tell_whose_name_was_mistaken():
    truth = sighted(FOUR, POSES, written={(0, "A"): "B", (0, "B"): "A"})
    network = adjusted(truth)
    told = [warning for warning in network.warnings if "in the capture" in warning]
    assert len(told) == 2 and all(warning.startswith("S1 to ") for warning in told)
    assert not any("alone do not tell" in warning for warning in told)
    assert found_names(network)["S1 to B"] == "A"


def test_a_name_of_another_target_that_the_station_did_not_sight():
    by = ["ABCD", "ABCD", "ABC"]
    truth = sighted(FOUR, POSES, by, written={(2, "A"): "D"})
    network = adjusted(truth)
    assert right(network, truth)
    assert found_names(network)["S3 to D"] == "A"
    (told,) = [warning for warning in network.warnings if "in the capture" in warning]
    assert told.startswith("S3 to D: named D in the capture, but lies 2") and "fits A" in told


def test_one_name_for_two_places():
    """E is written on two targets; two stations sighted the one, two the other."""
    at = {**FOUR, "E": (0.3, 2.9), "F": (-0.6, -2.8)}
    poses = (*POSES, (0.6, 1.0, 2.4))
    by = ["ABCDE", "ABCDE", "ABCDF", "ABCDF"]
    truth = sighted(at, poses, by, written={(2, "F"): "E", (3, "F"): "E"})
    network = adjusted(truth)
    assert right(network, truth)
    assert network.ties.used.all() and network.statistics.passes
    taken = found_names(network)
    assert taken["S1 to E"] == taken["S2 to E"] == "E"
    assert taken["S3 to E"] == taken["S4 to E"] == "E (2)"
    apart_m = np.hypot(0.9, 5.7)
    told = [w for w in network.warnings if f"E is the name of two places, {apart_m:.2f} m" in w]
    assert len(told) == 2


def test_a_wrong_reading_that_fits_no_target_is_left_out_with_what_it_misses():
    at = {**FOUR, "Z": (3.5, 3.1)}
    by = ["ABCD", "ABCD", "ABCZ"]
    truth = sighted(at, POSES, by, written={(2, "Z"): "D"})
    network = adjusted(truth)
    assert right(network, truth)
    reason = dict(zip(network.ties.name, network.ties.reason))
    assert found_names(network)["S3 to D"] == ""
    assert "m from where other stations sighted D and fits no other target" in reason["S3 to D"]
    assert found_names(network)["S1 to D"] == "D"


def test_of_two_sightings_that_disagree_none_is_used():
    at = {**FOUR, "Z": (3.5, 3.1)}
    truth = sighted(at, POSES[:2], ["ABCD", "ABCZ"], written={(1, "Z"): "D"})
    network = adjusted(truth)
    assert right(network, truth)
    assert found_names(network)["S1 to D"] == found_names(network)["S2 to D"] == ""


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_the_order_of_stations_does_not_matter(order):
    pose = [POSES[k] for k in order]
    wrong = order.index(2)
    truth = sighted(FOUR, pose, written={(wrong, "A"): "B", (wrong, "B"): "C", (wrong, "C"): "A"})
    taken = found_names(adjusted(truth))
    assert taken[f"S{wrong + 1} to B"] == "A" and taken[f"S{wrong + 1} to C"] == "B"
    assert all(taken[f"S{k + 1} to A"] == ("C" if k == wrong else "A") for k in range(3))


def points(xy, seed=0):
    xy = np.array(xy, dtype=float)
    return Points(xy, np.full(len(xy), 0.003), np.arange(len(xy)))


def test_likenesses_by_chance_are_as_rare_as_stated():
    """At most one in a hundred, by the bound used; 300 pairs of rooms."""
    rng = np.random.default_rng(5)
    found = sum(
        any(
            like.sure
            for like in likenesses(
                points(rng.uniform(0, 7, (7, 2))), points(rng.uniform(0, 7, (7, 2)))
            )
        )
        for _ in range(300)
    )
    assert found <= 9  # the 99.9 % point of a binomial with 300 draws of 0.01


@given(st.integers(0, 2**32 - 1), st.integers(1, 40))
def test_what_is_near_is_what_all_pairs_say(seed, count):
    rng = np.random.default_rng(seed)
    at, allowed = rng.uniform(0.0, 2.0, (count, 2)), rng.uniform(0.01, 0.6, count)
    away = np.hypot(*np.moveaxis(at[:, None] - at, -1, 0))
    expected = away <= np.maximum(allowed, allowed[:, None])
    assert (target_names._near(at, allowed).toarray() == expected).all()
