# SPDX-License-Identifier: GPL-2.0-or-later
"""What a fit is worth away from the plan's origin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from ..angles import Floats, turn
from ..stations.statistics import ELLIPSE_FACTOR
from .model import SiteFit

SPACING_M = 0.5
MOST_POINTS = 400
CORNERS = 48


def covariance_at(fit: SiteFit, xy_m: Floats) -> Floats:
    """Covariance ``(..., 2, 2)`` of east and north (m) of points ``(..., 2)`` of the plan frame.

    What the fit alone is worth there, to the second order of the rotation (`second_order`); the
    point's own error within the plan comes on top.
    """
    offset = fit.to_target(xy_m) * fit.unit_m - (fit.east_m, fit.north_m)
    straight = fit.covariance.copy()
    straight[:2, :2] -= second_order(fit.covariance, np.zeros(2))
    jacobian = by_pose(offset)
    linear = np.einsum("...ij,jk,...lk->...il", jacobian, straight, jacobian)
    return np.asarray(linear + second_order(fit.covariance, offset))


def by_pose(offset_m: Floats) -> Floats:
    """Derivatives ``(..., 2, 3)`` of east and north of points by those of the plan's origin (m) and
    by its rotation (rad, clockwise), at offsets ``(..., 2)`` east, north (m) from the origin."""
    offset = np.asarray(offset_m, dtype=float)
    zero, one = np.zeros(offset.shape[:-1]), np.ones(offset.shape[:-1])
    east = np.stack([one, zero, offset[..., 1]], axis=-1)
    north = np.stack([zero, one, -offset[..., 0]], axis=-1)
    return np.stack([east, north], axis=-2)


def second_order(covariance: Floats, offset_m: Floats) -> Floats:
    """What the curve of the rotation adds to the covariance of points ``(..., 2, 2)`` at offsets
    ``(..., 2)`` east, north (m) from the plan's origin, for a covariance ``(3, 3)`` of the fit.

    A point at an arm a from the one that is known best moves by a t^2 / 2 towards that one when the
    plan is turned by t: a mean square of 3/4 a a' s^4 for a normal t of standard error s (the
    fourth moment of the normal distribution). It matters where one control point of millimetres
    holds a plan that compasses turn by degrees: there the straight ellipse is far too thin.
    """
    variance = float(covariance[2, 2])
    best = np.array([covariance[1, 2], -covariance[0, 2]]) / variance
    arm = np.asarray(offset_m, dtype=float) - best
    return np.asarray(0.75 * variance**2 * arm[..., :, None] * arm[..., None, :])


def with_second_order(covariance: Floats) -> Floats:
    """A fit's covariance ``(3, 3)`` from straight equations, with `second_order` at the origin."""
    result = covariance.copy()
    result[:2, :2] += second_order(covariance, np.zeros(2))
    return result


def far_corner_sigma(fit: SiteFit, xy_m: Floats) -> Floats:
    """Standard errors ``(..., 2)`` of east and north (m) of points ``(..., 2)`` of the plan frame,
    from `covariance_at`."""
    return np.sqrt(np.diagonal(covariance_at(fit, xy_m), axis1=-2, axis2=-1))


@dataclass(frozen=True, eq=False)
class ErrorBand:
    """The ground around a plan's outline, in the plan frame, in which the true outline lies with 95
    % at each point: as wide as the 95 % error ellipse of the fit at the nearest point of the
    outline. `least_m` and `greatest_m` are the smallest and largest semi-major axes along it."""

    network: int
    shape: MultiPolygon
    least_m: float
    greatest_m: float


def error_band(fit: SiteFit, outline: Polygon | MultiPolygon) -> ErrorBand:
    """The error band about an outline of the plan frame (m).

    The outline grown by an error ellipse that changes from point to point: the union of the convex
    hulls of neighbouring ellipses, less the outline itself (an epsilon band: Perkal 1956, from
    memory, with a width that follows the covariance).
    """
    parts = outline.geoms if isinstance(outline, MultiPolygon) else [outline]
    spacing = max(SPACING_M, outline.length / MOST_POINTS)
    grown, axes = [outline], []
    for part in parts:
        ring = shapely.segmentize(part.exterior, spacing)
        points = shapely.get_coordinates(ring)
        outlines, longest = _ellipses(fit, points)
        pairs = np.concatenate([outlines[:-1], outlines[1:]], axis=1)
        hulls = shapely.convex_hull(shapely.multipoints(pairs))
        grown.append(shapely.union_all(hulls))
        axes.append(longest)
    band = shapely.union_all(grown).difference(outline)
    pieces = [
        g for g in getattr(band, "geoms", [band]) if isinstance(g, Polygon) and not g.is_empty
    ]
    longest = np.concatenate(axes)
    return ErrorBand(fit.network, MultiPolygon(pieces), float(longest.min()), float(longest.max()))


def _ellipses(fit: SiteFit, points: Floats) -> tuple[Floats, Floats]:
    """The 95 % ellipses about plan points ``(n, 2)`` as outlines ``(n, CORNERS, 2)`` in the plan
    frame, and their semi-major axes ``(n,)`` on the ground."""
    values, vectors = np.linalg.eigh(covariance_at(fit, points))
    axes = ELLIPSE_FACTOR * np.sqrt(np.maximum(values, 0.0)) / fit.scale
    t = np.linspace(0.0, 2 * np.pi, CORNERS, endpoint=False)
    circle = np.stack([np.cos(t), np.sin(t)], axis=-1)
    # Corners outside the ellipse: the polygon through points on it would be too small.
    host = np.einsum("nij,nj,cj->nci", vectors, axes, circle) / np.cos(np.pi / CORNERS)
    return points[:, None] + turn(host, -fit.rotation_rad), axes[:, 1]
