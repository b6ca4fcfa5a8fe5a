# SPDX-License-Identifier: GPL-2.0-or-later
"""Beams that went through a pane beside a wall, as all stations of a group together show it.

A window need not lie between two pieces of one wall: a cupboard or a corner may end it. So the line
of every wall is looked along beyond its ends and in its gaps: where beams end on one plane flush
with it or shortly behind, among beams that cross that plane and go on, a pane stands. What crossed
it is seen through glass and says nothing of the room.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, along, unit
from ..captures.model import Flag, Ints, Survey
from ..progress import SILENT, Progress
from .free_space_star import Star
from .model import WallFaces
from .openings_jambs import Gap
from .openings_panes import DEEPEST_PANE_M, FLUSH_M, PLANE_M

SHORTEST_WALL_M = 0.2
LONGEST_FLASH_M = 1.0
"""Where a pane is met squarely it sends enough back to look like a face, so long at most."""
BEYOND_M = 2.6
"""How far beyond the end of a wall a pane is looked for."""
BEHIND_M = 0.15
"""What ends so far behind a pane went through it."""
MOST_PLANES = 4
"""The fullest planes along a wall's line, of which one may be a pane's: the wall going on is
another."""
FEWEST_FLASHES = 8
FEWEST_RETURNS = 3
MIXED_M = 0.03
"""A return is one of a pane when beams go on this near to it on both sides."""
APART_M = 0.5
LEAST_SHARE = 0.03
"""A pane sends back this share of the beams that come to it at least; outliers are fewer."""
SHORTEST_PANE_M = 0.15
STEP_M = 0.05


def seen_through_panes(
    survey: Survey,
    walls: WallFaces,
    backed: dict[int, Floats],
    stars: dict[int, Star],
    progress: Progress = SILENT,
) -> dict[int, Floats]:
    """How far from each station (key of `stars`) its readings ``(n,)`` crossed a pane; infinite for
    those that crossed none.

    `backed` has the intervals ``(k, 2)`` along each wall that readings back.
    """
    place = {name: k for k, name in enumerate(survey.names)}
    found = {s: np.full(len(survey.captures[s]), np.inf) for s in stars}
    for w, spans in progress.over(list(backed.items())):
        length = float(np.diff(spans).sum())
        seeing = {s: stars[s] for s in (place[name] for name in walls.stations[w]) if s in stars}
        edges = np.concatenate([[spans[0, 0] - BEYOND_M], spans.ravel(), [spans[-1, 1] + BEYOND_M]])
        looks = []
        if length >= SHORTEST_WALL_M:
            looks += [(*ends, DEEPEST_PANE_M, FEWEST_RETURNS) for ends in edges.reshape(-1, 2)]
        if length <= LONGEST_FLASH_M:
            looks.append((edges[0], edges[-1], FLUSH_M, FEWEST_FLASHES))
        for low, high, deepest, fewest in looks:
            if high - low < 2 * SHORTEST_PANE_M:
                continue
            step = along(walls.normal_rad[w])
            start, end = walls.centre_m[w] + low * step, walls.centre_m[w] + high * step
            gap = Gap(start, end, unit(walls.normal_rad[w]), (w, w), np.nan, "open", np.nan)
            for s, at, reach_m in _crossing(gap, seeing, deepest, fewest):
                found[s][at] = np.minimum(found[s][at], reach_m)
    return found


def with_glass(survey: Survey, pane_m: dict[int, Floats]) -> Survey:
    """The survey with the readings of each station that crossed a pane flagged so."""
    captures = list(survey.captures)
    for s, reach_m in pane_m.items():
        captures[s] = captures[s].with_flags(np.isfinite(reach_m), Flag.THROUGH_GLASS)
    return replace(survey, captures=tuple(captures))


def _crossing(
    gap: Gap, stars: dict[int, Star], deepest_m: float, fewest: int
) -> list[tuple[int, Ints, Floats]]:
    """The readings of each station that crossed a pane in a gap, no deeper than `deepest_m`, and
    how far from the station they did."""
    if not stars:
        return []
    numbers = np.array(list(stars))
    stations = gap.place(np.array([star.centre_m for star in stars.values()]))
    before_gap = np.flatnonzero(stations[:, 1] <= -FLUSH_M)
    of = [stars[s].returns_between(gap.start_m, gap.end_m) for s in numbers[before_gap].tolist()]
    if not sum(map(len, of)):
        return []
    own = [stars[s] for s in numbers[before_gap].tolist()]
    which = np.repeat(before_gap, [len(at) for at in of])
    ends = gap.place(np.concatenate([star.return_m[at] for star, at in zip(own, of)]))
    reading = np.concatenate([star.return_at[at] for star, at in zip(own, of)])
    keep = ends[:, 1] > -FLUSH_M
    ends, which, reading = ends[keep], which[keep], reading[keep]
    slope = (ends[:, 0] - stations[which, 0]) / (ends[:, 1] - stations[which, 1])
    entered = stations[which, 0] - stations[which, 1] * slope
    keep = (entered > 0.0) & (entered < gap.width_m)
    ends, which, reading = ends[keep], which[keep], reading[keep]
    along_m, depth = ends.T
    entered, slope, station_of = entered[keep], slope[keep], numbers[which]
    # a metre of depth is so long along the ray
    before, stretch = -stations[which, 1], np.hypot(1.0, slope)
    left = np.flatnonzero(depth < deepest_m)
    left = left[np.argsort(depth[left], kind="stable")]
    for _ in range(MOST_PLANES):
        shallow = depth[left]
        last = np.searchsorted(shallow, shallow + PLANE_M, side="right")
        dense = last - np.arange(len(shallow))
        if not len(shallow) or dense.max() < fewest:
            break
        first = int(np.argmax(dense))
        on = left[first : last[first]]
        left = np.delete(left, np.arange(first, last[first]))
        plane = float(np.median(depth[on]))
        at = entered + plane * slope
        beyond = np.flatnonzero(depth > plane + BEHIND_M)
        mixed = on[_between_crossings(along_m[on], station_of[on], at[beyond], station_of[beyond])]
        pane = _pane(np.sort(along_m[on]), np.sort(along_m[mixed]), np.sort(at[beyond]), fewest)
        if pane is not None:
            hit = beyond[(at[beyond] >= pane[0]) & (at[beyond] <= pane[1])]
            reach = (before + plane) * stretch
            return [
                (int(s), reading[own], reach[own])
                for s in np.unique(station_of[hit])
                for own in [hit[station_of[hit] == s]]
            ]
    return []


def _between_crossings(
    returns: Floats, station_of: Ints, crossing: Floats, crossed_by: Ints
) -> NDArray[np.bool_]:
    """Which returns lie close between beams of their own station that went on: at the edge of
    something solid, beams go on at one side only."""
    found = np.zeros(len(returns), dtype=bool)
    for s in np.unique(station_of):
        own = np.flatnonzero(station_of == s)
        padded = np.concatenate([[-np.inf], np.sort(crossing[crossed_by == s]), [np.inf]])
        after = np.searchsorted(padded, returns[own])
        found[own] = (returns[own] - padded[after - 1] < MIXED_M) & (
            padded[after] - returns[own] < MIXED_M
        )
    return found


def _pane(
    returns: Floats, mixed: Floats, crossing: Floats, fewest: int
) -> tuple[float, float] | None:
    """From where to where a pane reaches, by the sorted places of the beams that it sent back, of
    those among them that lie between beams that went on, and of the latter."""
    if len(mixed) < fewest:
        return None
    groups = np.split(mixed, np.flatnonzero(np.diff(mixed) > APART_M) + 1)
    group = max(groups, key=len)
    if len(group) < fewest or np.ptp(group) < SHORTEST_PANE_M:
        return None
    # As far as beams came to its plane without a break.
    came = np.sort(np.concatenate([returns, crossing]))
    pieces = np.split(came, np.flatnonzero(np.diff(came) > 2 * STEP_M) + 1)
    met = [p for p in pieces if p[-1] >= group[0] and p[0] <= group[-1]]
    low, high = float(min(p[0] for p in met)) - 1e-6, float(max(p[-1] for p in met)) + 1e-6
    on, through = (int(((x >= low) & (x <= high)).sum()) for x in (mixed, crossing))
    return (low, high) if on >= LEAST_SHARE * (on + through) else None
