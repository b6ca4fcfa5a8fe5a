# SPDX-License-Identifier: GPL-2.0-or-later
"""Panes of glass in gaps of walls, as all stations together show them.

A pane sends a part of the beams back and lets the others through. One station often gets too few
back to tell (`captures.glass` finds panes in single captures); taken together the returns lie on
one plane within the gap, spread over its width, among beams that went on far behind. An open
doorway has nothing on a plane between its jambs.
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from .free_space import FreeSpace
from .openings_jambs import Gap

DEEPEST_PANE_M = 0.35
FLUSH_M = 0.03
"""A pane stands flush with its wall or in the reveal behind, no deeper than a thick wall."""
BESIDE_M = 0.06
"""What is nearer to a jamb may be the jamb."""
PLANE_M = 0.03
"""Returns from a pane lie in a slab so thick (noise, frames, the stations' errors)."""
FEWEST_RETURNS = 3
LEAST_SHARE = 0.02
"""A pane sends back so many beams at least, and this share of those that came to it."""
ON_PLANE = 0.6
"""So large a share of what lies within the gap lies on one pane, or on two."""
NARROWEST_M = 0.05
THROUGH = 0.2
"""What sends beams back is at least so wide, and this share of the beams passes between them: a
post, a leaf or a piece of furniture lets none through."""


def is_glazed(gap: Gap, free: FreeSpace) -> bool:
    """Whether a pane stands in a gap that beams went through."""
    if gap.width_m < 4 * BESIDE_M:
        return False
    within, passed = _beams(gap, free)
    if len(within) < FEWEST_RETURNS or not len(passed):
        return False
    within = within[np.argsort(within[:, 1], kind="stable")]
    on, rest = _fullest_plane(within)
    # two windows side by side may be set differently deep
    flat = len(on) + (len(_fullest_plane(rest)[0]) if len(rest) >= FEWEST_RETURNS else 0)
    if len(on) < max(FEWEST_RETURNS, LEAST_SHARE * len(passed)) or flat < ON_PLANE * len(within):
        return False
    low, high = np.quantile(on[:, 0], [0.1, 0.9])
    share = np.median(on[:, 1]) / passed[:, 1, 1]
    crossing = passed[:, 0, 0] + share * (passed[:, 1, 0] - passed[:, 0, 0])
    between = int(((crossing >= low) & (crossing <= high)).sum())
    return bool(high - low >= NARROWEST_M and between >= THROUGH * (between + 0.8 * len(on)))


def _fullest_plane(ends: Floats) -> tuple[Floats, Floats]:
    """Of places ``(k, 2)`` in a gap, ordered by depth, those on the fullest plane, and the rest."""
    last = np.searchsorted(ends[:, 1], ends[:, 1] + PLANE_M, side="right")
    first = int(np.argmax(last - np.arange(len(ends))))
    return ends[first : last[first]], np.delete(ends, np.arange(first, last[first]), axis=0)


def _beams(gap: Gap, free: FreeSpace) -> tuple[Floats, Floats]:
    """Where beams that entered the gap from its free side ended within it, as (along, behind)
    ``(k, 2)``; and of those that went on far behind where they entered and ended ``(m, 2, 2)``."""
    deepest = gap.thickness_m if np.isfinite(gap.thickness_m) else 0.0
    deepest = max(deepest, DEEPEST_PANE_M) + FLUSH_M
    ended, passed = [np.empty((0, 2))], [np.empty((0, 2, 2))]
    inner = BESIDE_M, gap.width_m - BESIDE_M
    for k in free.reaching(gap.start_m, gap.end_m):
        star = free.stars[k]
        station = gap.place(star.centre_m[None])[0]
        if station[1] > -FLUSH_M:
            continue
        place = gap.place(star.return_m[star.returns_between(gap.start_m, gap.end_m)])
        place = place[place[:, 1] > -FLUSH_M]
        share = -station[1] / (place[:, 1] - station[1])
        entered = station[0] + share * (place[:, 0] - station[0])
        inside = (entered > inner[0]) & (entered < inner[1])
        beyond = inside & (place[:, 1] > deepest)
        within = inside & ~beyond & (place[:, 0] > inner[0]) & (place[:, 0] < inner[1])
        ended.append(place[within])
        entry = np.column_stack([entered, np.zeros(len(entered))])
        passed.append(np.stack([entry, place], axis=1)[beyond])
    return np.concatenate(ended), np.concatenate(passed)
