# SPDX-License-Identifier: GPL-2.0-or-later
"""Surveys of invented buildings, truth known: captures from several stations a storey, and pairs of
captures judged one by one.

Seeds below 1000 are for tuning, those from 1000 on for reporting.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.model import Capture, Kind, Survey
from roomtie.processing.stations.connect_frames import between, moved
from simulated_plan import WELL, Storey, storey
from simulated_rays import ANGLE_SIGMA_DEG, DISTANCE_SIGMA_M, Surface, capture_among, cast
from simulated_targets import INSTRUMENT_M, STOREY_M, slanting
from surveyed import with_readings, with_sightings

CLEAR_M = 0.45
"""Nobody sets up a tripod nearer to a wall."""

ASKED = 800
"""Rays a station by which it is told what two stations see in common."""

LEAST_SHARE, MOST_THROUGH = 0.04, 0.25
SIGMA_M, SIGMA_RAD = 0.005, np.radians(0.05)
"""An overlap is honest when the two captures share this part of their readings and these fix the
pose at least so well: the data carry a tie, whether or not it can be told from others. Pairs judged
one by one share at most the second part through a doorway: 14 % in the median."""


@dataclass(frozen=True, eq=False)
class Truth:
    """What is known about an invented survey, ``S`` stations in one frame.

    `pose (S, 3)`, the `room (S,)` of each station, `level (S,)`, the `storeys` by level; for pairs
    ``(S, S)`` the `share` of readings on what the other sees too (mean of both ways), whether a
    `doorway` lies between them, and whether an overlap is `honest`.
    """

    pose: np.ndarray
    room: np.ndarray
    level: np.ndarray
    storeys: tuple[Storey, ...]
    share: np.ndarray
    doorway: np.ndarray
    honest: np.ndarray
    targets: dict

    def __len__(self) -> int:
        return len(self.pose)

    def in_the_well(self, level) -> list[str]:
        """The names of the stations in the stair's well on a storey."""
        plan = self.storeys[level]
        well = len(plan.rooms) - plan.halls - 1
        of = np.flatnonzero((self.level == level) & (self.room == well))
        return [f"S{s + 1:03d}" for s in of]


@dataclass(frozen=True, eq=False)
class Pair:
    """Two captures of one building: the true `pose (3,)` of the second in the first one's frame,
    the overlap, whether a doorway lies between them, and a `start (3,)` off by up to 3 m and 10
    degrees."""

    first: Capture
    second: Capture
    pose: np.ndarray
    start: np.ndarray
    share: float
    doorway: bool
    building: int


def simulated_building(
    seed,
    *,
    rooms=None,
    storeys=1,
    stair=0,
    targets=None,
    compass=None,
    readings=1600,
    outliers=0.01,
) -> tuple[Survey, Truth]:
    """A survey with flagged readings, and the truth.

    `rooms` a storey (default: 4 to 14), `targets` whether named targets are sighted and `compass`
    whether stations have bearings (None: as the seed wills; some, all or none of the stations).
    With `stair` the storeys have the well of a stair in common, and so many targets on its walls
    between each two, sighted from every station in the well on either storey.
    """
    rng = np.random.default_rng([7, seed])
    plans = tuple(storey(rng, rooms, well=stair > 0) for _ in range(storeys))
    pose, room, level = [], [], []
    for k, plan in enumerate(plans):
        for at, of in _stations(plan, rng):
            pose.append((*at, rng.uniform(-np.pi, np.pi)))
            room.append(of)
            level.append(k)
    pose, room, level = np.array(pose), np.array(room), np.array(level)
    share, honest = _overlaps(plans, pose, level)
    doorway = (room[:, None] != room) & (level[:, None] == level)
    names = {}
    if rng.random() < 0.4 if targets is None else targets:
        names = _targets(plans, pose, level, share, rng)
    bearing = _compass(pose, rng, compass)
    wells = np.array([len(plan.rooms) - plan.halls - 1 for plan in plans])
    shared = _stair_targets(seed, level, room == wells[level], stair)
    captures = []
    for s in range(len(pose)):
        plan = plans[level[s]]
        own = np.random.default_rng([11, seed, s])
        capture, _ = capture_among(
            plan.segments,
            plan.surface,
            pose[s],
            own,
            readings=readings,
            outliers=outliers,
            station=f"S{s + 1:03d}",
            level=int(level[s]),
            magnetic_azimuth_deg=bearing[s],
            magnetic_azimuth_sigma_deg=3.0 if np.isfinite(bearing[s]) else np.nan,
            longitude_deg=9.0 + (pose[s, 0] + 5 * own.standard_normal()) / 73e3,
            latitude_deg=48.5 + (pose[s, 1] + 5 * own.standard_normal()) / 111e3,
            geotag_sigma_m=5.0,
        )
        seen = {name: at for name, (at, of) in names.items() if s in of}
        if seen:
            capture = with_sightings(capture, pose[s], seen, own)
        slanting = {name: at for name, (at, of) in shared.items() if s in of}
        if slanting:
            capture = _with_slanting(capture, pose[s], level[s], slanting, own)
        captures.append(capture)
    survey = flag_readings(Survey(tuple(captures)))
    return survey, Truth(pose, room, level, plans, share, doorway, honest, {**names, **shared})


