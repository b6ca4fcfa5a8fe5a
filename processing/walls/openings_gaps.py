# SPDX-License-Identifier: GPL-2.0-or-later
"""Gaps in walls: which of them are doorways, which nobody looked through, which are open plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, along
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .arrangement_pieces import CORNER_M, Piece, Pieces
from .free_space import FreeSpace
from .model import WallFaces
from .openings_jambs import BEFORE_M, HUNG_M, THICKEST_WALL_M, THINNEST_WALL_M, Gap, Jamb, jamb_at
from .openings_leaves import HINGE_M, without_leaves
from .openings_panes import is_glazed

WIDEST_DOORWAY_M = 2.5
WIDEST_DOORWAY_IN_CORNER_M = 1.3
"""Clear widths of doorways (common practice); a doorway whose one jamb is a wall of the room looks
like the end of a wall across a passage, so that only a narrow one is taken for a doorway."""
THICKEST_WALL_IN_CORNER_M = 0.35
"""What is thicker is rather a piece of furniture that ends before a wall."""
LONGEST_PILLAR_M = 1.2
"""What is no longer than this and joins no other wall stands free."""
NARROWEST_SLOT_M = 0.3
WIDEST_CHINK_M = 0.1
"""What is narrower is a few lost readings: nothing stands at its ends."""
NO_JAMB = Jamb(0, float("nan"), float("nan"), float("nan"))
DEEPEST_NICHE_M = 0.35
"""What is closed no further behind than this, between two jambs, is a niche: of the wall, of a
closed door, or of a window that showed no glass."""
LOOK_THROUGH = 0.4
"""A gap is looked through when readings crossed this share of its width."""
ALONG = 0.8
"""Cosine of the angle up to which two walls face the same way."""
SQUARE_TO_WALL = 0.995
"""Cosine of the angle up to which a jamb stands square to its wall (6 degrees, as what is seen of a
jamb tells): the line of a leaf that is not, meets it askew."""
SEEN_BEHIND, BEHIND_M = 0.05, 0.1
"""Something was seen behind a gap when readings reached so far behind the thickest wall over this
share of its width."""


def find_gaps(
    walls: WallFaces,
    pieces: Pieces,
    free: FreeSpace,
    niches: bool = True,
    progress: Progress = SILENT,
) -> tuple[Gap, ...]:
    """The gaps of all walls, judged by what stands at their ends and what was seen through.
    `niches` says whether shallow ones count to the rooms."""
    found: list[tuple[Gap, int, int]] = []
    for p in progress.part(0.0, 0.4).over(np.flatnonzero(pieces.kind == Piece.CLOSURE)):
        start, end = pieces.ends_m[p]
        raw = Gap(
            start, end, pieces.normal[p], _pair(pieces.wall[p]), float("nan"), "open", float("nan")
        )
        chink = raw.width_m < WIDEST_CHINK_M
        before, after = (
            NO_JAMB if chink else jamb_at(raw, end, walls, pieces, free) for end in (0, 1)
        )
        found.append((_between(raw, before, after), before.sign, after.sign))
    closures = len(found)
    for p in progress.part(0.4, 0.8).over(np.flatnonzero(pieces.kind == Piece.EXTENSION)):
        beyond = _beyond_end(int(p), walls, pieces, free)
        if beyond is not None:
            found.append(beyond)
    gaps = [gap for gap, _, _ in found]
    into = _looked_through(gaps, 0.03, free, progress.part(0.8, 0.85))
    through = _looked_through(gaps, THICKEST_WALL_M + BEHIND_M, free, progress.part(0.85, 0.9))
    judged = []
    rows = list(zip(found, into, through))
    for k, ((gap, sign, other), near, far) in enumerate(progress.part(0.9, 1.0).over(rows)):
        kind = _kind(gap, sign, other, near, far)
        framed = not gap.cornered and sign + other > 0 and gap.width_m <= WIDEST_DOORWAY_M
        shallow = not gap.cornered and sign + other >= 0 and gap.width_m <= WIDEST_DOORWAY_M
        if (kind in ("doorway", "unseen") or (kind == "open" and shallow)) and is_glazed(gap, free):
            kind = "window"
        elif kind == "open" and framed and not niches and _is_closed(gap, pieces, DEEPEST_NICHE_M):
            kind = "niche"
        elif kind == "open" and framed and far < SEEN_BEHIND and _is_dark(gap, pieces):
            kind = "unseen"
        if kind in ("doorway", "window") or k < closures:
            judged.append(replace(gap, kind=kind))
    return without_leaves(tuple(judged), pieces)


def _pair(wall: Ints) -> tuple[int, int]:
    return int(wall[0]), int(wall[1])


def _between(gap: Gap, before: Jamb, after: Jamb) -> Gap:
    """The gap from jamb face to jamb face, as far as these were seen."""
    start, end = gap.start_m, gap.end_m
    if np.isfinite(before.shift_m):
        start = start + before.shift_m * gap.step
    if np.isfinite(after.shift_m):
        end = end - after.shift_m * gap.step
    if float((end - start) @ gap.step) <= 0.05:
        start, end = gap.start_m, gap.end_m
    depths = [d for d in (before.depth_m, after.depth_m) if np.isfinite(d)]
    thickness = float(np.mean(depths)) if depths else float("nan")
    sigma = float(np.hypot(before.sigma_m, after.sigma_m))
    return replace(gap, start_m=start, end_m=end, sigma_m=sigma, thickness_m=thickness)


def _kind(gap: Gap, before: int, after: int, into: float, through: float) -> str:
    """What a gap is, by the signs of its jambs and the shares of its width where readings reached
    just behind its wall, and behind the thickest."""
    width = gap.width_m
    if into < LOOK_THROUGH:
        return "unseen"
    if width > WIDEST_DOORWAY_M or width < NARROWEST_SLOT_M:
        return "open"
    if through < SEEN_BEHIND:
        return "open"
    if before + after < 0 and (before == after or width > WIDEST_DOORWAY_IN_CORNER_M):
        return "open"
    return "doorway"


def _is_closed(gap: Gap, pieces: Pieces, deepest_m: float) -> bool:
    """Whether something seen closes a gap no further behind its wall than this, parallel to it and
    over most of its width."""
    near = pieces.backed_near(gap.start_m, gap.end_m, deepest_m)
    near = near[pieces.normal[near] @ gap.normal > 0.98]
    place = gap.place(pieces.ends_m[near].reshape(-1, 2)).reshape(-1, 2, 2)
    depth = place[..., 1].mean(axis=1)
    along_m = np.sort(place[..., 0], axis=1).clip(0.0, gap.width_m)
    behind = (depth > THINNEST_WALL_M) & (depth <= deepest_m)
    return float(np.ptp(along_m[behind], axis=1).sum()) > 0.5 * gap.width_m


def _is_dark(gap: Gap, pieces: Pieces) -> bool:
    """Whether beams entered a gap behind which nothing is known: a pane lost them."""
    wide = gap.width_m >= NARROWEST_SLOT_M
    return wide and not _is_closed(gap, pieces, THICKEST_WALL_M + BEHIND_M)


def _looked_through(
    gaps: list[Gap], depth_m: float, free: FreeSpace, progress: Progress
) -> list[float]:
    """The shares of the gaps' widths where readings reached this far behind their walls."""
    points = [np.empty((0, 2))]
    for gap in gaps:
        count = max(int(gap.width_m / 0.02), 3)
        along_m = (np.arange(count) + 0.5) / count * gap.width_m
        points.append(gap.start_m + along_m[:, None] * gap.step - depth_m * gap.normal)
    seen = free.look(np.concatenate(points), progress)[0]
    parts = np.split(seen, np.cumsum([len(own) for own in points[1:-1]]))
    return [float(part.mean()) for part in parts] if gaps else []


