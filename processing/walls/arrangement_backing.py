# SPDX-License-Identifier: GPL-2.0-or-later
"""What readings back of each wall face."""

from __future__ import annotations

import numpy as np

from ..angles import Floats, along, unit
from ..captures.model import Flag, Ints, Survey
from ..progress import SILENT, Progress
from ..stations.model import Network
from .model import WallFaces

WIDEST_FOOTPRINT_M = 0.30
"""No reading stands for more of a wall than this, however flat its angle."""
BRIDGED = 1.1
"""A reading stands for the wall so many spacings to both sides: one lost reading makes no gap."""

ALONE_M, CLOSER = 0.05, 3
"""A reading is alone at the end of a wall when it is so far from the next one, and further than the
next so many steps together."""


def backed_intervals(
    survey: Survey,
    network: Network,
    walls: WallFaces,
    members: Ints,
    progress: Progress = SILENT,
) -> dict[int, Floats]:
    """What readings back of each of the wall faces `members`: intervals ``(k, 2)`` along it, in
    metres from its centre.

    A reading stands for a stretch as long as the beam's usual step covers there, one missing
    reading bridged. A face without readings of its own counts as backed over its span; one all of
    whose readings went through glass is left out.
    """
    direction = along(walls.normal_rad)
    normal = unit(walls.normal_rad)
    found: dict[int, list[Floats]] = {int(w): [] for w in members}
    behind_glass = np.zeros(len(walls), dtype=bool)
    for index, capture in enumerate(progress.part(0.0, 0.6).over(survey.captures)):
        if index >= len(walls.wall_of_reading) or not len(walls.wall_of_reading[index]):
            continue
        owner = walls.wall_of_reading[index]
        behind_glass[owner[(owner >= 0) & (capture.flag == Flag.THROUGH_GLASS)]] = True
        readings = np.flatnonzero((owner >= 0) & capture.usable_ring)
        readings = readings[np.isin(owner[readings], members)]
        if not len(readings):
            continue
        wall = owner[readings]
        points = network.to_plan(index, capture.xy_m[readings])
        turns = np.diff(np.sort(capture.angle_rad[capture.usable_ring]))
        turns = turns[turns > 1e-9]
        step = float(np.median(turns)) if len(turns) else 0.01
        ray = points - network.xy_m[index]
        reach = np.hypot(ray[:, 0], ray[:, 1])
        square = np.abs(np.einsum("ij,ij->i", ray, normal[wall])) / np.maximum(reach, 1e-9)
        spacing = np.minimum(reach * step / np.maximum(square, 0.02), WIDEST_FOOTPRINT_M)
        place = np.einsum("ij,ij->i", points - walls.centre_m[wall], direction[wall])
        rows = np.column_stack([place, spacing])
        order = np.argsort(wall, kind="stable")
        bounds = np.flatnonzero(np.diff(wall[order])) + 1
        for group in np.split(order, bounds):
            found[int(wall[group[0]])].append(rows[group])
    return {
        w: supported(found[w], walls.span_m[w])
        for w in progress.part(0.6, 1.0).over(list(found))
        if found[w] or not behind_glass[w]
    }


def supported(rows: list[Floats], span: Floats) -> Floats:
    """The intervals ``(k, 2)`` that readings support, given as arrays ``(n, 2)`` of their places
    along a face and of the beams' spacing there; the face's `span (2,)` where there are none."""
    if not rows:
        return span[None, :].copy()
    both = np.concatenate(rows)
    both = both[np.argsort(both[:, 0], kind="stable")]
    place, spacing = both[:, 0], both[:, 1]
    reach = np.maximum.accumulate(place + BRIDGED * spacing)
    broken = place[1:] - BRIDGED * spacing[1:] > reach[:-1]
    starts = np.concatenate([[0], np.flatnonzero(broken) + 1])
    stops = np.concatenate([np.flatnonzero(broken), [len(place) - 1]])
    # A lone reading does not carry a wall on where closer ones end: it may have missed the wall.
    long = stops - starts > CLOSER
    first, last = starts[long], stops[long]
    starts[long] += place[first + 1] - place[first] > np.maximum(
        place[first + 1 + CLOSER] - place[first + 1], ALONE_M
    )
    stops[long] -= place[last] - place[last - 1] > np.maximum(
        place[last - 1] - place[last - 1 - CLOSER], ALONE_M
    )
    intervals = np.column_stack([place[starts], place[stops]])
    intervals = intervals[intervals[:, 1] > intervals[:, 0]]
    return intervals if len(intervals) else span[None, :].copy()
