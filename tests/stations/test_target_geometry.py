# SPDX-License-Identifier: GPL-2.0-or-later
"""What badly placed targets cost: against the adjustment itself, and against rays and planes."""

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.angles import unit
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.stations.adjustment import adjust
from roomtie.processing.stations.network import adjust_survey
from roomtie.processing.stations.network_options import NetworkOptions, TargetLimits
from roomtie.processing.stations.observations import Observations, Sightings, Unknowns
from roomtie.processing.stations.target_geometry import (
    intersection_sigma_m,
    largest_cut_rad,
    resection_sigma_m,
)
from simulated_targets import Mark, Sighted

SIGMA_M, SIGMA_RAD = 0.002, np.radians(0.03)
lines = st.lists(
    st.tuples(st.floats(-3.1, 3.1), st.floats(0.5, 12.0)), min_size=2, max_size=5
).filter(lambda rows: largest_cut_rad(np.array(rows)[:, 0]) > 0.05)


def adjusted_sigma(unknowns, sightings, column):
    """The worst direction's 1-sigma error of the two coordinates from `column` on."""
    result = adjust(unknowns, Observations(sightings=sightings))
    covariance = result.covariance(np.arange(column, column + 2))
    return float(np.sqrt(np.linalg.eigvalsh(covariance)[-1]))


@given(lines)
def test_a_resection_costs_what_the_adjustment_says(rows):
    angle, distance = np.array(rows).T
    n = len(angle)
    unknowns = Unknowns(
        station=("S",),
        station_xy_m=np.zeros((1, 2)),
        orientation_rad=np.zeros(1),
        station_held=np.zeros((1, 3), dtype=bool),
        point=tuple(f"t{k}" for k in range(n)),
        point_xy_m=distance[:, None] * unit(angle),
        point_held=np.ones((n, 2), dtype=bool),
    )
    to = np.arange(1, n + 1)
    sightings = Sightings(np.zeros(n, int), to, angle, distance, SIGMA_RAD, SIGMA_M)
    expected = adjusted_sigma(unknowns, sightings, 0)
    found = resection_sigma_m(angle, distance, np.full(n, SIGMA_M), np.full(n, SIGMA_RAD))
    assert found == pytest.approx(expected, rel=1e-6)


@given(lines)
def test_an_intersection_costs_what_the_adjustment_says(rows):
    azimuth, distance = np.array(rows).T
    n = len(azimuth)
    unknowns = Unknowns(
        station=tuple(f"s{k}" for k in range(n)),
        station_xy_m=-distance[:, None] * unit(azimuth),
        orientation_rad=np.zeros(n),
        station_held=np.ones((n, 3), dtype=bool),
        point=("T",),
        point_xy_m=np.zeros((1, 2)),
    )
    to = np.full(n, n)
    sightings = Sightings(np.arange(n), to, azimuth, distance, SIGMA_RAD, SIGMA_M)
    expected = adjusted_sigma(unknowns, sightings, 3 * n)
    found = intersection_sigma_m(azimuth, distance, np.full(n, SIGMA_M), np.full(n, SIGMA_RAD))
    assert found == pytest.approx(expected, rel=1e-6)


@given(st.lists(st.floats(-10, 10), min_size=1, max_size=6), st.floats(-10, 10))
def test_lines_cut_at_up_to_a_right_angle_however_they_are_turned(azimuths, turn):
    cut = largest_cut_rad(np.array(azimuths))
    assert 0.0 <= cut <= np.pi / 2 + 1e-12
    assert largest_cut_rad(np.array(azimuths) + turn) == pytest.approx(cut, abs=1e-7)
    assert largest_cut_rad(np.array(azimuths) + np.pi) == pytest.approx(cut, abs=1e-7)


POSE = np.array([(0.0, 0.0, 0.3), (1.2, -0.8, -2.0)])
GOOD = {"A": Mark(-1.9, -1.5), "B": Mark(2.6, 1.1), "C": Mark(0.4, 2.2)}


def told(marks, limits=None, pose=POSE):
    truth = Sighted(pose, np.zeros(len(pose), dtype=int), marks, [list(marks)] * len(pose))
    taken = truth.survey(np.random.default_rng(4))
    options = NetworkOptions(use_overlap=False, limits=limits or TargetLimits())
    network = adjust_survey(taken, [no_faces(len(c)) for c in taken.captures], options)
    return " ".join(network.warnings)


def test_well_placed_targets_are_passed_over():
    assert "common practice" not in told(GOOD) and "in line" not in told(GOOD)


