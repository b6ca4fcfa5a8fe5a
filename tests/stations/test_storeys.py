# SPDX-License-Identifier: GPL-2.0-or-later
"""Several storeys in one adjustment: joined by targets in the stair, and by nothing else."""

import numpy as np
import pytest
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.stations.connect_frames import between
from roomtie.processing.stations.network import adjust_survey
from roomtie.processing.stations.network_options import NetworkOptions
from simulated_targets import storeys_with_a_stair

HELD = NetworkOptions(hold="S1", use_overlap=False)


def adjusted(truth, seed=0):
    taken = truth.survey(np.random.default_rng([23, seed]))
    return adjust_survey(taken, [no_faces(len(c)) for c in taken.captures], HELD)


def errors(network, truth):
    """Errors ``(S, 3)`` against the held station, in the plan's directions."""
    here = np.column_stack([network.xy_m, network.orientation_rad])
    error = between(here[0], here) - between(truth.pose[0], truth.pose)
    error[:, 2] = (error[:, 2] + np.pi) % (2 * np.pi) - np.pi
    s, c = np.sin(here[0, 2]), np.cos(here[0, 2])
    error[:, :2] = error[:, :2] @ np.array([[c, -s], [s, c]])
    return error


def test_three_storeys_are_one_network():
    truth = storeys_with_a_stair(1)
    network = adjusted(truth)
    assert set(network.network) == {1}
    assert [(join.lower, join.upper) for join in network.storeys] == [(0, 1), (1, 2)]
    assert network.storeys[0].targets == ("stair 10", "stair 11")
    assert network.storeys[0].stations == ("S3", "S6")
    assert not any("Level" in warning for warning in network.warnings)


def test_what_a_join_is_worth_is_the_covariance_seen_from_the_stair():
    """With the station below held, those above have the errors that the join states."""
    truth = storeys_with_a_stair(2, storeys=2)
    taken = truth.survey(np.random.default_rng(2))
    faces = [no_faces(len(c)) for c in taken.captures]
    free = adjust_survey(taken, faces, NetworkOptions(use_overlap=False))
    below = adjust_survey(taken, faces, NetworkOptions(hold="S3", use_overlap=False))
    (join,) = free.storeys
    assert join.stations == ("S3", "S6")
    upper = [k for k, level in enumerate(truth.level) if level == 1]
    assert join.sigma_turn_rad == pytest.approx(below.sigma()[upper, 2].max(), rel=1e-4)
    worst = max(np.sqrt(np.linalg.eigvalsh(below.block(k)[:2, :2])[-1]) for k in upper)
    assert join.sigma_m == pytest.approx(worst, rel=1e-4)


def test_storeys_without_a_common_target_stay_networks_of_their_own():
    truth = storeys_with_a_stair(3, stair=0)
    network = adjusted(truth)
    assert len(set(network.network)) == 3 and network.storeys == ()
    for level in range(3):
        assert len(set(network.network[truth.level == level])) == 1
        assert any(f"No target ties level {level} to" in w for w in network.warnings)


def test_one_stair_target_alone_does_not_join():
    network = adjusted(storeys_with_a_stair(4, storeys=2, stair=1))
    assert len(set(network.network)) == 2
    # What is said is true of a target that both sighted, too.
    told = [w for w in network.warnings if "network of its own" in w]
    assert [w.startswith(f"No target ties level {k} to") for k, w in enumerate(told)] == [True] * 2


def test_one_stair_target_and_its_surface_join_and_say_so():
    truth = storeys_with_a_stair(4, storeys=2, stair=1, surfaces=True)
    network = adjusted(truth)
    assert set(network.network) == {1}
    (told,) = [w for w in network.warnings if "direction of its surface" in w]
    assert told.endswith("nothing else checks it.")
    error = errors(network, truth)
    assert (np.abs(error) <= 4.0 * network.sigma() + 1e-9).all()


def test_each_upper_storey_lies_within_its_stated_errors():
    """Thirty buildings of three storeys: all tied, and all stations within the 99.9 % ellipse but
    for the one in a thousand."""
    outside = 0
    for seed in range(100, 130):
        truth = storeys_with_a_stair(seed)
        network = adjusted(truth, seed)
        assert set(network.network) == {1}
        for k, error in enumerate(errors(network, truth)[1:], start=1):
            square = error[:2] @ np.linalg.solve(network.block(k)[:2, :2], error[:2])
            outside += square > 13.82
    assert outside <= 3


def test_a_stair_target_named_wrongly_upstairs_is_named():
    """With three targets in the stair an exchange of two names is found, though nothing but these
    joins the storeys."""
    truth = storeys_with_a_stair(5, storeys=2, stair=3)
    upper = int(np.flatnonzero(truth.level == 1)[-1])
    own = [name for name in truth.by[upper] if name.startswith("stair")]
    written = {(upper, own[0]): own[1], (upper, own[1]): own[0]}
    swapped = type(truth)(truth.pose, truth.level, truth.marks, truth.by, written)
    network = adjusted(swapped)
    assert set(network.network) == {1}
    told = [w for w in network.warnings if "in the capture" in w]
    assert len(told) == 2
    assert np.hypot(*errors(network, truth)[upper, :2]) < 0.02
