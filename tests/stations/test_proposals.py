# SPDX-License-Identifier: GPL-2.0-or-later
"""Stations that moved are proposed for exclusion, with the evidence; the others are not."""

from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.captures.model import Survey
from roomtie.processing.stations.choices import Choices, Start
from roomtie.processing.stations.model import Status
from roomtie.processing.stations.network import adjust_survey
from roomtie.processing.stations.network_options import NetworkOptions
from simulated import capture_of
from surveyed import POSES, SIGHTED, STOREY, TARGETS, faces_of, survey, with_sightings

BEARINGS = {k: np.degrees(pose[2]) + 20.0 for k, pose in enumerate(POSES)}


def with_capture(taken, place, capture):
    captures = list(taken.captures)
    captures[place] = capture
    return Survey(tuple(captures))


def bumped_in_the_ring(taken, place, motion, after):
    """The readings of a capture from a share of its ring on, as from a moved tripod."""
    here = taken.captures[place]
    pose = POSES[place] + motion
    rng = np.random.default_rng(5)
    there, _ = capture_of(
        STOREY, pose[:2], pose[2], rng=rng, readings=1000, station=here.station, outliers=0.01
    )
    count = len(there)
    columns = {}
    for name in ("distance_m", "slope_distance_m", "flag", "intensity"):
        values = getattr(here, name).copy()
        values[int(after * count) : count] = getattr(there, name)[int(after * count) :]
        columns[name] = values
    return with_capture(taken, place, replace(here, **columns))


def adjusted(taken):
    return adjust_survey(taken, faces_of(taken))


@pytest.mark.parametrize("seed", [41, 42, 43])
def test_nothing_is_proposed_where_nothing_moved(seed):
    found = adjusted(survey(seed=seed, compass=BEARINGS))
    assert found.proposals == {}
    assert not any("Proposed" in text for text in found.warnings)


def test_a_tripod_that_moved_before_its_sightings_is_proposed():
    taken = survey(seed=13, sighted={2: SIGHTED[2], 4: ("T5", "T7", "T8")}, compass=BEARINGS)
    moved = POSES[3] + np.array([0.06, -0.05, np.radians(1.5)])
    points = {name: TARGETS[name] for name in (*SIGHTED[3], "T7", "T8")}
    rng = np.random.default_rng(3)
    found = adjusted(with_capture(taken, 3, with_sightings(taken.captures[3], moved, points, rng)))
    text = found.proposals["S4"]
    assert text.startswith("leave out, or measure again: its sightings lie ")
    # 78 mm and 1.5 degrees, to some millimetres of the sightings.
    assert any(f"{mm} mm and" in text for mm in range(74, 83))
    assert "chi-square" in text and "T4" in text and "here or at" not in text
    assert any("Proposed for S4: leave out" in warning for warning in found.warnings)


def test_one_target_sighted_twice_does_not_say_that_the_tripod_moved():
    sighted = {0: ("T1", "T4"), 1: ("T1", "T3", "T4"), 2: SIGHTED[2], 4: ("T4", "T7", "T8")}
    taken = survey(seed=13, sighted=sighted, compass=BEARINGS)
    moved = POSES[3] + np.array([0.05, -0.04, np.radians(1.5)])
    rng = np.random.default_rng(3)
    twice = taken.captures[3]
    for _ in range(2):
        twice = with_sightings(twice, moved, {"T4": TARGETS["T4"]}, rng)
    found = adjusted(with_capture(taken, 3, twice))
    out = [name for name, used in zip(found.ties.name, found.ties.used) if not used]
    assert out.count("S4 to T4") == 2
    assert "moved" not in found.proposals.get("S4", "")


def test_of_two_stations_either_may_have_moved():
    taken = survey(seed=13, sighted={2: SIGHTED[2]}, compass=BEARINGS)
    moved = POSES[3] + np.array([0.06, -0.05, np.radians(1.5)])
    points = {name: TARGETS[name] for name in SIGHTED[3]}
    rng = np.random.default_rng(3)
    found = adjusted(with_capture(taken, 3, with_sightings(taken.captures[3], moved, points, rng)))
    assert {"S3", "S4"} == set(found.proposals)


def test_a_tripod_that_moved_during_its_ring_is_proposed():
    taken = survey(seed=44, compass=BEARINGS)
    motion = np.array([0.02, 0.012, np.radians(0.3)])
    found = adjusted(bumped_in_the_ring(taken, 2, motion, 0.45))
    assert set(found.proposals) == {"S3"}
    assert "the tripod moved during the capture" in found.proposals["S3"]
    millimetres = float(found.proposals["S3"].split(" lie ")[1].split(" mm")[0])
    assert millimetres == pytest.approx(1e3 * np.hypot(0.02, 0.012), abs=6.0)


def test_a_swapped_name_is_no_movement():
    taken = survey(seed=12, compass=BEARINGS)
    capture = taken.captures[1]
    name = capture.target.copy()
    a, b = np.flatnonzero(name == "T1"), np.flatnonzero(name == "T3")
    name[a], name[b] = "T3", "T1"
    found = adjusted(with_capture(taken, 1, replace(capture, target=name)))
    assert "moved" not in found.proposals.get("S2", "")


def test_what_a_person_left_out_is_proposed_no_more():
    taken = survey(seed=44, compass=BEARINGS)
    bumped = bumped_in_the_ring(taken, 2, np.array([0.02, 0.012, np.radians(0.3)]), 0.45)
    first = adjusted(bumped)
    options = NetworkOptions(
        choices=Choices(left_out=("S3",)), start=Start.of(first.station, first)
    )
    found = adjust_survey(bumped, faces_of(bumped), options)
    assert found.status[2] is Status.UNCONNECTED and found.proposals == {}


def test_a_tripod_that_moved_is_still_known_in_the_next_run():
    taken = survey(seed=13, sighted={2: SIGHTED[2], 4: ("T5", "T7", "T8")}, compass=BEARINGS)
    moved = POSES[3] + np.array([0.06, -0.05, np.radians(1.5)])
    points = {name: TARGETS[name] for name in (*SIGHTED[3], "T7", "T8")}
    rng = np.random.default_rng(3)
    changed = with_capture(taken, 3, with_sightings(taken.captures[3], moved, points, rng))
    first = adjusted(changed)
    options = NetworkOptions(start=Start.of(first.station, first))
    found = adjust_survey(changed, faces_of(changed), options)
    assert set(found.proposals) == set(first.proposals) == {"S4"}
    for name, used in zip(found.ties.name, found.ties.used):
        assert not (used and name.startswith("S4 to "))
    assert np.hypot(*(found.xy_m - first.xy_m).T).max() < 1e-3
