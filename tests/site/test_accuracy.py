# SPDX-License-Identifier: GPL-2.0-or-later
"""What a fit is worth away from the origin, against drawing it many times."""

import math

import numpy as np
import pytest
import shapely
from roomtie.processing.site.accuracy import (
    covariance_at,
    error_band,
    far_corner_sigma,
    with_second_order,
)
from roomtie.processing.site.model import North, SiteFit
from shapely.geometry import MultiPolygon, Polygon, box

OUTLINE = Polygon([(-3, -2), (25, -2), (25, 8), (12, 8), (12, 15), (-3, 15)])


def fit_with(sigma_east, sigma_north, sigma_deg, rotation_deg=37.0, correlation=0.3, unit_m=1.0):
    sigma = np.array([sigma_east, sigma_north, math.radians(sigma_deg)])
    matrix = np.eye(3)
    matrix[0, 2] = matrix[2, 0] = correlation
    return SiteFit(
        network=1, target_crs="EPSG:32632", unit_m=unit_m, east_m=5e5, north_m=5.3e6,
        rotation_rad=math.radians(rotation_deg), scale=0.9996,
        covariance=matrix * np.outer(sigma, sigma),
        north=North(0.0, 0.0, "", None, 0.0), evidence=(), decides_position="", decides_rotation="",
    )  # fmt: skip


def drawn(fit, xy, count, rng):
    """Host positions in metres ``(count, 2)`` of a plan point by fits that scatter as stated."""
    east, north, turned = rng.multivariate_normal(np.zeros(3), fit.covariance, count).T
    r = fit.rotation_rad + turned
    x, y = np.asarray(xy, dtype=float) * fit.scale
    return np.stack(
        [
            fit.east_m + east + x * np.cos(r) + y * np.sin(r),
            fit.north_m + north - x * np.sin(r) + y * np.cos(r),
        ],
        axis=-1,
    )


def test_a_plan_that_turns_about_one_control_point_sweeps_an_arc():
    """The origin 30 m from a control point of 10 mm, the rotation known to 3 degrees: along the arm
    the scatter is the arc's sag, 30 (1 - cos t), about its mean square: 30 s^2 sqrt(3) / 2."""
    s = math.radians(3.0)
    straight = np.array([[0.0, 0.0, -30 * s], [0.0, 0.01, 0.0], [0.0, 0.0, s]])
    covariance = straight @ straight.T + np.diag([1e-4, 0.0, 0.0])
    turned = s * np.random.default_rng(3).standard_normal(20_000)
    along = 0.01 * np.random.default_rng(4).standard_normal(20_000) + 30 * (1 - np.cos(turned))
    stated = with_second_order(covariance)
    assert math.sqrt(np.mean(along**2)) == pytest.approx(math.sqrt(stated[1, 1]), rel=0.03)
    assert stated[0, 0] == pytest.approx(covariance[0, 0], rel=1e-9)
    assert stated[1, 1] > 10 * covariance[1, 1]


@pytest.mark.parametrize("unit_m", [1.0, 1200 / 3937])
def test_covariance_is_the_scatter_of_fits_drawn_with_it(unit_m):
    """20,000 draws: a variance is good to 1 %."""
    fit = fit_with(0.4, 0.2, 0.5, unit_m=unit_m)
    at = drawn(fit, (40.0, -25.0), 20_000, np.random.default_rng(1))
    covariance = covariance_at(fit, np.array([40.0, -25.0]))
    assert np.cov(at.T) == pytest.approx(covariance, rel=0.05, abs=0.002)
    assert far_corner_sigma(fit, np.array([40.0, -25.0])) == pytest.approx(
        np.sqrt(np.diagonal(covariance))
    )


def test_the_band_holds_95_percent_of_where_each_corner_may_be():
    """A corner seen at its true place lies within its ellipse 95 times of 100, and the ellipse lies
    within outline and band: so do at least 95 % of the corners drawn (4000: good to 0.35 %)."""
    fit = fit_with(0.8, 0.3, 1.0)
    band = error_band(fit, OUTLINE)
    whole = shapely.union_all([band.shape, OUTLINE])
    rng = np.random.default_rng(2)
    shapely.prepare(whole)
    for corner in np.asarray(OUTLINE.exterior.coords)[:-1]:
        at = fit.to_plan(drawn(fit, corner, 4000, rng) / fit.unit_m)
        assert shapely.contains_xy(whole, at).mean() > 0.939
    # A straight edge is left outwards by half of what leaves an ellipse along it: no wider than
    # the ellipses demand.
    assert whole.area < OUTLINE.buffer(band.greatest_m).area


def test_an_error_that_is_the_same_everywhere_gives_a_band_of_one_width():
    """Without an error of the rotation the ellipses are circles of 2.448 sigma: the band is the
    buffer that shapely makes, on the ground."""
    fit = fit_with(0.5, 0.5, 1e-9, correlation=0.0)
    band = error_band(fit, OUTLINE)
    width = 2.448 * 0.5 / fit.scale
    assert (band.least_m, band.greatest_m) == pytest.approx((width, width), rel=1e-6)
    buffer = OUTLINE.buffer(width, quad_segs=64).difference(OUTLINE)
    # Polygons of 48 corners about the circles: within 0.3 % of the width outside.
    assert band.shape.symmetric_difference(buffer).area < 0.01 * buffer.area
    assert buffer.difference(band.shape).area < 1e-3 * buffer.area


def test_the_band_is_widest_at_the_far_corner():
    fit = fit_with(0.1, 0.1, 2.0, correlation=0.0)
    band = error_band(fit, OUTLINE)
    farthest = np.array([25.0, 8.0])
    values = np.linalg.eigvalsh(covariance_at(fit, farthest))
    assert band.greatest_m == pytest.approx(2.448 * math.sqrt(values[-1]) / fit.scale, rel=1e-6)
    assert band.least_m == pytest.approx(0.2448 * math.hypot(1, 20 * math.radians(2)), rel=0.2)


def test_parts_and_courtyards_have_bands_too():
    yard = Polygon(box(0, 0, 20, 20).exterior, [box(5, 5, 15, 15).exterior.coords])
    parts = MultiPolygon([yard, box(40, 0, 50, 10)])
    band = error_band(fit_with(0.2, 0.2, 0.1), parts)
    assert band.shape.is_valid
    assert not band.shape.intersects(box(1, 1, 4, 19))
    assert all(band.shape.distance(part.exterior) == 0 for part in parts.geoms)
