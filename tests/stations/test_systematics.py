# SPDX-License-Identifier: GPL-2.0-or-later
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.angles import unit
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.captures.model import Survey
from roomtie.processing.chain import tie_and_correct, tie_stations
from roomtie.processing.stations.network_options import NetworkOptions
from roomtie.processing.stations.systematics import (
    Systematics,
    SystematicsEstimate,
    corrected,
    face_response,
)
from scipy.optimize import least_squares
from simulated import capture_of, loop
from surveyed import survey

ROOM = loop([(0, 0), (5.2, 0), (5.2, 3.9), (3.1, 3.9), (3.1, 4.6), (0, 4.6)])


def spoiled(capture, zero_m=0.0, eccentricity_m=0.0, angle_scale=0.0):
    """The capture as an instrument with these errors takes it: the inverse of the correction,
    written from the geometry."""
    at = capture.xy_m
    # The beam passes the axis to its right: its foot is found by Pythagoras.
    length = np.sqrt(np.maximum(np.sum(at**2, axis=1) - eccentricity_m**2, 0.0))
    azimuth = np.radians(capture.angle_deg) - np.arctan2(eccentricity_m, length)
    return replace(
        capture,
        angle_deg=np.degrees(azimuth) / (1.0 - angle_scale),
        distance_m=length + zero_m,
        slope_distance_m=length + zero_m,
    )


def spoiled_survey(taken, **errors):
    return Survey(tuple(spoiled(capture, **errors) for capture in taken.captures))


@given(
    zero=st.floats(-0.05, 0.05),
    eccentricity=st.floats(-0.05, 0.05),
    scale=st.floats(-1e-3, 1e-3),
)
def test_a_correction_undoes_the_errors(zero, eccentricity, scale):
    capture, _ = capture_of(ROOM, (2.0, 1.5), 0.3, readings=120)
    back = corrected(
        spoiled(capture, zero, eccentricity, scale), Systematics(zero, eccentricity, scale)
    )
    assert np.allclose(back.xy_m, capture.xy_m, atol=1e-12)
    assert back.distance_zero_m == pytest.approx(zero)


def test_faces_answer_as_their_readings_fitted_anew():
    """Against differences of whole fits of the corrected readings: the faces turn and shift as
    told, to the second order of a tenth of a millimetre."""
    capture, _ = capture_of(ROOM, (2.0, 1.5), 0.3, readings=1600, rng=np.random.default_rng(3))
    faces = fit_faces(capture)
    response = face_response(capture, faces)
    for k, size in enumerate((1e-4, 1e-4, 1e-5)):
        values = np.zeros(3)
        values[k] = size
        after = fit_faces(corrected(capture, Systematics(*values)))
        assert len(after) == len(faces)
        shift = np.einsum("ij,ij->i", faces.normal, after.centre_m - faces.centre_m)
        turned = after.normal_rad - faces.normal_rad
        assert np.allclose(shift, response.offset[:, k] * size, atol=0.02 * size)
        assert np.allclose(turned, response.normal[:, k] * size, atol=0.02 * size)


def test_a_network_tells_the_errors_as_a_fit_of_all_readings_does():
    """Two captures of one room, poses, walls and errors fitted to the readings themselves by
    scipy: the same values within a tenth of their standard errors, and the same standard
    errors within 10 %."""
    poses = np.array([(1.4, 1.2, 0.0), (4.1, 2.9, 2.0)])
    errors = {"zero_m": 2e-4, "eccentricity_m": -2e-4, "angle_scale": 1e-5}
    rng = np.random.default_rng(5)
    captures = tuple(
        spoiled(capture_of(ROOM, p[:2], p[2], rng=rng, readings=1600, station=f"S{k}")[0], **errors)
        for k, p in enumerate(poses)
    )
    tied = tie_stations(Survey(captures), NetworkOptions(hold="S0"))
    told = tied.network.systematics
    value, sigma = _fit_readings(tied, poses[1])
    assert np.all(np.abs(told.value - value) < 0.1 * sigma)
    assert np.allclose(told.sigma, sigma, rtol=0.1)


