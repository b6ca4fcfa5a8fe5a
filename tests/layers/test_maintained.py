# SPDX-License-Identifier: GPL-2.0-or-later
"""Sessions on databases that cannot be had."""

import pytest
from roomtie.processing.errors import SurveyError


def test_a_server_that_is_not_there_refuses_no_change_but_cannot_be_reached():
    pytest.importorskip("psycopg2")
    from roomtie.processing.layers.maintained.postgres import PostgresSession

    with pytest.raises(
        SurveyError, match=r"^PostGIS, layer a\.rooms: the database cannot be reached: .*refused"
    ):
        PostgresSession("host=127.0.0.1 port=1", "a", "rooms", "geom")


@pytest.mark.parametrize("raising", [False, True])
def test_a_file_that_is_no_geopackage_is_told_however_gdal_tells_it(tmp_path, raising):
    gdal = pytest.importorskip("osgeo.gdal")
    from roomtie.processing.layers.maintained.geopackage import GeoPackageSession

    path = tmp_path / "rooms.gpkg"
    path.write_text("Dear reader")
    before = gdal.GetUseExceptions()
    (gdal.UseExceptions if raising else gdal.DontUseExceptions)()
    try:
        with pytest.raises(SurveyError, match=r"rooms\.gpkg: it cannot be opened for writing"):
            GeoPackageSession(path, "rooms")
    finally:
        (gdal.UseExceptions if before else gdal.DontUseExceptions)()
