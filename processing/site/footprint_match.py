# SPDX-License-Identifier: GPL-2.0-or-later
"""Points along a plan's outer edges against the edges of a map: how well poses fit, and the pose
at the nearest minimum. Poses are arrays ``(n, 4)`` of east, north (m), rotation (rad) and thickness
of the outer walls (m); all poses are worked on at once.

Rigid fit of points to lines: Chen and Medioni, "Object modelling by registration of multiple range
images" (1992), in the plane; weights after Cauchy (Holland and Welsch 1977, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from ..angles import Floats, azimuth_of, unit, wrap_half
from ..errors import SurveyError
from ..stations.connect_frames import turned

WALL_M, WALL_SIGMA_M = 0.35, 0.15
"""An outer wall's thickness before the map is looked at (common practice: 0.2 to 0.5 m)."""

SPACING_M = 0.5
FACING = np.cos(np.radians(25.0))
FARTHEST_SIGMAS = 4.0
"""A point further than this from its map edge counts as without a counterpart."""

KNEE, FARTHEST = 2.0, 16.0
"""Cauchy's cost grows like a square up to about `KNEE` standard errors; beyond `FARTHEST` a point
has no counterpart and moves nothing."""

STEPS, HALVINGS = 25, 12
_STIFF = np.array([1e-6, 1e-6, 1e-6, 0.0])
AT_ONCE = 1_000_000
"""Pairs of a point and an edge that are looked at in one go."""


@dataclass(frozen=True, eq=False)
class Edges:
    """Straight edges: ends ``(n, 2, 2)`` and unit normals ``(n, 2)`` to the outside."""

    ends: Floats
    normal: Floats

    @classmethod
    def of(cls, shape: Polygon | MultiPolygon) -> Edges:
        ends = []
        parts = shape.geoms if isinstance(shape, MultiPolygon) else [shape]
        for part in parts:
            # Counterclockwise: the outside lies to the right of every edge.
            ring = np.array(Polygon(part.exterior).normalize().exterior.coords)[:, :2]
            if Polygon(ring).exterior.is_ccw is False:
                ring = ring[::-1]
            ends.append(np.stack([ring[:-1], ring[1:]], axis=1))
        joined = np.concatenate(ends)
        joined = joined[np.hypot(*(joined[:, 1] - joined[:, 0]).T) > 1e-6]
        way = joined[:, 1] - joined[:, 0]
        return cls(joined, unit(azimuth_of(way) + np.pi / 2))

    @property
    def length(self) -> Floats:
        return np.hypot(*(self.ends[:, 1] - self.ends[:, 0]).T)


@dataclass(frozen=True, eq=False)
class Samples:
    """Points along edges, with their outward normals, the edge of each and the share ``(m,)`` of
    its edge that each stands for."""

    xy: Floats
    normal: Floats
    edge: NDArray[np.int64]
    share: Floats
    length: Floats

    @property
    def middle(self) -> Floats:
        """The middle ``(2,)`` of the points."""
        return np.asarray(self.xy.mean(axis=0))

    @classmethod
    def of(cls, edges: Edges, scale: float) -> Samples:
        xy, normal, edge, share, length = [], [], [], [], []
        for k, (a, b) in enumerate(edges.ends):
            long = float(edges.length[k])
            count = max(1, round(long / SPACING_M))
            t = (np.arange(count) + 0.5) / count
            xy.append(scale * (a + t[:, None] * (b - a)))
            normal.append(np.repeat(edges.normal[k][None], count, axis=0))
            edge.append(np.full(count, k))
            share.append(np.full(count, 1.0 / count))
            length.append(np.full(count, scale * long / count))
        return cls(
            np.concatenate(xy),
            np.concatenate(normal),
            np.concatenate(edge),
            np.concatenate(share),
            np.concatenate(length),
        )


