# SPDX-License-Identifier: GPL-2.0-or-later
"""What is wrong in a maintained layer, each with a fix proposed; none is made."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from ..captures.findings import listed
from ..progress import SILENT, Progress

CHECKS = (
    "invalid",
    "duplicate identifier",
    "duplicate room",
    "overlap",
    "gap",
    "sliver",
    "outside the footprint",
    "mixed levels",
)
NO_LEVEL = -(2**31)
"""Stands for the storey of a room that names none."""


@dataclass(frozen=True)
class Finding:
    """One thing wrong: the check, the rooms, what was found, what to do; `place` is where."""

    check: str
    rooms: tuple[str, ...]
    sentence: str
    fix: str
    level: int
    place: Any


@dataclass(frozen=True)
class Limits:
    """What counts as wrong: a sliver is thinner than `sliver_m`; rooms overlap where that is wider
    than `overlap_m`; gaps between rooms are holes thinner than `wall_m` in a layer whose rooms
    touch, and wider ones in one that leaves the walls out; a duplicate shares `alike` of both."""

    sliver_m: float = 0.2
    overlap_m: float = 0.02
    wall_m: float = 0.6
    alike: float = 0.95


def checked(
    ids: Sequence[str],
    polygon: NDArray[Any],
    level: Sequence[int],
    footprint: Any = None,
    limits: Limits | None = None,
    progress: Progress = SILENT,
) -> list[Finding]:
    """All findings on rooms ``(n,)`` in metres, in the order of `CHECKS`; a missing storey is
    `NO_LEVEL`. `footprint` is the outline of the buildings, None where it is not known."""
    limits = limits or Limits()
    storeys = np.asarray(level, dtype=np.int64)
    found = _invalid(ids, polygon, storeys)
    sound = np.asarray(shapely.make_valid(polygon), dtype=object)
    progress.at(0.2)
    found += _same_identifier(ids, sound, storeys)
    pairs = _pairs(sound)
    progress.at(0.4)
    found += _overlapping(ids, sound, storeys, pairs, limits)
    progress.at(0.6)
    found += _gaps(ids, sound, storeys, limits)
    found += _slivers(ids, sound, storeys, limits)
    progress.at(0.8)
    if footprint is not None:
        found += _outside(ids, sound, storeys, footprint, limits)
    found += _mixed(ids, sound, storeys, pairs)
    return sorted(found, key=lambda one: (CHECKS.index(one.check), one.level, one.rooms))


def thickness(shape: Any) -> float:
    """About how wide a shape is where it is widest (m): that of a strip of its area and outline."""
    around = float(shapely.length(shape))
    return 2.0 * float(shapely.area(shape)) / around if around > 0.0 else 0.0


def polygons_in(shape: Any) -> list[Polygon]:
    """The polygons of a shape of any kind: a repaired outline may be a collection of multipolygons
    and lines."""
    if isinstance(shape, Polygon):
        return [shape]
    return [one for part in getattr(shape, "geoms", ()) for one in polygons_in(part)]


def _invalid(ids: Sequence[str], polygon: NDArray[Any], level: NDArray[Any]) -> list[Finding]:
    found = []
    for i in np.flatnonzero(~shapely.is_valid(polygon)):
        reason = shapely.is_valid_reason(polygon[i])
        repaired = shapely.make_valid(polygon[i])
        parts = polygons_in(repaired)
        found.append(
            Finding(
                "invalid",
                (ids[i],),
                f"Room {ids[i]} is no valid polygon: {reason}.",
                f"Repair its outline: {len(parts)} part(s) of "
                f"{float(shapely.area(repaired)):.2f} m² together; check it by eye.",
                int(level[i]),
                repaired,
            )
        )
    return found


def _same_identifier(
    ids: Sequence[str], polygon: NDArray[Any], level: NDArray[Any]
) -> list[Finding]:
    rooms = defaultdict(list)
    for i, name in enumerate(ids):
        rooms[name].append(i)
    return [
        Finding(
            "duplicate identifier",
            (name,),
            f"{len(own)} rooms have the identifier {name or '(none)'}.",
            "Give each room an identifier of its own: "
            + ("look up what hangs on it first." if name else "none has one now."),
            int(level[own[0]]),
            shapely.union_all(polygon[own]),
        )
        for name, own in rooms.items()
        if len(own) > 1 or not name
    ]


def _pairs(polygon: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
    """Rooms i < j that share ground, whatever their storeys, and the common part."""
    i, j = shapely.STRtree(polygon).query(polygon, predicate="intersects")
    once = i < j
    i, j = i[once], j[once]
    common = np.asarray(shapely.intersection(polygon[i], polygon[j]), dtype=object)
    there = shapely.area(common) > 0.0
    order = np.lexsort((j[there], i[there]))
    return i[there][order], j[there][order], common[there][order]


def _overlapping(
    ids: Sequence[str],
    polygon: NDArray[Any],
    level: NDArray[Any],
    pairs: tuple[NDArray[Any], NDArray[Any], NDArray[Any]],
    limits: Limits,
) -> list[Finding]:
    found = []
    size = shapely.area(polygon)
    for i, j, common in zip(*pairs):
        if level[i] != level[j] or thickness(common) < limits.overlap_m / 2.0:
            continue
        shared = float(shapely.area(common))
        names = (ids[i], ids[j])
        small, large = (i, j) if size[i] <= size[j] else (j, i)
        if shared > limits.alike * max(size[i], size[j]):
            sentence = f"Rooms {ids[i]} and {ids[j]} cover the same ground ({shared:.2f} m²)."
            fix = "Keep the one that other data hang on, and end the other."
            check = "duplicate room"
        else:
            sentence = f"Rooms {ids[i]} and {ids[j]} overlap by {shared:.2f} m²."
            check = "overlap"
            if shared > 0.9 * size[small]:
                fix = f"Room {ids[small]} lies in room {ids[large]}: cut it out of that."
            else:
                fix = f"Take the common part from room {ids[large]}, the larger one."
        found.append(Finding(check, names, sentence, fix, int(level[i]), common))
    return found


def _gaps(
    ids: Sequence[str], polygon: NDArray[Any], level: NDArray[Any], limits: Limits
) -> list[Finding]:
    found = []
    for storey in np.unique(level):
        own = np.flatnonzero(level == storey)
        shapes = polygon[own]
        tree = shapely.STRtree(shapes)
        touching = _touching(shapes)
        reach = limits.overlap_m if touching else limits.wall_m / 2.0
        closed = shapely.union_all(shapely.buffer(shapes, reach, join_style="mitre"))
        for part in shapely.get_parts(closed):
            for ring in shapely.get_rings(part)[1:]:
                hole = shapely.buffer(Polygon(ring), reach, join_style="mitre")
                hole = shapely.difference(hole, shapely.union_all(shapes))
                size = float(shapely.area(hole))
                if size == 0.0:
                    continue
                near = sorted(ids[own[k]] for k in tree.query(hole, "dwithin", limits.wall_m))
                if touching and thickness(hole) < limits.wall_m / 2.0:
                    fix = f"Give it to the room it has most border with, of {listed(near)}."
                else:
                    fix = "Survey it: a room or a shaft that the layer lacks, or a thick wall."
                found.append(
                    Finding(
                        "gap",
                        tuple(near),
                        f"Between {listed(near)} {size:.2f} m² belong to no room.",
                        fix,
                        int(storey),
                        hole,
                    )
                )
    return found


def _touching(shapes: NDArray[Any]) -> bool:
    """Whether the rooms of a storey share their outlines, so that walls have no width."""
    if len(shapes) < 2:
        return False
    apart = float(shapely.length(shapes).sum())
    together = float(shapely.length(shapely.union_all(shapely.boundary(shapes))))
    return apart - together > 0.15 * apart


def _slivers(
    ids: Sequence[str], polygon: NDArray[Any], level: NDArray[Any], limits: Limits
) -> list[Finding]:
    found = []
    for i, shape in enumerate(polygon):
        parts = polygons_in(shape)
        for part in parts:
            if thickness(part) >= limits.sliver_m:
                continue
            alone = len(parts) == 1
            found.append(
                Finding(
                    "sliver",
                    (ids[i],),
                    f"{'Room' if alone else 'A part of room'} {ids[i]} is "
                    f"{1000 * thickness(part):.0f} mm wide ({float(shapely.area(part)):.3f} m²).",
                    "End it, or join it to the room beside it." if alone else "Leave the part out.",
                    int(level[i]),
                    part,
                )
            )
    return found


def _outside(
    ids: Sequence[str],
    polygon: NDArray[Any],
    level: NDArray[Any],
    footprint: Any,
    limits: Limits,
) -> list[Finding]:
    beyond = np.asarray(shapely.difference(polygon, footprint), dtype=object)
    found = []
    for i in np.flatnonzero(shapely.area(beyond) > 0.0):
        if thickness(beyond[i]) < limits.overlap_m / 2.0:
            continue
        share = float(shapely.area(beyond[i]) / shapely.area(polygon[i]))
        found.append(
            Finding(
                "outside the footprint",
                (ids[i],),
                f"{share:.0%} of room {ids[i]} lies outside of the building's outline.",
                "Look whether it belongs to another building."
                if share > 0.5
                else "Cut it at the outline, or mend the outline.",
                int(level[i]),
                beyond[i],
            )
        )
    return found


def _mixed(
    ids: Sequence[str],
    polygon: NDArray[Any],
    level: NDArray[Any],
    pairs: tuple[NDArray[Any], NDArray[Any], NDArray[Any]],
) -> list[Finding]:
    """Rooms that name no storey, and rooms that lie on rooms of their storey while another storey
    of the building has a hole of their place."""
    named = level != NO_LEVEL
    found = [
        Finding(
            "mixed levels",
            (ids[i],),
            f"Room {ids[i]} names no storey, while others do.",
            "Write the storey that it lies on.",
            NO_LEVEL,
            polygon[i],
        )
        for i in (np.flatnonzero(~named) if named.any() else ())
    ]
    size = shapely.area(polygon)
    on_own: dict[int, float] = defaultdict(float)
    on_other: dict[int, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    for i, j, common in zip(*pairs):
        shared = float(shapely.area(common))
        for k, other in ((int(i), int(j)), (int(j), int(i))):
            if level[other] == level[k]:
                # Of a room that names no storey that has been said already.
                on_own[k] += shared / size[k] if named[k] else 0.0
            else:
                on_other[k][int(level[other])] += shared / size[k]
    storeys = [int(one) for one in np.unique(level[named])]
    whole = {one: shapely.convex_hull(shapely.union_all(polygon[level == one])) for one in storeys}
    for k, share in sorted(on_own.items()):
        free = [
            one
            for one in storeys
            if one != level[k]
            and on_other[k][one] < 0.1
            and shapely.area(shapely.intersection(whole[one], polygon[k])) > 0.9 * size[k]
        ]
        if share > 0.8 and free:
            found.append(
                Finding(
                    "mixed levels",
                    (ids[k],),
                    f"Room {ids[k]} of storey {level[k]} lies on other rooms of it, while storey "
                    f"{listed([str(one) for one in free])} has a hole of its place.",
                    f"Look whether it belongs to storey {free[0]}.",
                    int(level[k]),
                    polygon[k],
                )
            )
    return found
