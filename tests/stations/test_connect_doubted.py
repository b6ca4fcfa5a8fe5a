# SPDX-License-Identifier: GPL-2.0-or-later
"""Walls that tie two stations, and a target whose name says that they cannot."""

from dataclasses import replace

import numpy as np
from roomtie.processing.captures.model import Survey
from roomtie.processing.stations.choices import Choices
from roomtie.processing.stations.connect_frames import apart, between
from roomtie.processing.stations.model import TieKind
from roomtie.processing.stations.network import adjust_survey
from roomtie.processing.stations.network_options import NetworkOptions
from surveyed import POSES, faces_of, survey


def two_stations_of_a_room(sighted, written):
    """Stations S3 and S4, whose walls tie them; S4 writes other names."""
    taken = survey(seed=61, sighted=sighted)
    capture = taken.captures[3]
    name = np.array([written.get(own, own) for own in capture.target.tolist()])
    return Survey((taken.captures[2], replace(capture, target=name)))


def adjusted(taken, **choices):
    return adjust_survey(taken, faces_of(taken), NetworkOptions(choices=Choices(**choices)))


def right(network):
    here = np.column_stack([network.xy_m, network.orientation_rad])
    shift, turn = apart(between(here[0], here[1]), between(POSES[2], POSES[3]))
    return shift < 0.005 and turn < np.radians(0.1)


def test_the_walls_alone_would_tie():
    network = adjusted(two_stations_of_a_room({}, {}))
    assert right(network) and set(network.network) == {1}


def test_a_target_that_speaks_against_the_walls_is_told_with_what_to_do():
    taken = two_stations_of_a_room({2: ("T5",), 3: ("T4",)}, {"T4": "T5"})
    network = adjusted(taken)
    assert len(set(network.network)) == 2
    (told,) = [w for w in network.warnings if "two rooms look alike" in w]
    assert told.startswith("The walls of S4 and S3 agree at a place") and "S4 to T5" in told
    (tie,) = np.flatnonzero([kind is TieKind.OVERLAP for kind in network.ties.kind])
    assert not network.ties.used[tie] and "two rooms look alike" in network.ties.reason[tie]
    # What it says helps.
    again = adjusted(taken, ties_left_out=frozenset({"S4 to T5"}))
    assert right(again) and set(again.network) == {1}
    assert not any("two rooms look alike" in w for w in again.warnings)


def test_a_sighting_that_fits_another_target_decides_for_the_walls():
    taken = two_stations_of_a_room({2: ("T4", "T5"), 3: ("T4",)}, {"T4": "T5"})
    network = adjusted(taken)
    assert right(network) and set(network.network) == {1}
    reason = dict(zip(network.ties.name, network.ties.reason))
    assert "fits T4" in reason["S4 to T5"]
    assert any(warning.startswith("S4 to T5: named T5") for warning in network.warnings)


def test_targets_that_agree_change_nothing():
    taken = two_stations_of_a_room({2: ("T5",), 3: ("T5",)}, {})
    network = adjusted(taken)
    assert right(network) and network.ties.used.all()
