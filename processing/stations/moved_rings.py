# SPDX-License-Identifier: GPL-2.0-or-later
"""Evidence that a tripod moved during its ring of readings.

The faces of the first part of the ring and those of the rest are laid over the faces of the other
stations each by themselves. The difference of the two poses, with the errors of both, is tested by
chi-square with 3 degrees of freedom; the part at which it is largest says when the tripod moved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from ..angles import Floats, wrap_half
from ..captures.face_model import Faces
from ..captures.model import Capture, Ints, Kind
from ..progress import SILENT, Progress
from .connect_frames import apart
from .network_evidence import Evidence
from .network_group import AdjustedGroup
from .overlap_refine import joined_faces, refine_faces

SPLITS = (0.5, 0.3, 0.7, 0.4, 0.6, 0.2, 0.8)
"""Where a ring is parted, as shares of its readings; the first decides whether to look closer."""

LEAST_FACES = 3
MOST_AROUND = 12
LEAST_SHIFT_M, LEAST_TURN_RAD = 0.010, np.radians(0.2)
"""Less than this moves no wall visibly, and rough plaster does as much."""

LARGEST_SHIFT_M, LARGEST_TURN_RAD = 0.20, np.radians(4.0)
"""More is no bump: faces were taken for others."""

CHANCE = 1e-6
"""The probability of a chi-square that large without a movement: many rings are looked at, and
plaster, doors and furniture make differences of their own."""

GATES = ((0.30, 0.08), (0.15, 0.05), (0.06, 0.03), (0.03, 0.02), (0.03, 0.02))


@dataclass(frozen=True)
class MovedRing:
    """A station whose ring is of two places: the angle (deg) of the reading after which they
    differ, the movement (m, rad), chi-square with 3 degrees of freedom, and the number of faces of
    both parts that other stations see."""

    station: str
    after_deg: float
    shift_m: float
    turn_rad: float
    chi_square: float
    faces: int

    def __str__(self) -> str:
        return (
            f"the readings after {self.after_deg:.0f} deg lie {1e3 * self.shift_m:.0f} mm and "
            f"{np.degrees(self.turn_rad):.2f} deg from those before, by {self.faces} faces that "
            f"other stations see (chi-square {self.chi_square:.0f} > "
            f"{chi2.isf(CHANCE, 3):.1f}): the tripod moved during the capture"
        )


def moved_rings(
    captures: Sequence[Capture],
    evidence: Evidence,
    group: AdjustedGroup,
    progress: Progress = SILENT,
) -> list[MovedRing]:
    """Stations of a group whose ring is of two places, the clearest first.

    As with other blunders one is found at a time: what a moved ring says against its neighbours
    does not count once it is known.
    """
    pose = np.zeros((len(evidence.names), 3))
    pose[group.members] = group.pose
    trusted = group.members

    def test(station: int) -> MovedRing | None:
        turn = _turn_of(captures[station], evidence.faces[station])
        around = _around(evidence, trusted, pose, station)
        if turn is None or around is None:
            return None
        one = _movement(around, evidence.faces[station], turn, pose[station])
        return None if one is None else MovedRing(evidence.names[station], *one)

    tested = [(test(int(s)), int(s)) for s in progress.over(list(group.members))]
    waiting = {station: one for one, station in tested if one is not None}
    found = []
    while waiting:
        station = max(waiting, key=lambda s: (waiting[s].chi_square, -s))
        found.append(waiting.pop(station))
        trusted = trusted[trusted != station]
        again = {s: test(s) for s in waiting}
        waiting = {s: one for s, one in again.items() if one is not None}
    return found


@dataclass(frozen=True, eq=False)
class _Turn:
    """When the faces ``(F,)`` of a ring were measured, as shares of its readings, and the angles
    (deg) of the readings in their order."""

    when: Floats
    angle_deg: Floats


def _turn_of(capture: Capture, faces: Faces) -> _Turn | None:
    """The order of a ring of one turn; None for several turns, whose faces are of all of them, and
    where there are too few faces."""
    ring = np.flatnonzero((capture.kind == Kind.RING) & (faces.face_of_reading >= 0))
    if len(faces) < 2 * LEAST_FACES or not len(ring):
        return None
    every = np.flatnonzero(capture.kind == Kind.RING)
    angle = capture.angle_deg[every]
    turned = np.abs(np.diff(np.unwrap(np.radians(angle)))).sum()
    if turned > 1.05 * 2 * np.pi:
        return None
    of = faces.face_of_reading[ring]
    share = np.searchsorted(every, ring) / len(every)
    count = np.bincount(of, minlength=len(faces))
    middle = np.bincount(of, share, len(faces)) / np.maximum(count, 1)
    # A face seen at the start and the end of the turn belongs to neither part.
    first, last = np.full(len(faces), 2.0), np.full(len(faces), -1.0)
    np.minimum.at(first, of, share)
    np.maximum.at(last, of, share)
    return _Turn(np.where(last - first > 0.5, np.nan, middle), angle)


def _around(evidence: Evidence, members: Ints, pose: Floats, station: int) -> Faces | None:
    """The faces of the nearest other stations of a storey in the group's frame."""
    others = members[(members != station) & (evidence.level[members] == evidence.level[station])]
    away = np.hypot(*(pose[others, :2] - pose[station, :2]).T)
    near = others[np.argsort(away, kind="stable")][:MOST_AROUND]
    near = near[[len(evidence.faces[s]) > 0 for s in near]] if len(near) else near
    return joined_faces([evidence.faces[s] for s in near], pose[near]) if len(near) else None


def _movement(
    around: Faces, faces: Faces, turn: _Turn, pose: Floats
) -> tuple[float, float, float, float, int] | None:
    best: tuple[float, float, float, float, int] | None = None
    for split in SPLITS:
        one = _at(around, faces, turn, pose, split)
        if one is not None and (best is None or one[3] > best[3]):
            best = one
        if split == SPLITS[0] and (best is None or best[3] < chi2.isf(0.01, 3)):
            return None
    if best is None or best[3] < chi2.isf(CHANCE, 3):
        return None
    _, shift, turned, _, _ = best
    if shift > LARGEST_SHIFT_M or turned > LARGEST_TURN_RAD:
        return None
    return best if shift >= LEAST_SHIFT_M or turned >= LEAST_TURN_RAD else None


def _at(
    around: Faces, faces: Faces, turn: _Turn, pose: Floats, split: float
) -> tuple[float, float, float, float, int] | None:
    """Angle of the split, movement, chi-square and number of faces of a ring parted at a share of
    its readings; None where one part does not tell its place."""
    parts = [faces.without_readings(part) for part in (turn.when < split, turn.when >= split)]
    if min(len(part) for part in parts) < LEAST_FACES:
        return None
    placed = [refine_faces(around, part, pose[None], GATES) for part in parts]
    if min(int(one.pairs[0]) for one in placed) < LEAST_FACES:
        return None
    before, after = placed
    shift, turned = apart(before.pose[0], after.pose[0])
    covariance = before.covariance[0] + after.covariance[0]
    difference = after.pose[0] - before.pose[0]
    difference[2] = wrap_half(difference[2])
    chi_square = float(difference @ np.linalg.solve(covariance, difference))
    at = turn.angle_deg[min(int(split * len(turn.angle_deg)), len(turn.angle_deg) - 1)]
    count = int(before.pairs[0]) + int(after.pairs[0])
    return float(at), float(shift), float(turned), chi_square, count
