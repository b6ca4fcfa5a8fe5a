# SPDX-License-Identifier: GPL-2.0-or-later
"""The lines that may bound rooms: what readings back of each wall face, and what continues it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, along, unit, wrap_half
from ..captures.model import Ints, Survey
from ..stations.model import Network
from .model import WallFaces

LONGEST_EXTENSION_M = 10.0
SHORTEST_EXTENSION_M = 1.0
LARGEST_EXTENSION_SIGMA_M = 0.05
LONGEST_CLOSURE_M = 6.0
WIDEST_FOOTPRINT_M = 0.30
SAME_DIRECTION_RAD = np.radians(3.0)
SAME_LINE_M = 0.02
CORNER_M = 0.12
"""How near to the end of a wall another one must meet it to form a corner."""
OVERLAP_M = 0.05
"""How far an extension beyond a collinear wall begins before that wall's end, so that it crosses
what stands there."""


class Piece(IntEnum):
    """What a piece of a line is."""

    BACKED = 0
    """Readings lie on it."""
    CLOSURE = 1
    """A gap with the same wall on both sides."""
    EXTENSION = 2
    """Beyond the end of what was seen."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """``P`` straight pieces, each along its wall's direction: free side to the right.

    `ends_m (P, 2, 2)`; `kind (P,)` of `Piece`; `wall (P, 2)` the wall faces at its start and end
    (the same one unless a closure joins two); `blur_m (P, 2)` the standard error of a closure's
    ends along the line where nothing but the readings' spacing fixes them; `from_wall_m (P, 2)`
    how far each end is from what was seen of the wall (infinite where it leads away from it),
    `backed_m (P,)` how much of that wall was seen.
    """

    ends_m: Floats
    kind: Ints
    wall: Ints
    blur_m: Floats
    from_wall_m: Floats
    backed_m: Floats

    def __len__(self) -> int:
        return len(self.kind)

    @property
    def length_m(self) -> Floats:
        """Lengths ``(P,)``."""
        return np.hypot(*(self.ends_m[:, 1] - self.ends_m[:, 0]).T)

    @property
    def direction(self) -> Floats:
        """Unit directions ``(P, 2)``."""
        vector = self.ends_m[:, 1] - self.ends_m[:, 0]
        return vector / np.hypot(*vector.T)[:, None]

    @property
    def normal(self) -> Floats:
        """Unit normals ``(P, 2)`` towards the free side."""
        return self.direction[:, ::-1] * [1.0, -1.0]


@dataclass(frozen=True, eq=False)
class Backed:
    """What readings back of one wall face: intervals ``(k, 2)`` along it from its centre, and the
    readings' usual spacing at their ends ``(k, 2)``."""

    interval_m: Floats
    spacing_m: Floats


def backed_intervals(
    survey: Survey, network: Network, walls: WallFaces, members: Ints
) -> dict[int, Backed]:
    """What readings back of each of the wall faces `members`.

    A reading stands for a stretch as long as the beam's usual step covers there, one missing
    reading bridged. A face without readings of its own counts as backed over its span.
    """
    direction = along(walls.normal_rad)
    normal = unit(walls.normal_rad)
    found: dict[int, list[Floats]] = {int(w): [] for w in members}
    for index, capture in enumerate(survey.captures):
        if index >= len(walls.wall_of_reading) or not len(walls.wall_of_reading[index]):
            continue
        owner = walls.wall_of_reading[index]
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
    return {w: _merged(rows, walls.span_m[w]) for w, rows in found.items()}


def _merged(rows: list[Floats], span: Floats) -> Backed:
    if not rows:
        return Backed(span[None, :].copy(), np.zeros((1, 2)))
    both = np.concatenate(rows)
    both = both[np.argsort(both[:, 0], kind="stable")]
    place, spacing = both[:, 0], both[:, 1]
    reach = np.maximum.accumulate(place + 1.1 * spacing)
    broken = place[1:] - 1.1 * spacing[1:] > reach[:-1]
    starts = np.concatenate([[0], np.flatnonzero(broken) + 1])
    stops = np.concatenate([np.flatnonzero(broken), [len(place) - 1]])
    long = place[stops] - place[starts] > 0.0
    starts, stops = starts[long], stops[long]
    if not len(starts):
        return Backed(span[None, :].copy(), np.zeros((1, 2)))
    return Backed(
        np.column_stack([place[starts], place[stops]]),
        np.column_stack([spacing[starts], spacing[stops]]),
    )


