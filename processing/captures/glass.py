# SPDX-License-Identifier: GPL-2.0-or-later
"""Glass and mirrors, as far as one capture tells.

A pane sends some beams back and lets others through: within a stretch of wall, readings on the
pane's plane alternate with readings far behind it. An open doorway has none on its plane. A mirror
shows what stands before it: mirrored over its wall, the readings behind fall on what the capture
sees directly. A pane that sends nothing back looks like an open doorway; other stations may tell.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..angles import Floats, azimuth_of, unit
from .behind_walls import (
    BESIDE,
    STEP_M,
    Stretches,
    aligned,
    between_walls,
    steps_in,
    stretches_behind,
)
from .faces_fit import ReadingNoise
from .findings import listed
from .model import Capture, Flag, Ints, Remark
from .turns import FULL_RAD, Turn, compare

CLOSE_RAD = float(np.radians(6.0))
"""Steps in depth that follow each other within this belong to one pane."""

FEWEST_STEPS = 6
"""There and back at three places."""

PANE_DEPTH_M = (-0.03, 0.30)
"""A pane stands flush with its wall or in the reveal behind (a wall's thickness)."""

BEHIND_M = 0.3
"""What is seen through it lies behind the pane by this at least."""

ON_PANE = 4
ISLANDS = 3
"""The pane sends back so many beams at least, at so many places apart: a post in an opening is
one."""

THROUGH = 5
THROUGH_SHARE = 0.2
"""So many beams, and so large a share of them, pass at least: less are stray returns."""

CLEAR = 0.8
"""So large a share is on the pane or behind it, the rest before."""

ACROSS = 4.0
"""Readings within so many standard errors are on a plane."""

LONGEST = 0.5
"""A part without a return from the pane that is longer than this share of the stretch is an open
doorway beside something else."""

MIRRORED = 10
"""So many mirrored readings fall on what is seen directly at least,"""

ALIKE = 0.85
"""so large a share of those whose place is not hidden,"""

FACING = 5
"""and so many of them on things that do not run on straight through the wall: side walls of a
passage continue behind an opening just as in a mirror."""

_RUNS_ON = 0.5

RETURNS = (int(Flag.USABLE), int(Flag.ISOLATED), int(Flag.MIXED))
"""Flags of what came back from a believable distance."""


def check_glass(
    capture: Capture, turns: list[Turn], returns: list[Turn], noise: ReadingNoise
) -> tuple[Capture, tuple[Remark, ...]]:
    """The capture with readings flagged as through glass and as reflection, and the remarks.

    `turns` hold the usable readings, `returns` strays as well: a pane scatters."""
    remarks: list[Remark] = []
    if not turns or len(max(turns, key=len)) < 4 * BESIDE:
        return capture, ()
    mirrored = _mirrored(max(turns, key=len), noise)
    capture = _flagged(capture, mirrored, Flag.REFLECTION)
    if mirrored:
        remarks.append(
            Remark(
                "mirror",
                f"A mirror {_where(capture, mirrored)}: the readings behind it show what stands "
                f"before it; {sum(map(len, mirrored))} are flagged as reflection.",
            )
        )
    through = _seen_through(max(returns, key=len), noise)
    capture = _flagged(capture, through, Flag.THROUGH_GLASS)
    if through:
        remarks.append(
            Remark(
                "glass",
                f"Glass {_where(capture, through)}: some beams come back from its plane, others "
                f"pass; the {sum(map(len, through))} readings behind it are flagged as through "
                "glass.",
            )
        )
    return capture, tuple(remarks)


def _flagged(capture: Capture, places: list[Ints], flag: Flag) -> Capture:
    if not places:
        return capture
    # What a pane scatters looks like outliers to the earlier checks: here is the better reason.
    flags = capture.flag.copy()
    at = np.concatenate(places)
    at = at[np.isin(flags[at], RETURNS)]
    flags[at] = int(flag)
    return replace(capture, flag=flags)


def _where(capture: Capture, places: list[Ints]) -> str:
    angle = capture.angle_deg % 360.0
    spans = [f"from {angle[at[0]]:.1f} to {angle[at[-1]]:.1f} deg" for at in places]
    return listed(spans, 3)


def _seen_through(turn: Turn, noise: ReadingNoise) -> list[Ints]:
    """Places in the capture of the readings behind each pane."""
    found: list[Ints] = []
    step = np.flatnonzero(steps_in(turn))
    if len(step) < FEWEST_STEPS:
        return found
    if turn.closed:
        # No pane is to lie across the turn's end.
        gap = np.diff(np.append(step, step[0] + len(turn)))
        widest = int(np.argmax(gap))
        begin = int(step[widest] + gap[widest] // 2) % len(turn)
        turn, step = turn.begun_at(begin), np.sort((step - begin) % len(turn))
        step = step[step < len(turn) - 1]
    apart = np.diff(turn.angle_rad[step]) > CLOSE_RAD
    for group in np.split(step, np.flatnonzero(apart) + 1):
        if len(group) < FEWEST_STEPS or not _likely(turn, int(group[0]), int(group[-1]) + 1):
            continue
        stretch = _framed(turn, int(group[0]), int(group[-1]) + 1, noise)
        if stretch is not None:
            at = _behind_pane(turn, stretch, noise)
            if len(at):
                found.append(at)
    return found


def _likely(turn: Turn, before: int, after: int) -> bool:
    """Whether, about the chord from before a group of steps to after it, readings near it and
    behind it alternate and few lie before it; cheaper than any fit."""
    own = np.arange(before, after + 1)
    xy = turn.distance_m[own][:, None] * unit(turn.angle_rad[own])
    chord = xy[-1] - xy[0]
    rest = xy - xy[0]
    depth = (rest[:, 1] * chord[0] - rest[:, 0] * chord[1]) / max(float(np.hypot(*chord)), 1e-9)
    if (depth < -BEHIND_M).mean() > 1.0 - CLEAR:
        return False
    behind = (depth > BEHIND_M)[depth > -BEHIND_M]
    return np.count_nonzero(np.diff(behind)) >= 2 * ISLANDS and int(behind.sum()) >= THROUGH


def _framed(turn: Turn, before: int, after: int, noise: ReadingNoise) -> Stretches | None:
    """The tightest stretch around the steps of a group that stands between two sides of a wall."""
    slack = np.arange(0, 16, 2)
    left, right = (x.ravel() for x in np.meshgrid(before - slack, after + slack, indexing="ij"))
    inside = (left >= 0) & (right < len(turn))
    left, right = left[inside], right[inside]
    likely = aligned(turn, left, right)
    stretches = between_walls(turn, left[likely], right[likely], noise)
    if not len(stretches):
        return None
    return stretches.only(int(np.argmin(stretches.last - stretches.first)))


def _behind_pane(turn: Turn, stretch: Stretches, noise: ReadingNoise) -> Ints:
    """Places in the capture of the readings behind the pane of one stretch; none without one."""
    own = np.arange(int(stretch.first[0]), int(stretch.last[0]) + 1)
    r = turn.distance_m[own]
    beam = unit(turn.angle_rad[own])
    depth = stretch.depth_m(0, r[:, None] * beam)
    sigma = np.sqrt(noise.variance_across(r, beam @ stretch.normal[0]))
    none = np.empty(0, dtype=np.int64)
    shallow = (depth > PANE_DEPTH_M[0]) & (depth < PANE_DEPTH_M[1])
    if not shallow.any():
        return none
    pane = float(np.median(depth[shallow]))
    on = np.abs(depth - pane) < ACROSS * np.hypot(sigma, 0.001)
    behind = depth > pane + BEHIND_M
    if on.sum() < ON_PANE or behind.sum() < max(THROUGH, THROUGH_SHARE * len(own)):
        return none
    if (on | behind).mean() < CLEAR:
        return none
    # Places apart: a run on the pane that readings behind it end on both sides.
    state = on.astype(np.int8)[on | behind]
    islands = int(np.count_nonzero(np.diff(state) == 1))
    if islands < ISLANDS:
        return none
    # Where the beams meet the pane, whether they pass or not.
    normal = stretch.normal[0]
    along = (beam @ np.array([-normal[1], normal[0]])) / (beam @ normal)
    apart = np.abs(np.diff(along[on], prepend=along[0], append=along[-1]))
    if apart.max() > LONGEST * abs(float(along[-1] - along[0])):
        return none
    return turn.at[own[behind]]


def _mirrored(turn: Turn, noise: ReadingNoise) -> list[Ints]:
    """Places in the capture of the readings behind each mirror."""
    found: list[Ints] = []
    stretches = stretches_behind(turn, noise)
    m = len(turn)
    for index in range(len(stretches)):
        own = np.arange(stretches.first[index], stretches.last[index] + 1) % m
        if len(own) < MIRRORED:
            continue
        xy = turn.distance_m[own][:, None] * unit(turn.angle_rad[own])
        depth = stretches.depth_m(index, xy)
        if (depth > STEP_M).mean() < CLEAR:
            continue
        own, xy, depth = own[depth > STEP_M], xy[depth > STEP_M], depth[depth > STEP_M]
        normal = stretches.normal[index]
        image = xy + 2.0 * depth[:, None] * normal
        if _is_seen(turn, image, normal, noise):
            found.append(turn.at[own])
    return found


def _is_seen(turn: Turn, image: Floats, normal: Floats, noise: ReadingNoise) -> bool:
    """Whether mirrored points ``(k, 2)`` lie on what the turn sees directly."""
    azimuth = azimuth_of(image) % FULL_RAD
    order = np.argsort(azimuth, kind="stable")
    there = Turn(order, azimuth[order], np.hypot(*image[order].T), turn.step_rad, closed=False)
    seen = compare(turn, there)
    if len(seen) < MIRRORED:
        return False
    tangent = seen.slope / seen.seen_m
    across = (seen.distance_m - seen.seen_m) / np.sqrt(1.0 + tangent**2)
    sigma = seen.sigma_m(noise) / np.sqrt(1.0 + tangent**2)
    # The mirror's line is known to some millimetres; twice its error shifts the image.
    on = np.abs(across) < ACROSS * np.hypot(sigma, 0.003)
    hidden = across > STEP_M
    azimuth_of_face = seen.angle_rad - np.arctan(tangent)
    faces_it = np.abs(unit(azimuth_of_face) @ normal) > _RUNS_ON
    shown = int((~hidden).sum())
    return bool(
        on.sum() >= MIRRORED
        and on.sum() >= ALIKE * shown
        and (on & faces_it).sum() >= FACING
        and on.sum() >= 0.5 * len(image)
    )
