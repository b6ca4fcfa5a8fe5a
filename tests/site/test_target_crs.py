# SPDX-License-Identifier: GPL-2.0-or-later
"""Which zone is proposed, and the counterpart of mirrored axes."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from roomtie.processing.errors import SurveyError
from roomtie.processing.site.target_crs import east_north_counterpart, utm_for


@pytest.mark.parametrize(
    ("longitude", "latitude", "code"),
    [
        (9.0, 48.0, 32632),
        (5.9999, 48.0, 32631),
        (6.0, 48.0, 32632),
        (-180.0, 10.0, 32601),
        (180.0, 10.0, 32601),
        (179.99, -10.0, 32760),
        (5.32, 60.39, 32632),  # Bergen: zone 32 is widened there
        (2.99, 60.0, 32631),
        (5.32, 64.0, 32631),
        (15.6, 78.2, 32633),  # Longyearbyen
        (8.9, 78.0, 32631),
        (9.1, 78.0, 32633),
        (21.1, 78.0, 32635),
        (33.1, 78.0, 32637),
        (0.0, 0.0, 32631),
        (10.0, 85.0, 5041),
        (10.0, -85.0, 5042),
        (369.0, 48.0, 32632),
    ],
)
def test_zones(longitude, latitude, code):
    assert utm_for(longitude, latitude).to_epsg() == code


@settings(max_examples=8, deadline=None)
@given(st.integers(-179_999, 179_999), st.integers(-79_999, 83_999))
def test_the_register_knows_the_zone_for_the_place(longitude_mdeg, latitude_mdeg):
    """EPSG's own areas, through pyproj: the proposal is among the WGS 84 / UTM zones that contain
    the place (Norway's and Svalbard's exceptions aside, which the register leaves out)."""
    longitude, latitude = longitude_mdeg / 1000, latitude_mdeg / 1000
    if latitude >= 56 and 0 <= longitude < 42:
        return
    area = AreaOfInterest(longitude, latitude, longitude, latitude)
    known = query_utm_crs_info("WGS 84", area, contains=True)
    assert utm_for(longitude, latitude).to_epsg() in {int(info.code) for info in known}


@pytest.mark.parametrize("place", [(9.0, 91.0), (math.nan, 48.0), (9.0, math.nan)])
def test_no_place_no_zone(place):
    with pytest.raises(SurveyError, match="not a place"):
        utm_for(*place)


def test_counterpart_of_mirrored_axes():
    assert east_north_counterpart(CRS.from_epsg(5513), 14.4, 50.1).startswith("EPSG:5514 ")


def test_no_counterpart_where_none_is_registered():
    mirrored = CRS.from_wkt(
        CRS.from_epsg(32632).to_wkt("WKT2_2019").split("CONVERSION")[0]
        + 'CONVERSION["odd",METHOD["Transverse Mercator",ID["EPSG",9807]],'
        'PARAMETER["Latitude of natural origin",47.123],'
        'PARAMETER["Longitude of natural origin",9.321],'
        'PARAMETER["Scale factor at natural origin",1],PARAMETER["False easting",0],'
        'PARAMETER["False northing",0]],CS[Cartesian,2],AXIS["westing",west,ORDER[1]],'
        'AXIS["northing",north,ORDER[2]],LENGTHUNIT["metre",1]]'
    )
    assert east_north_counterpart(mirrored, 9.0, 48.0) == ""