def simulated_pairs(seed, count, *, readings=1600) -> list[Pair]:
    """`count` honest pairs of captures, every second one through a doorway, from buildings of
    their own; overlaps and starting guesses as in the measurements that the figures come from."""
    pairs: list[Pair] = []
    building = 0
    while len(pairs) < count:
        number = 10_000 * seed + building
        building += 1
        survey, truth = simulated_building(
            number, targets=False, compass=False, rooms=4 + building % 6, readings=readings
        )
        rng = np.random.default_rng([13, number])
        fit = truth.honest & (~truth.doorway | (truth.share <= MOST_THROUGH))
        for doorway in (False, True) if len(pairs) % 2 == 0 else (True, False):
            first, second = np.nonzero(np.triu(fit & (truth.doorway == doorway), 1))
            if not len(first) or len(pairs) == count:
                continue
            k = int(rng.integers(len(first)))
            i, j = int(first[k]), int(second[k])
            pose = between(truth.pose[i], truth.pose[j])
            off, way = 3.0 * np.sqrt(rng.random()), rng.uniform(0, 2 * np.pi)
            start = pose + [off * np.sin(way), off * np.cos(way), np.radians(rng.uniform(-10, 10))]
            pairs.append(
                Pair(
                    replace(survey.captures[i], station="A"),
                    replace(survey.captures[j], station="B"),
                    pose,
                    start,
                    float(truth.share[i, j]),
                    bool(doorway),
                    number,
                )
            )
    return pairs


# --- where stations stand -------------------------------------------------------------------------


def _stations(plan, rng):
    """Positions with their rooms: one or more a room, more in long halls, mostly where the doorways
    are well seen."""
    found = []
    solid = plan.segments[plan.surface != Surface.OUTSIDE]
    lines = shapely.linestrings(solid)
    tree = shapely.STRtree(lines)
    for k, room in enumerate(plan.rooms):
        hall = k >= len(plan.rooms) - plan.halls
        if hall:
            box = room.minimum_rotated_rectangle.exterior.coords
            long = max(np.hypot(*np.subtract(box[n + 1], box[n])) for n in (0, 1))
            count = max(1, round(long / rng.uniform(3.5, 5.5)))
        else:
            count = 1 + int(room.area > 20) + int(rng.random() < 0.25)
        chosen = []
        for _ in range(count):
            places = _free_places(room, tree, lines, rng, 12 if hall else 6)
            if not len(places):
                continue
            if hall:  # apart from each other along the hall
                away = [
                    min((float(np.hypot(*(p - q))) for q in chosen), default=0.0) for p in places
                ]
                best = int(np.argmax(away)) if chosen else 0
            elif rng.random() < 0.7:  # where much is seen outside the room
                best = int(np.argmax([_beyond(plan, room, p) for p in places]))
            else:
                best = 0
            chosen.append(places[best])
        found.extend((at, k) for at in chosen)
    return found