class Match:
    """Points of the plan against the map's edges, of a standard error in metres."""

    def __init__(self, points: Samples, goal: Edges, sigma_m: float) -> None:
        self._points, self.goal, self.sigma_m = points, goal, sigma_m
        # An edge of 4 m and more is one observation; a short one counts less.
        length = np.bincount(points.edge, points.length)
        self._weight = points.share * np.minimum(length[points.edge] / 4.0, 1.0)

    def with_sigma(self, sigma_m: float) -> Match:
        """The same with another error of the map."""
        return Match(self._points, self.goal, sigma_m)

    def distances(self, poses: Floats) -> tuple[Floats, Floats]:
        """Signed distances ``(n, m)`` of the moved points to the nearest map edge that faces the
        same way (positive: outside), infinite without one, and that edge's normal ``(n, m, 2)``."""
        points, goal = self._points, self.goal
        turn = poses[:, 2, None]
        normal = turned(points.normal, turn)
        xy = turned(points.xy, turn) + poses[:, None, 3, None] * normal + poses[:, None, :2]
        start, length = goal.ends[:, 0], goal.length
        along = (goal.ends[:, 1] - start) / length[:, None]
        # Near the map's own middle: coordinates of 1e7 m would cost half of the digits.
        middle = start.mean(axis=0)
        xy, start = xy - middle, start - middle
        t = xy @ along.T - np.einsum("kj,kj->k", start, along)
        across = xy @ goal.normal.T - np.einsum("kj,kj->k", start, goal.normal)
        beyond = np.maximum(t - length, 0.0) + np.minimum(t, 0.0)
        gap = np.where(normal @ goal.normal.T > FACING, across**2 + beyond**2, np.inf)
        nearest = np.argmin(gap, axis=2)[..., None]
        found = np.isfinite(np.take_along_axis(gap, nearest, axis=2))
        own = np.where(found, np.take_along_axis(across, nearest, axis=2), np.inf)
        return own[..., 0], goal.normal[nearest[..., 0]]

    def cost(self, poses: Floats) -> Floats:
        """Half the sums ``(n,)`` of robust squares: each edge counts as one observation of the map,
        in the measure of its length."""
        size = max(1, AT_ONCE // (len(self._points.xy) * len(self.goal.ends)))
        parts = [poses[k : k + size] for k in range(0, len(poses), size)]
        return np.concatenate([self._cost(part, self.distances(part)[0]) for part in parts])

    def _cost(self, poses: Floats, across: Floats) -> Floats:
        gap = np.minimum(np.abs(across) / self.sigma_m, FARTHEST)
        robust = KNEE**2 * np.log1p((gap / KNEE) ** 2) @ self._weight
        return np.asarray(0.5 * (robust + ((poses[:, 3] - WALL_M) / WALL_SIGMA_M) ** 2))

    def share(self, pose: Floats) -> float:
        """The share of the plan's outer edges that find a counterpart at a pose ``(4,)``."""
        across = self.distances(pose[None])[0][0]
        matched = np.abs(across) < FARTHEST_SIGMAS * self.sigma_m
        return float(self._points.length[matched].sum() / self._points.length.sum())

    def refined(self, starts: Floats) -> Floats:
        """The poses ``(n, 4)`` at the nearest minima of the cost: least squares, weighted anew each
        step, each pose by itself until it rests."""
        poses = starts.copy()
        across, normal = self.distances(poses)
        cost = self._cost(poses, across)
        going = np.arange(len(poses))
        for _ in range(STEPS):
            step = self._step(poses[going], across[going], normal[going])
            before, begun = cost[going], poses[going]
            better = np.zeros(len(going), dtype=bool)
            # Too long a step is halved, until the cost is no larger.
            for _ in range(HALVINGS):
                open_ = np.flatnonzero(~better)
                if not len(open_):
                    break
                at = going[open_]
                tried = begun[open_] + step[open_]
                there, facing = self.distances(tried)
                lower = self._cost(tried, there)
                good = lower <= before[open_]
                kept = at[good]
                poses[kept], cost[kept] = tried[good], lower[good]
                across[kept], normal[kept] = there[good], facing[good]
                better[open_[good]] = True
                step[open_[~good]] /= 2
            moving = (np.hypot(step[:, 0], step[:, 1]) >= 1e-4) | (np.abs(step[:, 2]) >= 1e-5)
            going = going[better & moving]
            if not len(going):
                break
        poses[:, 2] = wrap_half(poses[:, 2])
        return poses

    def _step(self, poses: Floats, across: Floats, normal: Floats) -> Floats:
        """Steps ``(n, 4)`` of Gauss and Newton with Cauchy's weights."""
        there = np.isfinite(across)
        gap = np.where(there, across, 0.0) / self.sigma_m
        weight = np.where(there, self._weight / (1.0 + (gap / KNEE) ** 2), 0.0)
        design = self._design(poses, normal) / self.sigma_m
        weighted = (weight[..., None] * design).transpose(0, 2, 1)
        information = weighted @ design + np.diag(_STIFF)
        information[:, 3, 3] += WALL_SIGMA_M**-2.0
        pull = -(weighted @ gap[..., None])[..., 0]
        pull[:, 3] -= (poses[:, 3] - WALL_M) / WALL_SIGMA_M**2
        return np.asarray(np.linalg.solve(information, pull[..., None])[..., 0])

    def _design(self, poses: Floats, normal: Floats) -> Floats:
        """Derivatives ``(n, m, 4)`` of the distances by the pose: a clockwise turn moves (x, y)
        along (y, -x)."""
        turn = poses[:, 2, None]
        out = turned(self._points.xy + poses[:, 3, None, None] * self._points.normal, turn)
        arm = out[..., 1] * normal[..., 0] - out[..., 0] * normal[..., 1]
        push = np.einsum("nmj,nmj->nm", turned(self._points.normal, turn), normal)
        return np.stack([normal[..., 0], normal[..., 1], arm, push], axis=-1)

    def worth(self, pose: Floats) -> tuple[Floats, float]:
        """The covariance ``(3, 3)`` of east, north and rotation at a pose ``(4,)`` by what matched,
        and the root mean square (m) of that."""
        both, normals = self.distances(pose[None])
        across, normal = both[0], normals[0]
        matched = np.abs(across) < FARTHEST_SIGMAS * self.sigma_m
        design = self._design(pose[None], normal[None])[0][matched]
        weight = self._weight[matched] / self.sigma_m**2
        information = design.T @ (weight[:, None] * design)
        information[3, 3] += WALL_SIGMA_M**-2.0
        gap = across[matched]
        rms = float(np.sqrt(np.average(gap**2, weights=self._points.length[matched])))
        # Worse than the map's stated error: the covariance says so.
        factor = max(1.0, rms / self.sigma_m) ** 2
        try:
            return factor * np.linalg.inv(information)[:3, :3], rms
        except np.linalg.LinAlgError:
            raise SurveyError(
                "The footprint's edges do not fix the plan: expected edges in two directions."
            ) from None