def test_a_far_target_and_what_it_costs():
    text = told({**GOOD, "D": Mark(7.0, 0.0)})
    # 7 m times 0.03 deg, against 4 m times 0.03 deg.
    assert "S1 to D at 7.0 m fixes its target to 3.7 mm (2.1 mm at 4 m)" in text
    assert text.startswith("2 of 8 target sightings that tie are nearer than 1 m or farther")


def test_a_near_target_and_what_it_costs():
    text = told({**GOOD, "D": Mark(0.5, 0.0)})
    # One millimetre beside the mark at half a metre is 0.11 deg, eight times as much at 4 m.
    assert "S1 to D at 0.50 m: 1 mm beside the mark turns it by 0.11 deg, 8 mm at 4 m" in text


def test_limits_are_parameters():
    wide = TargetLimits(nearest_m=0.3, farthest_m=8.0)
    assert "nearer than" not in told({**GOOD, "D": Mark(7.0, 0.0), "E": Mark(0.5, 0.0)}, wide)


def test_a_surface_at_a_slant_and_what_it_costs():
    """Against the ray itself: turned by the angle's error it meets the plane so much nearer."""
    slant = np.radians(60.0)
    at = np.array([-1.9, -1.5])
    # S1 stands at the origin: its line to A has this azimuth.
    normal = np.arctan2(*at) + np.pi + slant
    text = told({**GOOD, "A": Mark(*at, normal_rad=float(normal))})
    turned = unit(np.arctan2(*at) + np.array([1, -1]) * SIGMA_RAD)
    moved = (at @ unit(normal)) / (turned @ unit(normal)) - np.hypot(*at)
    cost = 1000 * np.abs(moved).mean()
    assert (
        f"S1 to A, 60 deg from square: a pointing error of 0.03 deg moves the distance by "
        f"{cost:.1f} mm" in text
    )


def test_a_station_in_line_with_its_targets():
    """Two targets on one line with the second station, 3 and 4 m away."""
    pose = np.array([(3.5, 1.5, 0.3), (0.0, 0.0, -2.0)])
    marks = {"A": Mark(3.0, 0.0), "B": Mark(4.0, 0.1)}
    text = told(marks, pose=pose)
    azimuth = np.arctan2([3.0, 4.0], [0.0, 0.1])
    polar = (np.hypot([3.0, 4.0], [0.0, 0.1]), np.full(2, SIGMA_M), np.full(2, SIGMA_RAD))
    now = 1000 * resection_sigma_m(azimuth, *polar)
    well = 1000 * resection_sigma_m(np.array([0.0, np.pi / 2]), *polar)
    assert now > 2 * well
    figures = re.search(
        r"stand S2 \(cut 1 deg\), fixed to (\S+) mm by its sightings instead of (\S+) mm", text
    )
    # The sightings' own noise moves the base of 1 m by some millimetres.
    assert np.array(figures.groups(), dtype=float) == pytest.approx([now, well], rel=0.03)


def test_a_target_in_line_with_its_stations():
    marks = {**GOOD, "D": Mark(-20.0, 0.5)}
    pose = np.array([(0.0, 0.5, 0.3), (1.2, 0.8, -2.0)])
    text = told(marks, pose=pose)
    assert "Nearly in line with the stations that sighted them are D (cut 1 deg), fixed to" in text


def test_targets_that_tie_nothing_are_passed_over():
    """A target that one station alone sighted may be where it likes."""
    truth = Sighted(POSE, np.zeros(2, dtype=int), {**GOOD, "D": Mark(9.0, 0.0)}, ["ABCD", "ABC"])
    taken = truth.survey(np.random.default_rng(4))
    options = NetworkOptions(use_overlap=False)
    network = adjust_survey(taken, [no_faces(len(c)) for c in taken.captures], options)
    assert not any("to D" in warning for warning in network.warnings)


def test_a_sighting_that_was_taken_out_is_passed_over():
    marks = {**GOOD, "D": Mark(7.0, 0.0)}
    truth = Sighted(POSE, np.zeros(2, dtype=int), marks, ["ABCD"] * 2)
    taken = truth.survey(np.random.default_rng(4))
    faces = [no_faces(len(c)) for c in taken.captures]
    options = NetworkOptions(use_overlap=False)
    out = frozenset({"S1 to D", "S2 to D"})
    options = replace(options, choices=replace(options.choices, ties_left_out=out))
    network = adjust_survey(taken, faces, options)
    assert not any("farther" in warning for warning in network.warnings)
