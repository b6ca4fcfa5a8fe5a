# SPDX-License-Identifier: GPL-2.0-or-later
"""Where stations are drawn before they are adjusted."""

from dataclasses import replace

import numpy as np
import pytest
from pyproj import Transformer
from roomtie.processing.captures.layout import lay_out
from roomtie.processing.captures.model import Survey
from roomtie.processing.captures.reading import import_captures
from simulated import capture_of, loop


def room(station, size=3.0, **header):
    walls = loop([(-size, -size), (size, -size), (size, size), (-size, size)])
    capture, _ = capture_of(walls, (0, 0), readings=72, station=station)
    return replace(capture, **header)


def gaps(survey, xy):
    """The least distance between the circles of reach of any two stations."""
    reach = np.array([np.nanmax(capture.distance_m) for capture in survey.captures])
    apart = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    pair = np.triu_indices(len(xy), 1)
    return (apart - reach[:, None] - reach[None])[pair]


@pytest.mark.parametrize("count", [1, 2, 3, 5, 16])
def test_without_geotags_stations_lie_side_by_side(count):
    rng = np.random.default_rng(count)
    survey = Survey(tuple(room(f"S{k}", size) for k, size in enumerate(rng.uniform(1, 20, count))))
    xy, orientation = lay_out(survey)
    assert xy.shape == (count, 2)
    assert xy[0].tolist() == [0.0, 0.0]
    assert orientation.tolist() == [0.0] * count
    assert np.all(gaps(survey, xy) > 0.5)


def test_geotags_give_distances_and_directions():
    # Transverse Mercator of PROJ as the independent local metric plane.
    plane = Transformer.from_crs(
        "EPSG:4326", "+proj=tmerc +lat_0=46.05 +lon_0=14.5 +ellps=WGS84", always_xy=True
    )
    geotags = [(14.5, 46.05), (14.5003, 46.0502), (14.4996, 46.0499)]
    survey = Survey(
        tuple(
            room(f"S{k}", longitude_deg=lon, latitude_deg=lat, magnetic_azimuth_deg=90.0 * k)
            for k, (lon, lat) in enumerate(geotags)
        )
    )
    xy, orientation = lay_out(survey)
    expected = np.array([plane.transform(*geotag) for geotag in geotags])
    np.testing.assert_allclose(xy, expected - expected[0], atol=1e-3)
    np.testing.assert_allclose(orientation, np.radians([0, 90, 180]))


def test_the_date_line_parts_nothing():
    survey = Survey(
        (
            room("A", longitude_deg=179.9999, latitude_deg=-16.0),
            room("B", longitude_deg=-179.9999, latitude_deg=-16.0),
        )
    )
    xy, _ = lay_out(survey)
    assert xy[1] == pytest.approx([21.4, 0.0], abs=0.1)


def test_stations_without_a_useful_geotag_lie_below_the_others():
    survey = Survey(
        (
            room("A", longitude_deg=14.5, latitude_deg=46.05),
            room("B"),
            room("C", longitude_deg=14.5001, latitude_deg=46.05),
            room("D", longitude_deg=0.0, latitude_deg=0.0),
            room("E", longitude_deg=14.5, latitude_deg=46.0501),
        )
    )
    xy, _ = lay_out(survey)
    reach = 3.0 * np.sqrt(2)
    assert np.all(xy[[1, 3], 1] + reach < xy[[0, 2, 4], 1].min() - reach + 1e-9)
    assert np.hypot(*(xy[1] - xy[3])) > 2 * 3.0


def test_no_stations_and_no_returns():
    xy, orientation = lay_out(Survey(()))
    assert xy.shape == (0, 2)
    assert orientation.shape == (0,)
    bare = room("A")
    bare = replace(bare, distance_m=np.full(len(bare), np.nan))
    assert np.isfinite(lay_out(Survey((bare, replace(bare, station="B"))))[0]).all()


def test_real_captures_do_not_overlap(shared_data):
    survey = import_captures(shared_data("flat-six-stations"))
    xy, _ = lay_out(survey)
    reach = np.array([np.max(capture.distance_m[capture.usable]) for capture in survey.captures])
    apart = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1)) + np.diag(np.full(6, np.inf))
    assert np.all(apart > reach[:, None] + reach[None])
    again, _ = lay_out(survey)
    np.testing.assert_array_equal(xy, again)
