# SPDX-License-Identifier: GPL-2.0-or-later
"""The lines of the wall faces, cut into what was seen, gaps and extensions."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..angles import Floats, along
from .arrangement_collinear import collinear_ends, through_walls
from .arrangement_pieces import Piece, Pieces
from .arrangement_steps import find_steps
from .model import WallFaces

LONGEST_EXTENSION_M = 10.0
SHORTEST_EXTENSION_M = 1.0
LARGEST_EXTENSION_SIGMA_M = 0.05
"""A line is extended until its error across grows to this, within the two lengths."""
SAME_LINE_M = 0.02
"""Faces this near to one line are on it, whatever their errors say."""
OVERLAP_M = 0.05
"""How far an extension beyond a collinear wall begins before that wall's end, so that it crosses
what stands there."""


def wall_pieces(
    walls: WallFaces, backed: dict[int, Floats], tolerance_m: float = SAME_LINE_M
) -> Pieces:
    """Cut the lines of the wall faces into backed pieces, closures and extensions.

    Between two faces of the same direction that lie on one line, within three standard errors or
    the tolerance, one closure runs from end to end. Every other end is extended as far as its
    direction is worth something, and a short piece leads over steps that have no face.
    """
    members = np.array(sorted(backed), dtype=np.int64)
    partner = collinear_ends(walls, backed, members, tolerance_m)
    lines = [_Line(walls, int(w), backed[int(w)]) for w in members]
    line_of = {line.wall: line for line in lines}
    backed_m = _chained(lines, partner)
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
    rows.extend(_steps(lines, partner))
    pieces = Pieces(
        ends_m=np.array([[r.start_m, r.end_m] for r in rows]).reshape(-1, 2, 2),
        kind=np.array([r.kind for r in rows], dtype=np.int64),
        wall=np.array([r.wall for r in rows], dtype=np.int64).reshape(-1, 2),
        from_wall_m=np.array([r.from_wall_m for r in rows]).reshape(-1, 2),
        backed_m=np.array([backed_m[r.wall[0]] for r in rows], dtype=float),
    )
    through = through_walls(pieces)
    # what leads through a wall is no gap of a wall, but both walls' extension
    return replace(pieces, kind=np.where(through, Piece.EXTENSION, pieces.kind))


def _chained(lines: list[_Line], partner: dict[tuple[int, int], int]) -> dict[int, float]:
    """How much was seen of each wall together with the collinear ones that it goes on in."""
    total: dict[int, float] = {}
    own = {line.wall: line.backed_m for line in lines}
    for wall in own:
        if wall in total:
            continue
        chain = [wall]
        for end in (0, 1):
            at = partner.get((wall, end))
            while at is not None and at not in chain:
                chain.append(at)
                at = partner.get((at, end))
        for member in chain:
            total[member] = sum(own[other] for other in chain)
    return total


def _steps(lines: list[_Line], partner: dict[tuple[int, int], int]) -> list[_Row]:
    place = {line.wall: k for k, line in enumerate(lines)}
    taken = {(place[w], place[v]) for (w, end), v in partner.items() if end == 1 and v in place}
    start_m = np.array([line.at(line.spans_m[0, 0]) for line in lines]).reshape(-1, 2)
    end_m = np.array([line.at(line.spans_m[-1, 1]) for line in lines]).reshape(-1, 2)
    steps = find_steps(start_m, end_m, taken)
    return [
        _Row(start, end, Piece.EXTENSION, (lines[i].wall, lines[j].wall))
        for (i, j), (start, end) in zip(steps.walls.tolist(), steps.ends_m)
    ]


@dataclass(frozen=True, eq=False)
class _Row:
    start_m: Floats
    end_m: Floats
    kind: Piece
    wall: tuple[int, int]
    from_wall_m: tuple[float, float] = (0.0, 0.0)


class _Line:
    """The line of one wall face with what readings back of it."""

    def __init__(self, walls: WallFaces, wall: int, backed: Floats) -> None:
        self.wall = wall
        self.centre_m = walls.centre_m[wall]
        self.step = along(walls.normal_rad[wall])
        self.spans_m = backed
        self.reach_m = _extension(walls, wall)
        self.backed_m = float((backed[:, 1] - backed[:, 0]).sum())

    def at(self, place_m: float) -> Floats:
        return self.centre_m + place_m * self.step

    def own(self) -> list[_Row]:
        """What is backed, and the gaps between."""
        both = (self.wall, self.wall)
        rows = [_Row(self.at(a), self.at(b), Piece.BACKED, both) for a, b in self.spans_m]
        for k in range(len(self.spans_m) - 1):
            start, end = self.at(self.spans_m[k, 1]), self.at(self.spans_m[k + 1, 0])
            rows.append(_Row(start, end, Piece.CLOSURE, both))
        return rows

    def closure_to(self, other: _Line) -> _Row:
        """The gap to a collinear wall further on."""
        start, end = self.at(self.spans_m[-1, 1]), other.at(other.spans_m[0, 0])
        return _Row(start, end, Piece.CLOSURE, (self.wall, other.wall))

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
        return [_Row(start_m, end_m, Piece.EXTENSION, both, away)]


def _extension(walls: WallFaces, w: int) -> float:
    """How far a wall's line is worth extending: while its error across stays small."""
    sigma = float(walls.sigma_normal_rad[w])
    if not np.isfinite(sigma) or sigma <= 0.0:
        return LONGEST_EXTENSION_M
    reach = LARGEST_EXTENSION_SIGMA_M / sigma
    return min(max(reach, SHORTEST_EXTENSION_M), LONGEST_EXTENSION_M)