def wall_pieces(
    walls: WallFaces, backed: dict[int, Backed], tolerance_m: float = SAME_LINE_M
) -> Pieces:
    """Cut the lines of the wall faces into backed pieces, closures and extensions.

    Between two faces of the same direction that lie on one line, within three standard errors or
    the tolerance, one closure runs from end to end. Every other end is extended as far as its
    direction is worth something.
    """
    members = np.array(sorted(backed), dtype=np.int64)
    partner = _partners(walls, backed, members, tolerance_m)
    lines = [_Line(walls, int(w), backed[int(w)]) for w in members]
    line_of = {line.wall: line for line in lines}
    rows: list[_Row] = []
    for line in lines:
        rows.extend(line.own())
        after = line_of.get(partner.get((line.wall, 1), -1))
        before = line_of.get(partner.get((line.wall, 0), -1))
        if after is not None:
            rows.append(line.closure_to(after))
        for other, end in ((before, 0), (after, 1)):
            if other is None or other.reach_m < 0.5 * line.reach_m:
                rows.extend(line.extension(end, other))
    pieces = Pieces(
        ends_m=np.array([[r.start_m, r.end_m] for r in rows]).reshape(-1, 2, 2),
        kind=np.array([r.kind for r in rows], dtype=np.int64),
        wall=np.array([r.wall for r in rows], dtype=np.int64).reshape(-1, 2),
        blur_m=np.array([r.blur_m for r in rows]).reshape(-1, 2),
        from_wall_m=np.array([r.from_wall_m for r in rows]).reshape(-1, 2),
        backed_m=np.array([line_of[r.wall[0]].backed_m for r in rows], dtype=float),
    )
    through = _through_walls(pieces)
    # what leads through a wall is no gap of a wall, but both walls' extension
    return replace(pieces, kind=np.where(through, Piece.EXTENSION, pieces.kind))


@dataclass(frozen=True, eq=False)
class _Row:
    start_m: Floats
    end_m: Floats
    kind: Piece
    wall: tuple[int, int]
    blur_m: tuple[float, float] = (0.0, 0.0)
    from_wall_m: tuple[float, float] = (0.0, 0.0)


class _Line:
    """The line of one wall face with what readings back of it."""

    def __init__(self, walls: WallFaces, wall: int, backed: Backed) -> None:
        self.wall = wall
        self.centre_m = walls.centre_m[wall]
        self.step = along(walls.normal_rad[wall])
        self.spans_m = backed.interval_m
        # a uniform distribution over the spacing of the readings
        self.blur_m = backed.spacing_m / np.sqrt(12.0)
        self.reach_m = _extension(walls, wall)
        self.backed_m = float((backed.interval_m[:, 1] - backed.interval_m[:, 0]).sum())

    def at(self, place_m: float) -> Floats:
        return self.centre_m + place_m * self.step

    def own(self) -> list[_Row]:
        """What is backed, and the gaps between."""
        both = (self.wall, self.wall)
        rows = [_Row(self.at(a), self.at(b), Piece.BACKED, both) for a, b in self.spans_m]
        for k in range(len(self.spans_m) - 1):
            start, end = self.at(self.spans_m[k, 1]), self.at(self.spans_m[k + 1, 0])
            blur = (float(self.blur_m[k, 1]), float(self.blur_m[k + 1, 0]))
            rows.append(_Row(start, end, Piece.CLOSURE, both, blur))
        return rows

    def closure_to(self, other: _Line) -> _Row:
        """The gap to a collinear wall further on."""
        start, end = self.at(self.spans_m[-1, 1]), other.at(other.spans_m[0, 0])
        blur = (float(self.blur_m[-1, 1]), float(other.blur_m[0, 0]))
        return _Row(start, end, Piece.CLOSURE, (self.wall, other.wall), blur)

    def extension(self, end: int, past: _Line | None) -> list[_Row]:
        """The line beyond its start (0) or end (1), or beyond a collinear wall there whose own
        direction is worth less."""
        both = (self.wall, self.wall)
        if end == 0:
            begin = float(self.spans_m[0, 0])
            stop = begin - self.reach_m
            if past is not None:
                begin = float((past.at(past.spans_m[0, 0]) - self.centre_m) @ self.step) + OVERLAP_M
            start_m, end_m = self.at(stop), self.at(begin)
        else:
            begin = float(self.spans_m[-1, 1])
            stop = begin + self.reach_m
            if past is not None:
                begin = float((past.at(past.spans_m[-1, 1]) - self.centre_m) @ self.step)
                begin -= OVERLAP_M
            start_m, end_m = self.at(begin), self.at(stop)
        if (stop - begin) * (1 if end else -1) < OVERLAP_M:
            return []
        seen = float(self.spans_m[0, 0] if end == 0 else self.spans_m[-1, 1])
        away = (np.inf, abs(begin - seen)) if end == 0 else (abs(begin - seen), np.inf)
        return [_Row(start_m, end_m, Piece.EXTENSION, both, (0.0, 0.0), away)]