def _beyond_end(
    p: int, walls: WallFaces, pieces: Pieces, free: FreeSpace
) -> tuple[Gap, int, int] | None:
    """The doorway between the end of a wall and what stands across its line, if there is one, and
    the signs of the jambs at both: in a corner a wall of the room, else the other jamb of a doorway
    beside which an open leaf hides the wall."""
    wall = int(pieces.wall[p, 0])
    at_end = _starts_behind(pieces, p)
    near = pieces.ends_m[p, 0 if at_end else 1]
    step = along(walls.normal_rad[wall]) * (1.0 if at_end else -1.0)
    hit = _first_transverse(near, step, pieces.normal[p], pieces)
    if hit is None:
        return None
    distance, other, jamb_m = hit
    if not NARROWEST_SLOT_M <= distance <= WIDEST_DOORWAY_IN_CORNER_M:
        return None
    reach = near + distance * step
    start, end = (near, reach) if at_end else (reach, near)
    normal = pieces.normal[p]
    raw = Gap(start, end, normal, (wall, wall), float("nan"), "open", float("nan"))
    here = jamb_at(raw, 0 if at_end else 1, walls, pieces, free)
    if jamb_m > 0.0 and not is_recess(raw, reach - jamb_m * normal, pieces):
        # one jamb that was seen tells that this is a doorway, and how thick the wall is
        there = Jamb(1, 0.0, HUNG_M, np.nan if np.isfinite(here.depth_m) else jamb_m)
        fits = here.sign >= 0 and jamb_m <= THICKEST_WALL_M
    else:
        there = Jamb(-1, 0.0, 0.0, np.nan)
        fits = here.sign == 1 and here.depth_m <= THICKEST_WALL_IN_CORNER_M
    if not fits:
        return None
    if _stands_free(pieces, p, near, step):
        return None
    if there.sign > 0 and not passed_by_beams(raw, THICKEST_WALL_M + BEHIND_M, free):
        return None
    lever = float((reach - walls.centre_m[other]) @ along(walls.normal_rad[other]))
    sigma = float(np.hypot(walls.sigma_offset_m[other], lever * walls.sigma_normal_rad[other]))
    there = replace(there, sigma_m=float(np.hypot(there.sigma_m, sigma)))
    gap = _between(raw, here, there) if at_end else _between(raw, there, here)
    return replace(gap, cornered=there.sign < 0), here.sign, there.sign