def _free_places(room, tree, lines, rng, wanted):
    low, high = np.array(room.bounds[:2]), np.array(room.bounds[2:])
    found = []
    for _ in range(20 * wanted):
        at = low + rng.random(2) * (high - low)
        point = shapely.Point(at)
        if not room.contains(point):
            continue
        near = tree.query(point.buffer(CLEAR_M))
        if len(near) and shapely.distance(lines[near], point).min() < CLEAR_M:
            continue
        found.append(at)
        if len(found) == wanted:
            break
    return found


def _beyond(plan, room, at):
    azimuth = np.arange(180) * (2 * np.pi / 180)
    distance, _ = cast(plan.segments[plan.surface != Surface.GLASS], at, azimuth)
    distance = np.minimum(distance, 30.0)
    points = at + distance[:, None] * np.stack([np.sin(azimuth), np.cos(azimuth)], axis=1)
    return int((shapely.distance(shapely.points(points), room) > 0.3).sum())


# --- what stations see in common ------------------------------------------------------------------


def _overlaps(plans, pose, level):
    """Shares ``(S, S)`` of readings on what another station sees too, and which pairs are
    honest."""
    count = len(pose)
    share, honest = np.zeros((count, count)), np.zeros((count, count), dtype=bool)
    azimuth = (np.arange(ASKED) + 0.5) * (2 * np.pi / ASKED)
    ray = np.stack([np.sin(azimuth), np.cos(azimuth)], axis=1)
    seen = []
    for s in range(count):
        plan = plans[level[s]]
        distance, hit = cast(plan.segments, pose[s, :2], azimuth)
        good = (hit >= 0) & np.isin(plan.surface[hit], (Surface.WALL, Surface.FURNITURE))
        seen.append((pose[s, :2] + np.where(good, distance, np.nan)[:, None] * ray, hit, good))
    one_way, sigma = np.zeros((count, count)), np.full((count, count, 2), np.inf)
    for i in range(count):
        points, hit, good = seen[i]
        for j in range(count):
            if i == j or level[i] != level[j]:
                continue
            away = points[good] - pose[j, :2]
            place = np.arctan2(away[:, 0], away[:, 1]) % (2 * np.pi) / (2 * np.pi / ASKED)
            place = place.astype(np.int64) % ASKED
            common = np.zeros(int(good.sum()), dtype=bool)
            for side in (-1, 0, 1):
                common |= seen[j][1][(place + side) % ASKED] == hit[good]
            if common.any():
                # Of one segment two stations may see different parts.
                direct = np.hypot(*away.T)
                looked = np.hypot(*(seen[j][0] - pose[j, :2]).T)[place]
                common &= np.nan_to_num(direct - looked) < 0.10 + 0.05 * direct
            one_way[i, j] = common.sum() / max(int(good.sum()), 1)
            sigma[i, j] = _sigma(plans[level[i]], away[common], hit[good][common])
    share = (one_way + one_way.T) / 2
    best = np.maximum(sigma, sigma.transpose(1, 0, 2))
    honest = (share >= LEAST_SHARE) & (best[..., 0] <= SIGMA_M) & (best[..., 1] <= SIGMA_RAD)
    return share, honest


def _sigma(plan, away, segment):
    """Largest standard error of the position and that of the turn that common readings allow."""
    if len(segment) < 6:
        return np.inf, np.inf
    edge = plan.segments[segment, 1] - plan.segments[segment, 0]
    edge = edge / np.hypot(*edge.T)[:, None]
    normal = np.stack([-edge[:, 1], edge[:, 0]], axis=1)
    arm = normal[:, 0] * away[:, 1] - normal[:, 1] * away[:, 0]
    row = np.column_stack([normal, arm])
    spread = np.hypot(DISTANCE_SIGMA_M, np.radians(ANGLE_SIGMA_DEG) * np.hypot(*away.T))
    matrix = (row / (2 * spread[:, None] ** 2)).T @ row
    if np.linalg.cond(matrix) > 1e12:
        return np.inf, np.inf
    covariance = np.linalg.inv(matrix)
    return float(np.sqrt(np.linalg.eigvalsh(covariance[:2, :2])[-1])), float(
        np.sqrt(covariance[2, 2])
    )