def _extension(walls: WallFaces, w: int) -> float:
    """How far a wall's line is worth extending: while its error across stays small."""
    sigma = float(walls.sigma_normal_rad[w])
    if not np.isfinite(sigma) or sigma <= 0.0:
        return LONGEST_EXTENSION_M
    reach = LARGEST_EXTENSION_SIGMA_M / sigma
    return min(max(reach, SHORTEST_EXTENSION_M), LONGEST_EXTENSION_M)


def _partners(
    walls: WallFaces, backed: dict[int, Backed], members: Ints, tolerance_m: float
) -> dict[tuple[int, int], int]:
    """For the ends (wall, 0 start or 1 end) that face the end of a collinear wall: that wall."""
    if len(members) < 2:
        return {}
    step = along(walls.normal_rad[members])
    normal = unit(walls.normal_rad[members])
    centre = walls.centre_m[members]
    first = np.array([backed[int(w)].interval_m[0, 0] for w in members])
    last = np.array([backed[int(w)].interval_m[-1, 1] for w in members])
    begin, finish = centre + first[:, None] * step, centre + last[:, None] * step
    between = begin[None, :, :] - finish[:, None, :]
    ahead = np.einsum("ijk,ik->ij", between, step)
    aside = np.abs(np.einsum("ijk,ik->ij", between, normal))
    back = np.abs(np.einsum("ijk,jk->ij", between, normal))
    offset = np.nan_to_num(walls.sigma_offset_m[members])
    slope = np.nan_to_num(walls.sigma_normal_rad[members])
    # the error of each line half-way between the two ends
    here = np.hypot(offset[:, None], slope[:, None] * (np.abs(last)[:, None] + ahead / 2))
    there = np.hypot(offset[None, :], slope[None, :] * (np.abs(first)[None, :] + ahead / 2))
    limit = np.clip(3 * np.hypot(here, there), tolerance_m, 4 * tolerance_m)
    turned = np.abs(
        wrap_half(walls.normal_rad[members][:, None] - walls.normal_rad[members][None, :])
    )
    direct = 3 * np.hypot(slope[:, None], slope[None, :])
    fits = (
        (ahead > 1e-6)
        & (ahead <= LONGEST_CLOSURE_M)
        & (np.minimum(aside, back) <= limit)
        & (np.maximum(aside, back) <= 2 * limit)
        & (turned <= np.maximum(SAME_DIRECTION_RAD, np.minimum(direct, 4 * SAME_DIRECTION_RAD)))
    )
    np.fill_diagonal(fits, False)
    gap = np.where(fits, ahead, np.inf)
    chosen: dict[tuple[int, int], int] = {}
    for i in range(len(members)):
        j = int(np.argmin(gap[i]))
        if np.isfinite(gap[i, j]) and int(np.argmin(gap[:, j])) == i:
            chosen[(int(members[i]), 1)] = int(members[j])
            chosen[(int(members[j]), 0)] = int(members[i])
    return chosen


def _through_walls(pieces: Pieces) -> NDArray[np.bool_]:
    """Which closures ``(P,)`` begin or end in an inner corner, where a wall seen on the free side
    looks away from the gap, and go on to meet another wall: what only hides a part of one wall
    (a cupboard) leaves the gap empty."""
    closures = np.flatnonzero(pieces.kind == Piece.CLOSURE)
    backed = np.flatnonzero(pieces.kind == Piece.BACKED)
    through = np.zeros(len(pieces), dtype=bool)
    step, normal = pieces.direction[closures], pieces.normal[closures]
    length = pieces.length_m[closures]
    offset = pieces.ends_m[None, backed] - pieces.ends_m[closures, 0][:, None, None]
    ahead = np.einsum("cbek,ck->cbe", offset, step)
    before = np.einsum("cbek,ck->cbe", offset, normal)
    facing = np.einsum("bk,ck->cb", pieces.normal[backed], step)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (ahead[..., 1] - ahead[..., 0]) / (before[..., 1] - before[..., 0])
        meets = ahead[..., 0] - before[..., 0] * slope
    low, high = before.min(axis=2), before.max(axis=2)
    at_line = (np.abs(facing) > 0.8) & (low < CORNER_M) & (high > -CORNER_M)
    free_side = at_line & (high > CORNER_M)
    corner = free_side & (np.abs(meets) < CORNER_M) & (facing < 0)
    corner |= free_side & (np.abs(meets - length[:, None]) < CORNER_M) & (facing > 0)
    inside = (meets > OVERLAP_M) & (meets < length[:, None] - OVERLAP_M)
    through[closures] = corner.any(axis=1) & (at_line & inside & ~corner).any(axis=1)
    return through


def is_backed(pieces: Pieces) -> NDArray[np.bool_]:
    """Which pieces ``(P,)`` readings lie on."""
    return pieces.kind == Piece.BACKED
