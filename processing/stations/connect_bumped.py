# SPDX-License-Identifier: GPL-2.0-or-later
"""Stations that moved between the ring of readings and the sightings of targets.

A tripod that was bumped gives two places: that of the ring, from which the walls are drawn, and
that of the sightings. The ring's place counts; the sightings are taken out and said so.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_frames import apart, between, composed, fitted, moved
from .connect_groups import Groups
from .matching import match
from .overlap import View, agreement
from .overlap_evidence import tolerance_m
from .overlap_refine import joined_faces, refine_faces
from .overlap_starts import Prior

LEAST_SHIFT_M, LEAST_TURN_RAD = 0.03, np.radians(0.4)
LARGEST_SHIFT_M, LARGEST_TURN_RAD = 0.5, np.radians(6.0)
LEAST_GAIN_M = 1.5
FIT_M = 0.015
NEIGHBOURS = 4
MOST_AROUND = 20


def find_bumped(
    groups: Groups,
    views: Sequence[View],
    level: Ints,
    progress: Progress = SILENT,
    placed: np.ndarray | None = None,
) -> list[int]:
    """Move stations whose ring lies elsewhere than their sightings to where the ring lies, take
    their sightings out, and name them.

    Stations `placed (S,)` by an earlier adjustment stand where their rings lie already (None: none
    are): those whose sightings do not fit there are asked anew from where these put them.
    """
    bumped: list[int] = []
    done: set[int] = set()
    # When one station is put right, the answer for those that it is not near to stays as it was.
    answers: dict[tuple[int, bytes], tuple[float, Floats] | None] = {}
    while True:
        best: tuple[float, int, Floats, Floats] | None = None
        for station in _sighting_stations(groups):
            progress.at(0.0)
            if station in done:
                continue
            here = groups.pose[station]
            if placed is not None and placed[station] and not _sightings_fit(groups, station):
                here = _sighted_pose(groups, station)
            near = _around(groups, level, station, here)
            asked = (station, b"".join(x.tobytes() for x in (near, groups.pose[near], here)))
            if asked not in answers:
                answers[asked] = _ring_pose(groups, views, near, station, here)
            found = answers[asked]
            if found is not None and (best is None or found[0] > best[0]):
                best = (found[0], station, found[1], here)
        if best is None:
            return bumped
        _, station, pose, here = best
        done.add(station)
        shift, turn = apart(pose, here)
        groups.pose[station] = pose
        if _sightings_fit(groups, station):
            # The targets alone had left the pose that uncertain; nothing has moved.
            continue
        why = moved_reason(_suspects(groups, station), float(shift), float(turn))
        for row in np.flatnonzero(groups.sightings.station == station):
            groups.why_out[int(row)] = why
        bumped.append(station)


def _sightings_fit(groups: Groups, station: int) -> bool:
    """Whether a station's sightings lie where the others of its group sighted the targets."""
    s = groups.sightings
    own = np.flatnonzero((s.station == station) & ~groups.out)
    others = np.flatnonzero(
        (groups.group[s.station] == groups.group[station]) & (s.station != station) & ~groups.out
    )
    at = moved(groups.pose[s.station], s.local_m)
    for row in own:
        same = others[s.target[others] == s.target[row]]
        for other in same:
            allowed = 4.0 * np.hypot(s.spread_m[row], s.spread_m[other]) + FIT_M
            if np.hypot(*(at[row] - at[other])) > allowed:
                return False
    return True


def _sighted_pose(groups: Groups, station: int) -> Floats:
    """Where a station's sightings of two targets or more put it, by the others of its group; its
    pose as it is where they do not tell."""
    s = groups.sightings
    own = np.flatnonzero((s.station == station) & ~groups.out)
    others = np.flatnonzero(
        (groups.group[s.station] == groups.group[station]) & (s.station != station) & ~groups.out
    )
    own = own[np.isin(s.target[own], s.target[others])]
    if len(np.unique(s.target[own])) < 2:
        return groups.pose[station]
    at = moved(groups.pose[s.station[others]], s.local_m[others])
    weight = s.spread_m[others] ** -2.0
    seen = np.array(
        [
            np.average(at[same], axis=0, weights=weight[same])
            for same in (s.target[others] == s.target[row] for row in own)
        ]
    )
    return fitted(s.local_m[own], seen, s.spread_m[own] ** -2.0)


