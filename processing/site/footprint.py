# SPDX-License-Identifier: GPL-2.0-or-later
"""The plan's outside fitted to the building's outline on a site map.

What a plan has of the outside are the inner faces of outer walls; the outline on a map lies a
wall's thickness further out. Points along the plan's outer edges, pushed out by one thickness that
is estimated with the pose, are brought onto the map's edges that face the same way: first from many
starts, with a cost that what has no counterpart (a part of the building that was not surveyed)
hardly moves, then by robust least squares. Rigid fit of points to lines: Chen and Medioni, "Object
modelling by registration of multiple range images" (1992), in the plane; weights after Cauchy
(Holland and Welsch 1977, from memory).

A building that looks the same when it is turned fits in several ways. Every way that fits as well
is kept as a rival, and what is known of the pose beforehand decides between them, or nothing does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import MultiPolygon, Point, Polygon
from shapely.ops import unary_union

from ..angles import Floats, azimuth_of, turn, unit, wrap_half
from ..errors import SurveyError
from ..progress import SILENT, Progress
from ..stations.connect_frames import turned
from ..walls.model import Rooms

WALL_M, WALL_SIGMA_M = 0.35, 0.15
"""An outer wall's thickness before the map is looked at (common practice: 0.2 to 0.5 m)."""

MAP_SIGMA_M = 0.10
"""Standard error of an edge of a building outline on a site map, unless told otherwise."""

SPACING_M = 0.5
WIDEST_INNER_WALL_M = 0.6
"""Rooms nearer to each other than this have an inner wall between them, not an outside."""

FACING = np.cos(np.radians(25.0))
FARTHEST_SIGMAS = 4.0
"""A point further than this from its map edge counts as without a counterpart."""

KNEE, FARTHEST = 2.0, 16.0
"""Cauchy's cost grows like a square up to about `KNEE` standard errors; beyond `FARTHEST` a point
has no counterpart and moves nothing."""

ODDS = 3.0
"""A pose is chosen over another when it is e^3, 20 to 1, more probable."""

WIDE_M = (1.0, 0.3)
"""Errors that the map is given at first, so that a start some way off is still drawn in."""

STEP_M, STEP_RAD = 2.0, np.radians(6.0)
MOST_REFINED = 24
MOST_BUILDINGS = 4
STEPS = 25
_STIFF = np.array([1e-6, 1e-6, 1e-6, 0.0])
SAME_M, SAME_RAD = 1.0, np.radians(5.0)
LEAST_MATCHED = 0.5


@dataclass(frozen=True)
class Prior:
    """What is known of the pose beforehand: east, north (m) of the plan's origin and rotation
    (rad), with standard errors; an infinite one for a rotation that nobody knows."""

    east_m: float
    north_m: float
    rotation_rad: float
    sigma_m: float
    sigma_rad: float


@dataclass(frozen=True, eq=False)
class FootprintFit:
    """The pose of the plan (as in `SiteFit`) that the outline gives by itself, its covariance
    ``(3, 3)``, the thickness of the outer walls, the root mean square (m) of what matched, the
    share of the plan's outer edges that did, and the `rivals`: rotations (rad) of poses that fit
    as well by the outline alone, which the prior ruled out."""

    east_m: float
    north_m: float
    rotation_rad: float
    covariance: Floats
    thickness_m: float
    rms_m: float
    matched: float
    rivals: tuple[float, ...]


class FootprintAmbiguous(SurveyError):
    """The outline fits in several ways and nothing decides between them."""


def outline_of(rooms: Sequence[Polygon]) -> Polygon | MultiPolygon:
    """The outside of a storey's rooms: their union with the inner walls between them, as far as its
    outer edges are faces of rooms."""
    half = WIDEST_INNER_WALL_M / 2
    grown = unary_union([room.buffer(half, join_style="mitre") for room in rooms])
    shrunk = grown.buffer(-half, join_style="mitre").simplify(0.01)
    if shrunk.is_empty or not isinstance(shrunk, (Polygon, MultiPolygon)):
        raise SurveyError("The plan has no rooms whose outside could be fitted to a footprint.")
    return shrunk


def outlines_of(rooms: Rooms) -> dict[int, Polygon | MultiPolygon]:
    """The outside of each connected group with rooms, all storeys seen from above."""
    numbers = {int(number) for number in rooms.network}
    return {
        number: outline_of([p for p, n in zip(rooms.polygon, rooms.network) if n == number])
        for number in sorted(numbers)
    }


