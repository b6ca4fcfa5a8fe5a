# SPDX-License-Identifier: GPL-2.0-or-later
"""Ties by one target and the direction of the surface that carries it."""

from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.captures.model import Survey
from roomtie.processing.stations.connect_frames import between
from roomtie.processing.stations.model import Status, TieKind
from roomtie.processing.stations.network import adjust_survey
from roomtie.processing.stations.network_options import NetworkOptions
from simulated_targets import Mark, Sighted
from surveyed import POSES, faces_of, survey

HELD = NetworkOptions(hold="S1", use_overlap=False)
ROOM = np.array([(0.0, 0.0, 0.4), (1.6, -0.7, -2.2)])
WALL = {"T": Mark(0.5, 2.5, normal_rad=np.pi)}


def adjusted(taken, options=HELD):
    return adjust_survey(taken, [no_faces(len(c)) for c in taken.captures], options)


def both(marks, pose=ROOM, by=None):
    by = [list(marks)] * len(pose) if by is None else by
    return Sighted(pose, np.zeros(len(pose), dtype=int), marks, by)


def with_compass(taken, bearings):
    return Survey(
        tuple(
            replace(c, magnetic_azimuth_deg=b % 360.0, magnetic_azimuth_sigma_deg=3.0)
            for c, b in zip(taken.captures, bearings)
        )
    )


def errors(network, pose):
    """Errors of the stations against the first, turned into the plan, as its covariance is."""
    here = np.column_stack([network.xy_m, network.orientation_rad])
    error = between(here[0], here) - between(pose[0], pose)
    error[:, 2] = (error[:, 2] + np.pi) % (2 * np.pi) - np.pi
    s, c = np.sin(here[0, 2]), np.cos(here[0, 2])
    error[:, :2] = error[:, :2] @ np.array([[c, -s], [s, c]])
    return error


def test_one_target_and_its_surface_tie_two_stations():
    network = adjusted(both(WALL).survey(np.random.default_rng(1)))
    assert list(network.network) == [1, 1]
    assert [k for k in network.ties.kind if k is TieKind.SURFACE] == [TieKind.SURFACE] * 2
    assert network.statistics.degrees_of_freedom == 0
    (told,) = [w for w in network.warnings if "direction of its surface" in w]
    assert told.startswith("S2 tied to S1 by target T") and told.endswith("nothing else checks it.")


def test_without_surface_readings_one_target_ties_nothing():
    truth = both({"T": Mark(0.5, 2.5)})
    network = adjusted(truth.survey(np.random.default_rng(1)))
    assert network.statistics.unconnected_stations == 2


def test_its_stated_errors_are_true():
    """Normalised squared errors of 150 second stations: the mean of 3 degrees lies within 2.4 and
    3.6 (three standard errors)."""
    truth = both(WALL)
    nees = []
    for seed in range(150):
        network = adjusted(truth.survey(np.random.default_rng(seed)))
        error = errors(network, ROOM)[1]
        nees.append(error @ np.linalg.solve(network.block(1), error))
    assert 2.4 < np.mean(nees) < 3.6


def test_compasses_that_agree_are_said():
    taken = with_compass(both(WALL).survey(np.random.default_rng(1)), np.degrees(ROOM[:, 2]) + 9.0)
    (told,) = [w for w in adjusted(taken).warnings if "direction of its surface" in w]
    assert told.endswith("the compasses agree.")


def test_a_surface_seen_from_its_two_sides_is_not_used_and_said():
    """A board between the stations, read from either side: the compasses tell."""
    pose = np.array([(0.0, 0.0, 0.4), (1.0, 5.0, -2.2)])
    truth = both({"T": Mark(0.5, 2.5, normal_rad=np.pi)}, pose)
    taken = with_compass(truth.survey(np.random.default_rng(1)), np.degrees(pose[:, 2]) + 9.0)
    network = adjusted(taken)
    assert network.statistics.unconnected_stations == 2
    (told,) = [w for w in network.warnings if "direction of its surface" in w]
    assert "the compasses differ from it by 1" in told and "not used" in told
    assert "if the two saw the surface from opposite sides" in told


def test_another_common_target_that_disagrees_stops_it():
    marks = {**WALL, "U": Mark(2.0, 1.0), "V": Mark(-2.0, -1.5)}
    truth = both(marks, by=["TU", "TV"])
    truth = replace(truth, written={(1, "V"): "U"})
    network = adjusted(truth.survey(np.random.default_rng(1)))
    assert network.statistics.unconnected_stations == 2
    assert any("the sightings of U contradict it: not used" in w for w in network.warnings)


def test_the_ring_shows_the_surface_where_it_was_not_read():
    """Two stations of one room, each with a ring and a sighting of one target on its wall; walls
    are not compared, and still the wall around the target turns the second station."""
    taken = survey(seed=61, poses=POSES[2:4], sighted={0: ("T5",), 1: ("T5",)})
    taken = Survey(tuple(replace(c, station=f"S{k + 1}") for k, c in enumerate(taken.captures)))
    network = adjust_survey(taken, faces_of(taken), HELD)
    assert list(network.network) == [1, 1]
    error = errors(network, POSES[2:4])[1]
    assert np.hypot(*error[:2]) < 0.012 and abs(error[2]) < np.radians(0.15)
    assert (np.abs(error) < 4 * network.sigma()[1]).all()


def test_walls_that_agree_are_said_and_tie():
    """The same with walls compared, in two rooms so alike that walls alone would not decide."""
    taken = survey(seed=61, poses=POSES[2:4], sighted={0: ("T5",), 1: ("T5",)})
    network = adjust_survey(taken, faces_of(taken), NetworkOptions(hold="S1"))
    assert list(network.network) == [1, 1]
    error = errors(network, POSES[2:4])[1]
    assert np.hypot(*error[:2]) < 0.004


@pytest.mark.parametrize("use_overlap", [False, True])
def test_one_name_in_two_rooms(use_overlap):
    """A target of one name in either of two rooms: where walls are compared they say no; without
    them nothing tells, and it is said that nothing checks the tie."""
    taken = survey(seed=62, poses=POSES[[0, 4]], sighted={0: ("T1",), 1: ("T7",)})
    second = taken.captures[1]
    name = second.target.copy()
    name[name == "T7"] = "T1"
    taken = Survey((taken.captures[0], replace(second, target=name)))
    network = adjust_survey(taken, faces_of(taken), NetworkOptions(use_overlap=use_overlap))
    told = [w for w in network.warnings if "direction of its surface" in w]
    if use_overlap:
        assert network.status == (Status.UNCONNECTED,) * 2
        assert "not used" in told[0]
    else:
        assert told[0].endswith("nothing else checks it.")