def moved_reason(stations: Sequence[str], shift_m: float, turn_rad: float) -> str:
    """The sentence for the sightings of a tripod that moved."""
    return (
        f"the tripod of {' or '.join(stations)} moved by {1e3 * shift_m:.0f} mm and "
        f"{np.degrees(turn_rad):.1f} deg between the ring and the sightings"
    )


def _suspects(groups: Groups, station: int) -> list[str]:
    """The station, and the other one if its targets were sighted from one other station only: then
    either may have moved."""
    s = groups.sightings
    own = s.target[(s.station == station) & ~groups.out]
    others = {int(k) for k in s.station[np.isin(s.target, own) & ~groups.out]} - {station}
    return [groups.names[k] for k in sorted({station, *others} if len(others) == 1 else {station})]


def _sighting_stations(groups: Groups) -> list[int]:
    """Stations that their sightings tie to others."""
    s = groups.sightings
    found = []
    for station in sorted({int(k) for k in s.station[~groups.out]}):
        own = s.target[(s.station == station) & ~groups.out]
        others = (groups.group[s.station] == groups.group[station]) & (s.station != station)
        if np.isin(own, s.target[others & ~groups.out]).any():
            found.append(station)
    return found


def _around(groups: Groups, level: Ints, station: int, here: Floats) -> Ints:
    """The stations of a station's group and storey that stand nearest to a pose, the nearest
    first."""
    others = groups.members(int(groups.group[station]))
    others = others[(others != station) & (level[others] == level[station])]
    away = np.hypot(*(groups.pose[others, :2] - here[:2]).T)
    return others[np.argsort(away, kind="stable")][:MOST_AROUND]


def _ring_pose(
    groups: Groups, views: Sequence[View], near: Ints, station: int, here: Floats
) -> tuple[float, Floats] | None:
    """How many more metres of face agree with the stations `near` when a station is moved from
    `here` to where its ring lies, and that pose; None when the ring lies where the sightings put
    it, or does not tell."""
    if not len(near) or not len(views[station].faces):
        return None
    around = joined_faces([views[s].faces for s in near], groups.pose[near])
    gates = ((0.5, 0.11), (0.3, 0.08), (0.15, 0.05), (0.06, 0.03), (0.04, 0.02))
    start = [here]
    refined = refine_faces(around, views[station].faces, np.array(start), gates)
    shifted, turned = apart(refined.pose[0], here)
    if shifted < LEAST_SHIFT_M / 2 and turned < LEAST_TURN_RAD / 2:
        return None
    for other in near[:NEIGHBOURS]:
        relative = between(groups.pose[other], here)
        prior = Prior(float(relative[2]), LARGEST_TURN_RAD / 4, relative[:2], LARGEST_SHIFT_M / 4)
        found = match(views[other], views[station], prior)
        start.extend(composed(groups.pose[other], found.pose[:2]))
    starts = np.concatenate([np.array(start), refined.pose])
    refined = refine_faces(around, views[station].faces, starts, gates[2:])
    pose = np.concatenate([here[None], refined.pose])
    score = _score(groups, views, near, station, pose)
    shift, turn = apart(pose, here)
    score[(shift > LARGEST_SHIFT_M) | (turn > LARGEST_TURN_RAD)] = -np.inf
    top = int(np.argmax(score))
    gain = float(score[top] - score[0])
    if gain < LEAST_GAIN_M or (shift[top] < LEAST_SHIFT_M and turn[top] < LEAST_TURN_RAD):
        return None
    return gain, pose[top]


def _score(
    groups: Groups, views: Sequence[View], others: Ints, station: int, pose: Floats
) -> Floats:
    """Metres of face ``(H,)`` that a station at poses ``(H, 3)`` shares with others, finely."""
    total = np.zeros(len(pose))
    for other in others:
        relative = between(groups.pose[other], pose)
        tolerance = 0.7 * tolerance_m(views[other], views[station])
        total += agreement(
            views[other], views[station], relative, tolerance, np.radians(1.5)
        ).score_m
    return total