# --- targets and compass --------------------------------------------------------------------------


def _targets(plans, pose, level, share, rng):
    """Named targets on walls, each with the stations that sight it: two or three for some pairs
    that share little."""
    found = {}
    pairs = [
        (i, j)
        for i in range(len(pose))
        for j in range(i)
        if level[i] == level[j] and share[i, j] > 0.02 and rng.random() < 0.15
    ]
    for i, j in pairs:
        plan = plans[level[i]]
        for _ in range(rng.integers(2, 4)):
            for _ in range(30):
                azimuth = np.array([rng.uniform(0, 2 * np.pi)])
                distance, hit = cast(plan.segments, pose[i, :2], azimuth)
                if hit[0] < 0 or plan.surface[hit[0]] != Surface.WALL or distance[0] > 6:
                    continue
                at = pose[i, :2] + distance[0] * np.array([np.sin(azimuth[0]), np.cos(azimuth[0])])
                by = [
                    s
                    for s in range(len(pose))
                    if level[s] == level[i] and (s in (i, j)) and _sees(plan, pose[s, :2], at)
                ]
                if len(by) == 2:
                    found[f"T{len(found) + 1}"] = (tuple(at), tuple(by))
                    break
    return found


def _stair_targets(seed, level, in_well, count):
    """Targets (x, y, height) on the walls of the well halfway between each two storeys, each with
    the stations in the well that sight it: on different walls, clear of the corners."""
    rng = np.random.default_rng([19, seed])
    low, high = np.array(WELL.bounds[:2]), np.array(WELL.bounds[2:])
    found = {}
    for upper in range(1, level.max() + 1) if count else ():
        by = tuple(np.flatnonzero(in_well & ((level == upper) | (level == upper - 1))).tolist())
        for n, side in enumerate(rng.permutation(4)[:count]):
            share = rng.uniform(0.2, 0.8)
            across = low + share * (high - low)
            at = ((across[0], low[1]), (low[0], across[1]), (across[0], high[1]), (high[0], low[1]))
            x, y = at[side]
            if side == 3:  # beside the door
                y = rng.choice([-1, 1]) * rng.uniform(0.7, 1.2)
            height = INSTRUMENT_M + STOREY_M * (upper - 0.5) + rng.uniform(-0.3, 0.3)
            found[f"stair {upper}{n}"] = ((float(x), float(y), float(height)), by)
    return found


def _with_slanting(capture, pose, level, targets, rng):
    """A capture with sightings of targets above or below it."""
    for name, (x, y, height) in targets.items():
        reading = slanting((x, y), height, pose, level, rng)
        capture = with_readings(capture, Kind.TARGET, [name], *reading)
    return capture


def _sees(plan, origin, at):
    away = at - origin
    direct = np.hypot(*away)
    distance, _ = cast(plan.segments, origin, np.array([np.arctan2(*away)]))
    return bool(abs(distance[0] - direct) < 1e-6 and direct < 8.0)


def _compass(pose, rng, wanted):
    """Bearings (deg, NaN: none) of the zero directions; some are bent."""
    count = len(pose)
    offset, luck = rng.uniform(-180, 180), rng.random()
    noise, bent = 3.0 * rng.standard_normal(count), rng.random(count) < 0.12
    bend = rng.choice([-1, 1], count) * rng.uniform(10, 40, count)
    some = rng.random(count) < 0.5
    bearing = (np.degrees(pose[:, 2]) + offset + noise + np.where(bent, bend, 0.0)) % 360.0
    if wanted is False or (wanted is None and luck < 0.25):
        return np.full(count, np.nan)
    if wanted is None and luck < 0.45:
        return np.where(some, bearing, np.nan)
    return bearing


def placed_points(survey, truth):
    """All usable readings ``(n, 2)`` in the true frame: for looking at a building."""
    return np.concatenate(
        [moved(p, c.xy_m[c.usable_ring]) for c, p in zip(survey.captures, truth.pose)]
    )
