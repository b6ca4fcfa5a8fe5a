# SPDX-License-Identifier: GPL-2.0-or-later
"""The host understands the site grid and puts its points where the fit does."""

import numpy as np
import pytest
from qgis.core import (
    Qgis,
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsGeometry,
    QgsPointXY,
    QgsVectorFileWriter,
    QgsVectorLayer,
)
from roomtie.processing.site.site_grid import plan_crs_wkt, site_grid_wkt
from roomtie.tests.site.test_site_grid import BOUND, POINTS, fit_at

PLACES = [
    ("EPSG:32632", (9.6, 48.2)),
    ("EPSG:2193", (174.8, -41.3)),
    ("EPSG:2263", (-73.9, 40.7)),
    ("EPSG:2048", (18.6, -34.0)),
    ("EPSG:5514", (14.4, 50.1)),
    (BOUND, (9.2, 48.0)),
]


def host_crs(text: str) -> QgsCoordinateReferenceSystem:
    crs = QgsCoordinateReferenceSystem()
    assert crs.createFromUserInput(text) if text.startswith("EPSG:") else crs.createFromWkt(text)
    return crs


def transformed(source, target, points):
    change = QgsCoordinateTransform(source, target, QgsCoordinateTransformContext())
    moved = [change.transform(QgsPointXY(*point)) for point in points]
    return np.array([[point.x(), point.y()] for point in moved])


@pytest.mark.parametrize(("crs", "lonlat"), PLACES)
def test_the_host_puts_points_where_the_fit_does(qgis_app, crs, lonlat):
    fit = fit_at(crs, lonlat)
    grid = host_crs(site_grid_wkt(fit, "Site grid"))
    assert grid.isValid()
    assert not grid.isGeographic()
    assert grid.description() == "Site grid"
    host = transformed(grid, host_crs(fit.target_crs), POINTS)
    assert host * fit.unit_m == pytest.approx(fit.to_target(POINTS) * fit.unit_m, abs=1e-6)


@pytest.mark.parametrize(("crs", "lonlat"), PLACES)
def test_site_grid_and_target_lie_together_over_a_base_map(qgis_app, crs, lonlat):
    """From WGS 84 the host takes the same change of datum for both."""
    fit = fit_at(crs, lonlat)
    world, target = host_crs("EPSG:4326"), host_crs(fit.target_crs)
    grid = host_crs(site_grid_wkt(fit, "Site grid"))
    direct = transformed(world, target, [lonlat])
    over_grid = fit.to_target(transformed(world, grid, [lonlat]))
    assert over_grid * fit.unit_m == pytest.approx(direct * fit.unit_m, abs=1e-5)


def test_it_survives_a_geopackage(qgis_app, tmp_path):
    fit = fit_at("EPSG:2193", (174.8, -41.3))
    grid = host_crs(site_grid_wkt(fit, "Site grid"))
    memory = QgsVectorLayer("Point", "points", "memory")
    memory.setCrs(grid)
    feature = QgsFeature()
    feature.setGeometry(QgsGeometry.fromPointXY(QgsPointXY(12.5, -7.25)))
    assert memory.dataProvider().addFeatures([feature])[0]
    options = QgsVectorFileWriter.SaveVectorOptions()
    options.driverName = "GPKG"
    path = str(tmp_path / "plan.gpkg")
    written = QgsVectorFileWriter.writeAsVectorFormatV3(
        memory, path, QgsCoordinateTransformContext(), options
    )
    assert written[0] == QgsVectorFileWriter.WriterError.NoError
    layer = QgsVectorLayer(path, "plan", "ogr")
    assert layer.isValid()
    host = transformed(layer.crs(), host_crs("EPSG:2193"), POINTS)
    assert host == pytest.approx(fit.to_target(POINTS), abs=1e-6)


@pytest.mark.parametrize(
    ("driver", "target"),
    [("GeoJSON", "EPSG:4326"), ("ESRI Shapefile", "EPSG:2193"), ("ESRI Shapefile", "EPSG:32760")],
)
def test_formats_that_cannot_keep_it_get_the_moved_coordinates(qgis_app, tmp_path, driver, target):
    """The host's save-as with a target CRS named, as its dialog does it: what is written lies where
    the moved coordinates of the fit lie, transformed from the fit's own CRS."""
    fit = fit_at("EPSG:2193", (174.8, -41.3))
    memory = QgsVectorLayer("Point", "points", "memory")
    memory.setCrs(host_crs(site_grid_wkt(fit, "Site grid")))
    for x, y in POINTS:
        feature = QgsFeature()
        feature.setGeometry(QgsGeometry.fromPointXY(QgsPointXY(x, y)))
        assert memory.dataProvider().addFeatures([feature])[0]
    context = QgsCoordinateTransformContext()
    options = QgsVectorFileWriter.SaveVectorOptions()
    options.driverName = driver
    options.ct = QgsCoordinateTransform(memory.crs(), host_crs(target), context)
    options.layerOptions = ["COORDINATE_PRECISION=12"] if driver == "GeoJSON" else []
    path = str(tmp_path / ("plan.geojson" if driver == "GeoJSON" else "plan.shp"))
    written = QgsVectorFileWriter.writeAsVectorFormatV3(memory, path, context, options)
    assert written[0] == QgsVectorFileWriter.WriterError.NoError
    layer = QgsVectorLayer(path, "plan", "ogr")
    found = [f.geometry().asPoint() for f in layer.getFeatures()]
    moved = transformed(host_crs("EPSG:2193"), host_crs(target), fit.to_target(POINTS))
    # A degree is 111 km: a micrometre is 1e-11 deg.
    close = 1e-11 if target == "EPSG:4326" else 1e-6
    assert np.array([[p.x(), p.y()] for p in found]) == pytest.approx(moved, abs=close, rel=0)


def test_the_plan_crs_is_valid_and_in_metres(qgis_app):
    crs = host_crs(plan_crs_wkt("Plan of Test"))
    assert crs.isValid()
    assert not crs.isGeographic()
    assert crs.mapUnits() == QgsCoordinateReferenceSystem("EPSG:32632").mapUnits()
    assert Qgis.QGIS_VERSION_INT >= 32200