def fit_footprint(
    outline: Polygon | MultiPolygon,
    buildings: Sequence[Polygon | MultiPolygon],
    prior: Prior,
    *,
    scale: float = 1.0,
    sigma_map_m: float = MAP_SIGMA_M,
    progress: Progress = SILENT,
) -> FootprintFit:
    """Fit a plan's outline (plan frame, m) to the outline of one of the buildings of a map (target
    CRS, m).

    Building and pose are looked for within three standard errors of the prior. Raises
    `FootprintAmbiguous` where poses that differ fit alike and the prior does not decide,
    SurveyError where no building is near or less than half of the plan's outer edges find a
    counterpart.
    """
    plan = _Edges.of(outline)
    points = _Samples.of(plan, scale)
    near = _near(buildings, points, prior)
    found: list[tuple[float, Floats, _Match]] = []
    for step, building in progress.each(near):
        match = _Match(points, _Edges.of(building), sigma_map_m)
        for pose in _poses(plan, points, match, prior, step):
            cost = match.cost(pose) + float(_prior_cost(pose[None], prior, points.middle)[0])
            if not any(_same(pose, other) for _, other, _ in found):
                found.append((cost, pose, match))
    shares = [own.share(other) for _, other, own in found]
    if max(shares) < LEAST_MATCHED:
        raise SurveyError(
            f"The footprint fits only {100 * max(shares):.0f} % of the plan's outside within "
            f"{100 * FARTHEST_SIGMAS * sigma_map_m:.0f} cm; expected at least "
            f"{100 * LEAST_MATCHED:.0f} %, the outline of this building on this storey."
        )
    found = [entry for entry, share in zip(found, shares) if share >= LEAST_MATCHED]
    found.sort(key=lambda entry: entry[0])
    first, pose, match = found[0]
    rivals = [other for cost, other, _ in found[1:] if cost - first < ODDS]
    if rivals:
        degrees = [float(np.degrees(wrap_half(other[2] - pose[2]))) for other in rivals[:3]]
        shifted = [float(np.hypot(*(other - pose)[:2])) for other in rivals[:3]]
        ways = ", ".join(f"{t:+.0f} deg and {m:.1f} m" for t, m in zip(degrees, shifted))
        raise FootprintAmbiguous(
            f"The plan fits the footprint in {len(rivals) + 1} ways (the others are off the first "
            f"by {ways}) and nothing decides between them; expected a compass bearing, control "
            "points or better geotags."
        )
    alone = match.cost(pose)
    ruled_out = [other[2] for _, other, own in found[1:] if own.cost(other) - alone < ODDS]
    return match.result(pose, tuple(float(wrap_half(other)) for other in ruled_out))


def _near(
    buildings: Sequence[Polygon | MultiPolygon], points: _Samples, prior: Prior
) -> list[Polygon | MultiPolygon]:
    """The buildings that the plan may be, the nearest first; a plan is no smaller part of its
    building than a tenth."""
    middle = turn(points.middle, prior.rotation_rad) + (prior.east_m, prior.north_m)
    own = float(np.prod(np.ptp(points.xy, axis=0)))
    size = float(np.hypot(*np.ptp(points.xy, axis=0)))
    at = Point(middle)
    reach = 3.0 * prior.sigma_m + size
    distance = np.array([building.distance(at) for building in buildings])
    fits = [
        k
        for k in np.argsort(distance, kind="stable")
        if distance[k] < reach and buildings[k].area > 0.1 * own
    ]
    if not fits:
        nearest = f"the nearest lies {distance.min():.0f} m away" if len(distance) else "none"
        raise SurveyError(
            f"Footprint: no building outline lies within {reach:.0f} m of where the plan is "
            f"({nearest}); expected the outline of this building in the target CRS."
        )
    return [buildings[k] for k in fits[:MOST_BUILDINGS]]


def _poses(
    plan: _Edges, points: _Samples, match: _Match, prior: Prior, progress: Progress
) -> list[Floats]:
    """The poses at which one building's outline is met, from all starts."""
    wide = [match.with_sigma(max(sigma, match.sigma_m)) for sigma in WIDE_M]
    starts = _starts(plan, match.goal, points, prior)
    cost = np.array([wide[0].cost(start) for start in progress.part(0.0, 0.5).over(starts)])
    cost = cost + _prior_cost(starts, prior, points.middle)
    poses: list[Floats] = []
    for k in progress.part(0.5, 1.0).over(_apart(starts, cost)):
        pose = starts[k]
        for step in (*wide, match):
            pose = step.refined(pose)
        if not any(_same(pose, other) for other in poses):
            poses.append(pose)
    return poses


def _apart(starts: Floats, cost: Floats) -> list[int]:
    """The best starts, each some way from those before it."""
    chosen: list[int] = []
    for k in np.argsort(cost, kind="stable"):
        apart = np.hypot(*(starts[chosen, :2] - starts[k, :2]).T) > 0.75 * STEP_M
        aside = np.abs(wrap_half(starts[chosen, 2] - starts[k, 2])) > STEP_RAD / 2
        if (apart | aside).all():
            chosen.append(int(k))
        if len(chosen) == MOST_REFINED:
            break
    return chosen


