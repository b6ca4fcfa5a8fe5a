# SPDX-License-Identifier: GPL-2.0-or-later
"""Surveys across the edge of a zone, the antimeridian and the equator, and far from the origin of a
grid: one zone is taken, and nothing is lost of what is measured in millimetres."""

import math

import numpy as np
import pytest
from roomtie.processing.angles import wrap_half
from roomtie.processing.site.fit import fit_site
from roomtie.processing.site.target_crs import middle_of_geotags, utm_for
from roomtie.tests.site.site_surveys import network_of, survey_of, truth

PLACES = {
    "edge of zones 31 and 32": (6.0, 52.0),
    "antimeridian, south": (180.0, -17.0),
    "antimeridian, north": (-180.0, 65.5),
    "equator": (9.0, 0.0),
    "eight million metres north": (15.0, 72.1),
    "eight million metres, south": (32.0, -18.0),
    "edge of 32V": (3.0, 60.0),
    "edge of the polar grid": (20.0, 84.0),
}


@pytest.mark.parametrize("lonlat", PLACES.values(), ids=PLACES.keys())
def test_a_survey_on_both_sides_is_placed_in_one_grid(lonlat):
    zone = utm_for(*lonlat)
    true = truth(zone.to_string(), lonlat, stations=6, size_m=60.0)
    survey = survey_of(true, geotag_errors=np.zeros((6, 2)), compass_errors_deg=np.zeros(6))
    longitudes = [capture.longitude_deg for capture in survey.captures]
    latitudes = [capture.latitude_deg for capture in survey.captures]
    across = [wrap_half(math.radians(one - lonlat[0])) for one in longitudes]
    assert min(across) < 0 < max(across)
    assert min(latitudes) < lonlat[1] < max(latitudes)

    middle = middle_of_geotags(survey.captures)
    assert abs(wrap_half(math.radians(middle[0] - lonlat[0]))) < 1e-4
    # Whichever side the middle lies on, all stations are placed by the grid that is asked for.
    (fit,) = fit_site(survey, network_of(true), target_crs=zone)
    placed = fit.to_target(true.plan_m)
    # The rotation is right to 1e-6 rad, which is 0.04 mm over 40 m.
    assert placed == pytest.approx(true.host_m(true.plan_m), abs=5e-5)
    assert abs(wrap_half(fit.rotation_rad - true.rotation_rad)) < 1e-6
    # Distances come out of coordinates of millions of metres to a hundredth of a micrometre.
    gap = placed[:, None] - placed[None]
    there = true.plan_m[:, None] - true.plan_m[None]
    assert np.hypot(*gap.T) == pytest.approx(fit.scale * np.hypot(*there.T), abs=1e-8)