def _fit_readings(tied, second):
    """Values and standard errors of the three errors: everything at once, reading by reading."""
    wall = ROOM
    direction = wall[:, 1] - wall[:, 0]
    azimuth = np.arctan2(direction[:, 0], direction[:, 1]) - np.pi / 2
    middle = wall.mean(axis=1)
    start_xy = np.array([1.4, 1.2])
    parts = []
    for k, (capture, faces) in enumerate(zip(tied.survey.captures, tied.faces)):
        at = np.flatnonzero(faces.line_of_reading >= 0)
        pose = (start_xy, 0.0) if k == 0 else (second[:2], second[2])
        there = pose[0] + faces.centre_m @ np.array(
            [[np.cos(pose[1]), -np.sin(pose[1])], [np.sin(pose[1]), np.cos(pose[1])]]
        )
        gap = np.abs(
            np.einsum("wk,fwk->fw", unit(azimuth), there[:, None] - middle[None])
        ) + 10.0 * (np.abs(np.sin(azimuth - faces.normal_rad[:, None] - pose[1])) > 0.1)
        owner = np.argmin(gap, axis=1)[faces.line_of_reading[at]]
        cosine = np.einsum(
            "ij,ij->i", faces.normal[faces.line_of_reading[at]], unit(capture.angle_rad[at])
        )
        d = capture.distance_m[at]
        across = 0.002**2 * cosine**2 + (d * np.radians(0.03)) ** 2 * (1 - cosine**2)
        parts.append((k, capture.angle_rad[at], d, owner, np.sqrt(across)))

    def residuals(x):
        zero, ecc, scale = x[:3] * 1e-3
        pose, lines = x[3:6], x[6:].reshape(-1, 2)
        out = []
        for k, angle, distance, owner, sigma in parts:
            b = angle * (1 - scale)
            local = (distance - zero)[:, None] * unit(b) + ecc * unit(b + np.pi / 2)
            turn, move = (0.0, start_xy) if k == 0 else (pose[2], pose[:2])
            c, s = np.cos(turn), np.sin(turn)
            xy = local @ np.array([[c, -s], [s, c]]) + move
            normal = unit(azimuth[owner] + lines[owner, 0])
            off = np.einsum("ij,ij->i", normal, xy - middle[owner]) - lines[owner, 1]
            out.append(off / sigma)
        return np.concatenate(out)

    start = np.concatenate([np.zeros(3), second, np.zeros(2 * len(wall))])
    fit = least_squares(residuals, start, x_scale="jac", xtol=1e-12)
    covariance = np.linalg.inv(fit.jac.T @ fit.jac)
    return fit.x[:3] * 1e-3, np.sqrt(np.diagonal(covariance)[:3]) * 1e-3


def test_what_is_told_is_taken_out():
    errors = {"zero_m": 0.006, "eccentricity_m": 0.004, "angle_scale": 3e-4}
    taken = spoiled_survey(survey(4, readings=1600), **errors)
    plain = tie_stations(taken, NetworkOptions())
    told = plain.network.systematics
    assert told.significant.all()
    tied = tie_and_correct(taken, NetworkOptions())
    left = tied.network.systematics
    # Freed of them, what is left is well below what was there, and the errors are the true ones.
    assert np.all(np.abs(left.value) < 0.2 * np.array(list(errors.values())))
    assert tied.survey.captures[0].distance_zero_m == pytest.approx(0.006, abs=0.001)
    # Correcting for something uncertain makes no station better known than without any error.
    sound = tie_stations(survey(4, readings=1600), NetworkOptions())
    assert np.all(tied.network.sigma()[1:] > 0.99 * sound.network.sigma()[1:])


def test_a_good_instrument_is_left_alone():
    tied = tie_and_correct(survey(5, readings=1600), NetworkOptions())
    assert not tied.network.systematics.significant.any()
    assert tied.survey.captures[0].distance_zero_m == 0.0


def test_stated_errors_are_true():
    """10 surveys of an instrument with small errors of its own each time: the mean square of error
    over standard error is 1 within what 10 trials of three allow (chi-square, 99.9 %: 0.38 to
    2.0)."""
    squares = []
    for seed in range(10):
        rng = np.random.default_rng(seed)
        true = rng.normal(0.0, (3e-4, 3e-4, 2e-5))
        taken = survey(seed + 100, readings=1000)
        spoilt = spoiled_survey(taken, zero_m=true[0], eccentricity_m=true[1], angle_scale=true[2])
        told = tie_stations(spoilt, NetworkOptions()).network.systematics
        gap = told.value - true
        squares.append(gap @ np.linalg.solve(told.covariance, gap))
    assert 0.38 < np.mean(squares) / 3.0 < 2.0


def test_nothing_is_told_without_readings_that_tell():
    estimate = SystematicsEstimate(np.zeros(3), np.full((3, 3), np.inf))
    assert not estimate.carried.any()
    assert estimate.to_apply() is None