def _same(a: Floats, b: Floats) -> bool:
    apart = np.hypot(*(a[:2] - b[:2]))
    return bool(apart < SAME_M and abs(wrap_half(a[2] - b[2])) < SAME_RAD)


def _prior_cost(poses: Floats, prior: Prior, middle: Floats) -> Floats:
    """Minus the logarithm of the prior density of poses ``(n, 4)``, up to a constant: of where they
    put the plan's middle ``(2,)``, and of their rotation."""
    there = turned(middle, poses[:, 2]) + poses[:, :2]
    apart = there - turn(middle, prior.rotation_rad) - (prior.east_m, prior.north_m)
    off = wrap_half(poses[:, 2] - prior.rotation_rad) / prior.sigma_rad
    return np.asarray(0.5 * ((apart**2).sum(axis=1) / prior.sigma_m**2 + off**2))


@dataclass(frozen=True, eq=False)
class _Edges:
    """Straight edges: ends ``(n, 2, 2)`` and unit normals ``(n, 2)`` to the outside."""

    ends: Floats
    normal: Floats

    @classmethod
    def of(cls, shape: Polygon | MultiPolygon) -> _Edges:
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
class _Samples:
    """Points along edges, with their outward normals, the edge of each and the share ``(m,)`` of
    its edge that each stands for."""

    xy: Floats
    normal: Floats
    edge: np.ndarray
    share: Floats
    length: Floats

    @property
    def middle(self) -> Floats:
        """The middle ``(2,)`` of the points."""
        return np.asarray(self.xy.mean(axis=0))

    @classmethod
    def of(cls, edges: _Edges, scale: float) -> _Samples:
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


class _Match:
    """Points of the plan against the map's edges; a pose is (east, north, rotation, thickness)."""

    def __init__(self, points: _Samples, goal: _Edges, sigma_m: float) -> None:
        self._points, self.goal, self.sigma_m = points, goal, sigma_m

    def with_sigma(self, sigma_m: float) -> _Match:
        """The same with another error of the map."""
        return _Match(self._points, self.goal, sigma_m)

    def distances(self, pose: Floats) -> tuple[Floats, Floats]:
        """Signed distances ``(m,)`` of the moved points to the nearest map edge that faces the same
        way (positive: outside), infinite without one, and that edge's normal."""
        out = self._points.xy + pose[3] * self._points.normal
        xy = turn(out, pose[2]) + pose[:2]
        facing = turn(self._points.normal, pose[2]) @ self.goal.normal.T > FACING
        a = self.goal.ends[:, 0]
        way = self.goal.ends[:, 1] - a
        square = np.maximum((way**2).sum(axis=1), 1e-12)
        apart = xy[:, None] - a
        t = np.clip(np.einsum("mkj,kj->mk", apart, way) / square, 0.0, 1.0)
        gap = np.hypot(*np.moveaxis(apart - t[..., None] * way, -1, 0))
        gap = np.where(facing, gap, np.inf)
        nearest = np.argmin(gap, axis=1)
        rows = np.arange(len(xy))
        normal = self.goal.normal[nearest]
        across = np.einsum("mj,mj->m", apart[rows, nearest], normal)
        return np.where(np.isfinite(gap[rows, nearest]), across, np.inf), normal

    def cost(self, pose: Floats) -> float:
        """Half the sum of robust squares: each edge counts as one observation of the map, in the
        measure of its length."""
        across, _ = self.distances(pose)
        gap = np.minimum(np.abs(across) / self.sigma_m, FARTHEST)
        per = KNEE**2 * np.log1p((gap / KNEE) ** 2)
        thickness = ((pose[3] - WALL_M) / WALL_SIGMA_M) ** 2
        return 0.5 * float(np.sum(self._weight() * per) + thickness)

    def share(self, pose: Floats) -> float:
        """The share of the plan's outer edges that find a counterpart."""
        across, _ = self.distances(pose)
        matched = np.abs(across) < FARTHEST_SIGMAS * self.sigma_m
        return float(self._points.length[matched].sum() / self._points.length.sum())

    def _weight(self) -> Floats:
        """An edge of 4 m and more is one observation; a short one counts less."""
        length = np.bincount(self._points.edge, self._points.length)
        return np.asarray(self._points.share * np.minimum(length[self._points.edge] / 4.0, 1.0))

    def refined(self, start: Floats) -> Floats:
        """The pose at the nearest minimum of the cost: least squares, weighted anew each step."""
        pose, cost = start, self.cost(start)
        for _ in range(STEPS):
            across, normal = self.distances(pose)
            there = np.isfinite(across)
            gap = np.where(there, across, 0.0) / self.sigma_m
            weight = np.where(there, self._weight() / (1.0 + (gap / KNEE) ** 2), 0.0)
            design = self._design(pose, normal) / self.sigma_m
            information = design.T @ (weight[:, None] * design) + np.diag(_STIFF)
            information[3, 3] += WALL_SIGMA_M**-2.0
            pull = -design.T @ (weight * gap)
            pull[3] -= (pose[3] - WALL_M) / WALL_SIGMA_M**2
            step = np.linalg.solve(information, pull)
            moved, lower = pose + step, self.cost(pose + step)
            while lower > cost and np.abs(step).max() > 1e-5:
                step = step / 2
                moved, lower = pose + step, self.cost(pose + step)
            if lower > cost:
                break
            pose, cost = moved, lower
            if np.hypot(*step[:2]) < 1e-4 and abs(step[2]) < 1e-5:
                break
        pose = pose.copy()
        pose[2] = wrap_half(pose[2])
        return pose

    def _design(self, pose: Floats, normal: Floats) -> Floats:
        """Derivatives ``(m, 4)`` of the distances by the pose: a clockwise turn moves (x, y) along
        (y, -x)."""
        out = turn(self._points.xy + pose[3] * self._points.normal, pose[2])
        arm = np.einsum("mj,mj->m", np.stack([out[:, 1], -out[:, 0]], axis=-1), normal)
        push = np.einsum("mj,mj->m", turn(self._points.normal, pose[2]), normal)
        return np.column_stack([normal, arm, push])

    def result(self, pose: Floats, rivals: tuple[float, ...]) -> FootprintFit:
        """The fit at a pose, with the covariance of what matched."""
        across, normal = self.distances(pose)
        matched = np.abs(across) < FARTHEST_SIGMAS * self.sigma_m
        design = self._design(pose, normal)[matched]
        weight = self._weight()[matched] / self.sigma_m**2
        information = design.T @ (weight[:, None] * design)
        information[3, 3] += WALL_SIGMA_M**-2.0
        gap = across[matched]
        rms = float(np.sqrt(np.average(gap**2, weights=self._points.length[matched])))
        # Worse than the map's stated error: the covariance says so.
        factor = max(1.0, rms / self.sigma_m) ** 2
        try:
            covariance = factor * np.linalg.inv(information)[:3, :3]
        except np.linalg.LinAlgError:
            raise SurveyError(
                "The footprint's edges do not fix the plan: expected edges in two directions."
            ) from None
        return FootprintFit(
            float(pose[0]),
            float(pose[1]),
            float(wrap_half(pose[2])),
            covariance,
            float(pose[3]),
            rms,
            self.share(pose),
            rivals,
        )


