# SPDX-License-Identifier: GPL-2.0-or-later
"""Where groups lie in the plan: turned to plan north, and those that nothing connects drawn apart,
by geotag where there is one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.face_model import Faces
from ..captures.layout import lay_out
from ..captures.model import Capture, Ints, Survey
from .connect_frames import composed, moved, turned
from .connect_groups import Compass
from .plan_north import building_axis_rad, nearest_axis_rad, plan_north_rad

CLEARANCE_M = 1.0


def boxes(
    captures: Sequence[Capture], faces: Sequence[Faces], members: Ints, pose: Floats
) -> dict[int, Floats]:
    """Boxes ``(4,)`` (least x, least y, greatest x, greatest y) around what stations see, by
    storey."""
    found: dict[int, list[Floats]] = {}
    for station in members:
        points = captures[station].xy_m[captures[station].usable]
        points = points[np.isfinite(points).all(axis=1)]
        points = np.concatenate([points, faces[station].ends_m.reshape(-1, 2), np.zeros((1, 2))])
        found.setdefault(captures[station].level, []).append(moved(pose[station], points))
    return {
        level: np.concatenate(
            [np.min(np.concatenate(p), axis=0), np.max(np.concatenate(p), axis=0)]
        )
        for level, p in found.items()
    }


def clear_shift(
    box: dict[int, Floats], placed: Sequence[dict[int, Floats]], wanted: Floats, away: Floats
) -> Floats:
    """The least shift ``(2,)`` beyond the one wanted, in the direction `away`, under which a group
    meets none of the placed ones on its storeys."""
    pairs = [(box[level], other[level]) for other in placed for level in box if level in other]
    own, others = (np.array([pair[k] for pair in pairs]).reshape(-1, 4) for k in (0, 1))
    # How far the shift has gone where either side of another box is reached, axis by axis. Two
    # boxes meet from where the last axis begins to overlap to where the first one is free again; an
    # axis on which nothing moves overlaps always (from -inf to inf) or never.
    with np.errstate(divide="ignore", invalid="ignore"):
        low = (others[:, :2] - CLEARANCE_M - own[:, 2:] - wanted) / away
        high = (others[:, 2:] + CLEARANCE_M - own[:, :2] - wanted) / away
    start, end = np.minimum(low, high).max(axis=1), np.maximum(low, high).min(axis=1)
    meet = start < end
    order = np.argsort(start[meet], kind="stable")
    waiting = list(zip(start[meet][order].tolist(), end[meet][order].tolist()))[::-1]
    distance, free = 0.0, -np.inf
    while True:
        while waiting and waiting[-1][0] < distance:
            free = max(free, waiting.pop()[1])
        if free <= distance:
            return wanted + distance * away
        distance = free + 1e-6


def geotag_shift(
    geotag_m: Floats, known: np.ndarray, members: Ints, pose: Floats, first: Ints, north_rad: float
) -> Floats | None:
    """The shift ``(2,)`` of a group in the plan that its geotags ask for relative to the first
    group's; None when one of the two has none.

    `geotag_m (S, 2)` are east and north, `north_rad` the azimuth of plan +y.
    """
    own, other = members[known[members]], first[known[first]]
    if not len(own) or not len(other):
        return None
    plan = turned(geotag_m, -north_rad)
    return (plan[own] - pose[own, :2]).mean(axis=0) - (plan[other] - pose[other, :2]).mean(axis=0)


def frames_of(
    survey: Survey,
    faces: Sequence[Faces],
    compass: Compass,
    held: Ints,
    blocks: list[Ints],
    pose: Floats,
    placed_before: np.ndarray,
) -> list[Floats]:
    """Motions (3,) of the groups into the plan: those of which a station was placed before
    ``(S,)`` stay; else +y to plan north, the held (else the first) station of the first group at
    the origin, the others placed apart."""
    geotag, _ = lay_out(survey)
    tagged = np.array([capture.has_geotag for capture in survey.captures], dtype=bool)
    frames: list[Floats] = [np.zeros(3) for _ in blocks]
    placed: list[dict[int, Floats]] = []
    main_azimuth: float | None = None
    main, main_pose = np.empty(0, dtype=np.int64), pose
    stays = [bool(placed_before[of].any()) for of in blocks]
    for k in sorted(range(len(blocks)), key=lambda k: (not stays[k], k)):
        of = blocks[k]
        if stays[k]:
            north_of = compass.north(of, pose[of, 2])
            if not len(main):
                main = of
            if main_azimuth is None and north_of is not None:
                main_azimuth = north_of[0]
            placed.append(boxes(survey.captures, faces, of, pose))
            continue
        axis = building_axis_rad([faces[s] for s in of], pose[of, 2])
        north_of = compass.north(of, pose[of, 2])
        offset = None if north_of is None else north_of[0]
        north = plan_north_rad(axis, offset, float(pose[of[0], 2]))
        if offset is not None and axis is not None:
            if main_azimuth is None:
                main_azimuth = float(wrap_half(north + offset))
            else:
                # All groups are one building: the same of its axes is up in all of them.
                north = nearest_axis_rad(axis, main_azimuth - offset)
        frame = np.array([0.0, 0.0, -north])
        moved_pose = composed(frame, pose[of])
        kept = np.flatnonzero(np.isin(of, held))
        anchor = int(kept[0]) if len(kept) else 0
        frame[:2] = -moved_pose[anchor, :2]
        here = pose.copy()
        here[of] = composed(frame, pose[of])
        box = boxes(survey.captures, faces, of, here)
        if not placed:
            main, main_pose = of, here
        else:
            both = here.copy()
            both[main] = main_pose[main]
            wanted = geotag_shift(geotag, tagged, of, both, main, main_azimuth or 0.0)
            if wanted is None or main_azimuth is None:
                wanted = np.zeros(2)
            length = float(np.hypot(*wanted))
            away = wanted / length if length > 0.1 else np.array([1.0, 0.0])
            shift = clear_shift(box, placed, wanted, away)
            frame[:2] += shift
            here[of, :2] += shift
            box = boxes(survey.captures, faces, of, here)
        placed.append(box)
        frames[k] = frame
    return frames
