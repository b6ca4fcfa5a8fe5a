# SPDX-License-Identifier: GPL-2.0-or-later
"""Continuous stretches of one wall plane, and faces that are not walls.

Pieces of a plane belong to one stretch when they touch or overlap, or when the gap between them was
hidden from every station that saw the pieces; a gap through which a beam passed stays a gap.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, STRtree, linestrings

from ..angles import Floats
from ..captures.face_model import End, Faces
from ..captures.faces_fit import noise_of
from ..captures.model import Ints, Survey
from ..progress import SILENT, Progress
from ..stations.model import Network

LOST_M = 0.3
"""Pieces of one plane no farther apart than this are continuous unless a beam passed between or one
of them ends there in a corner: some readings are lost."""

HIDDEN_M = 3.0
"""A stretch hidden behind furniture is at most this long."""

DEEPEST_FURNITURE_M = 0.65
"""How deep furniture is (common practice: 0.6 m, and a little off the wall)."""

BEHIND_M = 0.06
"""A beam that ends this far behind a face went through it; thinner partitions are not built."""

A_TREE = 100_000
"""So many beams are put into one index."""

FEW_BEAMS = 3
"""So many beams, not one outlier, make a passage."""


@dataclass(frozen=True, eq=False)
class Beams:
    """All beams that end on a face (others may be outliers), by captures: stations and readings
    ``(n, 2)`` in the plan frame, levels, networks and captures, the standard errors (m) of where
    they end, and what `indexed` makes."""

    station_m: Floats
    reading_m: Floats
    level: Ints
    network: Ints
    capture: Ints
    sigma_m: Floats

    trees: Sequence[STRtree]

    def indexed(self, progress: Progress = SILENT) -> Beams:
        """The same with an index of the beams as lines, `A_TREE` at a time, as a tree of very many
        takes longer than a cancel may wait."""
        lines = range(0, len(self.station_m), A_TREE)
        return replace(self, trees=[self._tree(first) for first in progress.over(lines)])

    def _tree(self, first: int) -> STRtree:
        some = slice(first, first + A_TREE)
        return STRtree(linestrings(np.stack([self.station_m[some], self.reading_m[some]], axis=1)))

    def meeting(self, start: Floats, end: Floats) -> Ints:
        """The beams that meet the line from start to end, in order."""
        line = LineString([start, end])
        found = [
            np.sort(tree.query(line, predicate="intersects")) + number * A_TREE
            for number, tree in enumerate(self.trees)
        ]
        return np.concatenate([np.empty(0, dtype=np.int64), *found])


def beams_of(
    survey: Survey, faces: Sequence[Faces], network: Network, progress: Progress = SILENT
) -> Beams:
    """The beams of all captures that end on a face."""
    sigma = np.nan_to_num(network.sigma())
    parts = [(np.empty((0, 2)), np.empty((0, 2)), 0, np.empty(0))]
    for i, capture in enumerate(survey.captures):
        on = faces[i].face_of_reading >= 0
        xy = network.to_plan(i, capture.xy_m[on])
        turned = np.hypot(sigma[i, 2], noise_of(capture).angle_rad) * capture.distance_m[on]
        error = np.sqrt(sigma[i, 0] ** 2 + sigma[i, 1] ** 2 + turned**2)
        parts.append((np.broadcast_to(network.xy_m[i], xy.shape), xy, i, error))
    capture_of = np.concatenate([np.full(len(xy), i) for _, xy, i, _ in parts]).astype(np.int64)
    levels = np.array([c.level for c in survey.captures], dtype=np.int64)
    progress.at(0.2)
    beams = Beams(
        station_m=np.concatenate([s for s, _, _, _ in parts]),
        reading_m=np.concatenate([xy for _, xy, _, _ in parts]),
        level=levels[capture_of],
        network=network.network[capture_of],
        capture=capture_of,
        sigma_m=np.concatenate([error for _, _, _, error in parts]),
        trees=(),
    )
    return beams.indexed(progress.part(0.2, 1.0))


def crossings(
    beams: Beams, place: tuple[int, int], start: Floats, end: Floats
) -> NDArray[np.int64]:
    """The beams (indices) of a level and network (``place``) that cross the segment from ``start``
    to ``end`` and go on for more than `BEHIND_M` and 3 sigma on its other side."""
    length = float(np.hypot(*(end - start)))
    if length < 1e-9:
        return np.empty(0, dtype=np.int64)
    u = (end - start) / length
    n = np.array([u[1], -u[0]])
    at = beams.meeting(start, end)
    at = at[(beams.level[at] == place[0]) & (beams.network[at] == place[1])]
    before = (beams.station_m[at] - start) @ n
    after = (beams.reading_m[at] - start) @ n
    beyond = BEHIND_M + 3.0 * beams.sigma_m[at]
    through = ((before > 0) & (after < -beyond)) | ((before < -BEHIND_M) & (after > beyond))
    return np.asarray(at[through])


def continuous(span_m: Floats, end: Ints, open_between: list[tuple[float, float]]) -> list[Ints]:
    """Groups of pieces with extents ``span_m (k, 2)`` along one line that form one stretch, in
    order along the line.

    ``end (k, 2)`` tells how each piece ends (`End`); a gap up to `HIDDEN_M` between two ends that
    are hidden behind something is bridged. ``open_between`` are the stretches of the line that
    beams passed through; none of them is bridged.
    """
    order = np.argsort(span_m[:, 0], kind="stable")
    groups: list[list[int]] = []
    reach, reach_end = -np.inf, End.GAP
    for k in order:
        low, high = span_m[k]
        gap = low - reach
        hidden = reach_end == End.OCCLUDED and end[k, 0] == End.OCCLUDED
        cornered = End.CORNER in (reach_end, end[k, 0])
        bridged = gap <= 0.0 or (not cornered and gap <= (HIDDEN_M if hidden else LOST_M))
        passed = any(a < low and b > reach for a, b in open_between) and gap > 0
        if groups and bridged and not passed:
            groups[-1].append(int(k))
        else:
            groups.append([int(k)])
        if high > reach:
            reach, reach_end = high, End(int(end[k, 1]))
    return [np.array(sorted(group)) for group in groups]


def open_gaps(
    beams: Beams, place: tuple[int, int], span_m: Floats, centre_m: Floats, direction: Floats
) -> list[tuple[float, float]]:
    """The gaps between extents ``span_m (k, 2)`` along a line that `FEW_BEAMS` beams or more passed
    through."""
    ordered = span_m[np.argsort(span_m[:, 0], kind="stable")]
    reach = np.maximum.accumulate(ordered[:, 1])
    result = []
    for high, low in zip(reach[:-1], ordered[1:, 0]):
        if 0.02 < low - high <= HIDDEN_M:
            margin = min(0.01, 0.25 * (low - high))
            hits = crossings(
                beams,
                place,
                centre_m + (high + margin) * direction,
                centre_m + (low - margin) * direction,
            )
            if len(hits) >= FEW_BEAMS:
                result.append((float(high), float(low)))
    return result


def contradicted(
    beams: Beams, place: tuple[int, int], start: Floats, end: Floats, captures: Ints, readings: int
) -> bool:
    """Whether beams of other stations than those that show a face (``captures``, sorted) went
    through the middle of it, where it shows, in numbers that compare with its ``readings``:
    something that moved, not a wall. A station that shows a face and sees through it stands before
    a railing or glass."""
    middle, half = 0.5 * (start + end), 0.4 * (end - start)
    hits = crossings(beams, place, middle - half, middle + half)
    others = hits[~np.isin(beams.capture[hits], captures)]
    fewest = max(FEW_BEAMS, 0.3 * readings)
    if len(others) < fewest:
        return False
    # What passed through a doorway in the wall went through nothing.
    shown = _shown(beams, start, end, captures)
    after = np.searchsorted(shown, _crossed_at(beams, others, start, end))
    padded = np.concatenate([[-np.inf], shown, [np.inf]])
    return int((padded[after + 1] - padded[after] <= LOST_M).sum()) >= fewest


def _shown(beams: Beams, start: Floats, end: Floats, captures: Ints) -> Floats:
    """Where the readings of some captures lie on the segment from start to end: sorted distances
    from the start."""
    first = np.searchsorted(beams.capture, captures, side="left")
    last = np.searchsorted(beams.capture, captures, side="right")
    of = np.concatenate([np.arange(a, b) for a, b in zip(first, last)])
    u = (end - start) / np.hypot(*(end - start))
    offset = beams.reading_m[of] - start
    on = np.abs(offset @ np.array([u[1], -u[0]])) < 0.5 * BEHIND_M
    return np.sort(offset[on] @ u)


def _crossed_at(beams: Beams, at: Ints, start: Floats, end: Floats) -> Floats:
    """How far from the start beams cross the line from start to end."""
    u = (end - start) / np.hypot(*(end - start))
    before, after = beams.station_m[at] - start, beams.reading_m[at] - start
    n = np.array([u[1], -u[0]])
    share = (before @ n) / ((before - after) @ n)
    return np.asarray((before + share[:, None] * (after - before)) @ u)