def _starts(plan: _Edges, goal: _Edges, points: _Samples, prior: Prior) -> Floats:
    """Poses ``(n, 4)`` to start from: rotations that bring a long edge of the plan onto one of the
    map within the prior, each with the shifts around the prior's place."""
    turns = np.array([0.0])
    window = min(3.0 * prior.sigma_rad, np.pi)
    if window > 0.0:
        own = azimuth_of(plan.normal[np.argsort(-plan.length)[:6]])
        other = azimuth_of(goal.normal[np.argsort(-goal.length)[:12]])
        turns = wrap_half(np.add.outer(other, -own).ravel() - prior.rotation_rad)
        turns = turns[np.abs(turns) <= window + STEP_RAD]
        turns = _distinct(np.append(turns, 0.0))
    middle = points.middle
    at = turn(middle, prior.rotation_rad) + (prior.east_m, prior.north_m)
    reach = 3.0 * prior.sigma_m
    steps = np.arange(-reach, reach + STEP_M, STEP_M) if reach > STEP_M else np.array([0.0])
    shift = np.stack(np.meshgrid(steps, steps, indexing="ij"), axis=-1).reshape(-1, 2)
    shift = shift[np.hypot(*shift.T) <= reach + STEP_M]
    poses = []
    for change in turns:
        rotation = prior.rotation_rad + change
        # The plan turns about its own middle, which the prior places.
        origin = at - turn(middle, rotation)
        pose = np.column_stack(
            [origin + shift, np.full(len(shift), rotation), np.full(len(shift), WALL_M)]
        )
        poses.append(pose)
    return np.concatenate(poses)


def _distinct(turns: Floats) -> Floats:
    """Turns at least a few degrees apart."""
    kept: list[float] = []
    for value in np.sort(turns):
        if not kept or value - kept[-1] > STEP_RAD / 3:
            kept.append(float(value))
    return np.array(kept)