def passed_by_beams(gap: Gap, depth_m: float, free: FreeSpace) -> bool:
    """Whether a station looked through a gap to so far behind its wall, or from there into the
    room; what others saw behind, say from the room next door, is none of the gap's doing."""
    spread = np.arange(-depth_m, gap.width_m + depth_m, 0.02)
    seen = np.zeros(len(spread), dtype=bool)
    for k in free.reaching(gap.start_m, gap.end_m):
        ((along_m, behind),) = gap.place(free.stars[k].centre_m[None])
        if 0.0 <= behind <= depth_m:
            continue
        depth = depth_m if behind < 0.0 else -BEHIND_M
        crossed = along_m + (spread - along_m) * behind / (behind - depth)
        at = np.flatnonzero((crossed > 0.0) & (crossed < gap.width_m))
        points = gap.start_m + spread[at, None] * gap.step - depth * gap.normal
        seen[at] |= free.stars[k].look(points)[0]
    return 0.02 * float(seen.sum()) >= SEEN_BEHIND * gap.width_m


def is_recess(gap: Gap, corner_m: Floats, pieces: Pieces) -> bool:
    """Whether what stands behind a wall's line ends in an inner corner, as the wall in a recess
    does, or the recess is seen to be closed."""
    near = pieces.backed_near(corner_m, corner_m, CORNER_M)
    facing = (pieces.normal[near] @ gap.normal > ALONG).any()
    return bool(facing) or _is_closed(gap, pieces, THICKEST_WALL_M + BEHIND_M)


def _stands_free(pieces: Pieces, p: int, near: Floats, step: Floats) -> bool:
    """Whether the wall of an extension is short and ends in no inner corner of a room on its far
    side: a pillar, or a piece of furniture."""
    own = pieces.backed[pieces.wall[pieces.backed, 0] == pieces.wall[p, 0]]
    back = (pieces.ends_m[own].reshape(-1, 2) - near) @ step
    length = float(-back.min(initial=0.0))
    if length > LONGEST_PILLAR_M:
        return False
    far = near - length * step
    others = pieces.backed_near(far, far, CORNER_M)
    before = (pieces.ends_m[others] - far) @ pieces.normal[p]
    facing = pieces.normal[others] @ step
    return not bool(((before.max(axis=1) > CORNER_M) & (facing > 0.8)).any())


def _starts_behind(pieces: Pieces, p: int) -> bool:
    """Whether an extension continues the end of its wall (else it leads up to the start)."""
    backed = (pieces.kind == Piece.BACKED) & (pieces.wall[:, 0] == pieces.wall[p, 0])
    return bool((np.abs(pieces.ends_m[backed, 1] - pieces.ends_m[p, 0]).max(axis=1) < 1e-9).any())


def _first_transverse(
    near: Floats, step: Floats, across: Floats, pieces: Pieces
) -> tuple[float, int, float] | None:
    """Distance along a wall's line to the first backed piece across it, no further than a doorway
    in a corner is wide, its wall, and how far it reaches behind the line where it stands there
    only, as a jamb does, else 0. Where a leaf hangs at the jamb it is the jamb that counts."""
    reach = near + (WIDEST_DOORWAY_IN_CORNER_M + 0.1) * step
    backed = pieces.backed_near(near, reach, 0.15)
    normal = pieces.normal[backed]
    slope = normal @ step
    offset = pieces.ends_m[backed, 0] - near
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = np.einsum("ij,ij->i", offset, normal) / slope
        at = near + distance[:, None] * step - pieces.ends_m[backed, 0]
    place = np.einsum("ij,ij->i", at, pieces.direction[backed])
    hits: NDArray[np.bool_] = (
        (slope < -0.8) & (distance > 0.1) & (place > -0.1) & (place < pieces.length_m[backed] + 0.1)
    )
    if not hits.any():
        return None
    hits &= distance < distance[hits].min() + HINGE_M
    before = (pieces.ends_m[backed] - near) @ across
    jambs = hits & (before.max(axis=1) < BEFORE_M) & (before.min(axis=1) < -THINNEST_WALL_M)
    jambs &= slope < -SQUARE_TO_WALL
    chosen = np.flatnonzero(jambs if jambs.any() else hits)
    nearest = int(chosen[np.argmin(distance[chosen])])
    depth = -float(before[nearest].min()) if jambs[nearest] else 0.0
    return float(distance[nearest]), int(pieces.wall[backed[nearest], 0]), depth
