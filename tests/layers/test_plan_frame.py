# SPDX-License-Identifier: GPL-2.0-or-later
"""Placed layers back to plan coordinates, by stations and readings."""

import numpy as np
import pytest
import shapely
from roomtie.processing.errors import SurveyError
from roomtie.processing.layers.plan_frame import plan_frame
from roomtie.processing.site.model import North, SiteFit
from roomtie.tests.site.site_surveys import network_of, survey_of, truth

TRUE = truth(stations=4)
NETWORK = network_of(TRUE, network=[1, 1, 1, 2])


def fit(network, rotation_deg, unit_m=1.0):
    return SiteFit(
        network=network, target_crs="EPSG:32632", unit_m=unit_m, east_m=5e5, north_m=5.3e6,
        rotation_rad=np.radians(rotation_deg), scale=0.9996, covariance=np.eye(3),
        north=North(0.0, 0.0, "", None, 0.0), evidence=(), decides_position="", decides_rotation="",
    )  # fmt: skip


def frame_of(points, network=NETWORK):
    return plan_frame(survey_of(TRUE), network, np.array(shapely.points(points)), None, None)


@pytest.mark.parametrize("unit_m", [1.0, 0.3048])
def test_stations_tell_the_motion_of_their_group(unit_m):
    placed = fit(1, 217.0, unit_m).to_target(TRUE.plan_m)
    frame = frame_of(placed)
    assert frame.moved
    points = np.array([[0.0, 0.0], [55.0, -31.0]])
    np.testing.assert_allclose(frame.to_plan(1, fit(1, 217.0, unit_m).to_target(points)), points,
                               atol=1e-7)  # fmt: skip
    np.testing.assert_allclose(frame.place(1, frame.to_plan(1, placed)), placed, atol=1e-8)


def test_what_was_not_moved_stays_to_the_last_digit():
    frame = frame_of(TRUE.plan_m)
    assert not frame.moved
    points = np.array([[1 / 3, 2 / 7], [1e4 / 3, -1e-9]])
    assert (frame.to_plan(1, points) == points).all()


def test_a_lone_station_that_moved_otherwise_needs_its_readings():
    placed = fit(1, 30.0).to_target(TRUE.plan_m)
    assert frame_of(placed).motions[2] == frame_of(placed).motions[1]
    placed[3] += (4.0, -2.0)
    with pytest.raises(SurveyError, match=r"station S04: .* expected its readings"):
        frame_of(placed)


def test_a_station_moved_by_hand_is_told():
    placed = fit(1, 30.0).to_target(TRUE.plan_m)
    placed[1] += (0.0, 0.05)
    with pytest.raises(SurveyError, match="moved one by one"):
        frame_of(placed)


def test_stations_without_points_are_told():
    with pytest.raises(SurveyError, match="no station has a point"):
        plan_frame(survey_of(TRUE), NETWORK, np.full(4, None), None, None)
