# SPDX-License-Identifier: GPL-2.0-or-later
"""What all pairs of rough captures across two groups say about laying one over the other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..angles import Floats, turn_matrix
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_frames import between, composed, inverse, moved
from .connect_groups import Groups
from .matching import distinct
from .overlap_field import Field, equations, verdict
from .overlap_search import Candidates

LEAST_SCORE_M = 1.2
LEAST_LEAD_M = 0.45
LEAST_GAP = 0.38
"""What a pose of two groups needs: metres of wall that agree, less those measured through, a lead
over the best different pose in metres, and the lead as a share. Chosen on simulated surveys of
rough captures (grids of rooms, open plans, four equal rooms around a hall, two alike flats); right
and wrong poses overlap near these values, so that they are no proof by themselves."""

MOST_THROUGH = 0.06
"""Metres measured through, as a share of those that agree, that doors and edges explain."""

TOLERANCE_M = 0.07
MOST_CANDIDATES = 40
MOST_POLISHED = 10
DIFFERENT_M, DIFFERENT_RAD = 0.30, float(np.radians(6.0))


@dataclass(frozen=True, eq=False)
class Decision:
    """The one pose of a group in another's frame, what it is worth and its lead in metres."""

    first: int
    second: int
    pose: Floats
    score_m: float
    lead_m: float

    @property
    def gap(self) -> float:
        """The lead as a share of the worth."""
        return min(self.lead_m / max(self.score_m, 1e-9), 1.0)

    @property
    def sure(self) -> bool:
        """Whether it is worth enough and clearly better than any other."""
        return (
            self.score_m >= LEAST_SCORE_M and self.lead_m >= LEAST_LEAD_M and self.gap >= LEAST_GAP
        )


@dataclass(frozen=True, eq=False)
class Across:
    """Asks the captures; `fields` are those of all stations (None: not rough, or too few readings),
    `groups` say where these lie in their groups' frames as they are now, `found` are the candidate
    poses of pairs, the lesser station first."""

    fields: Sequence[Field | None]
    groups: Groups
    found: Mapping[tuple[int, int], Candidates]

    def field(self, station: int) -> Field:
        own = self.fields[station]
        if own is None:
            raise ValueError(f"station {station} has no field")
        return own

    def decide(
        self, first: Sequence[int], second: Sequence[int], progress: Progress = SILENT
    ) -> Decision | None:
        """The pose of the stations `second` (as they lie in their group's frame) among the stations
        `first` that all pairs prefer, with its lead; None when nothing fits."""
        at = self.groups.pose
        poses, worth = [], []
        for i in first:
            for j in second:
                found = self.found.get((min(i, j), max(i, j)))
                if found is None or not len(found):
                    continue
                relative = found.pose if i < j else inverse(found.pose)
                poses.append(composed(composed(at[i], relative), inverse(at[j])))
                worth.append(found.score_m)
        if not poses:
            return None
        start, value = np.concatenate(poses), np.concatenate(worth)
        centre = at[list(second), :2].mean(axis=0)
        keep = self._distinct(start, value, centre, MOST_CANDIDATES)
        start = start[keep]
        score = self.together(first, second, start)
        keep = np.argsort(-score, kind="stable")[:MOST_POLISHED]
        progress.at(0.0)
        pose = self.polished(first, second, start[keep])
        score = self.together(first, second, pose)
        keep = self._distinct(pose, score, centre, 2)
        top = float(score[keep[0]])
        lead = top - max(float(score[keep[1]]), 0.0) if len(keep) > 1 else top
        through, agreed = self._sums(first, second, pose[keep[0]])
        if through > MOST_THROUGH * agreed:
            return None
        return Decision(first[0], second[0], pose[keep[0]], top, lead)

    def _distinct(self, pose: Floats, score: Floats, centre: Floats, most: int) -> Ints:
        """The best poses of a group that differ where its stations are."""
        there = np.column_stack([moved(pose, centre), pose[:, 2]])
        return distinct(there, score, DIFFERENT_M, DIFFERENT_RAD, most)

    def together(self, first: Sequence[int], second: Sequence[int], pose: Floats) -> Floats:
        """What all pairs say about poses ``(H, 3)`` of the second group."""
        at, total = self.groups.pose, np.zeros(len(pose))
        for i in first:
            for j in second:
                relative = between(at[i], composed(pose, at[j]))
                total += verdict(self.field(i), self.field(j), relative, TOLERANCE_M).score_m
        return total

    def _sums(
        self, first: Sequence[int], second: Sequence[int], pose: Floats
    ) -> tuple[float, float]:
        """Metres measured through and metres that agree over all pairs at one pose ``(3,)``."""
        at, through, agreed = self.groups.pose, 0.0, 0.0
        for i in first:
            for j in second:
                relative = between(at[i], composed(pose, at[j]))[None]
                said = verdict(self.field(i), self.field(j), relative, TOLERANCE_M)
                through += float(said.through_m[0]) + float(said.contradicts[0])
                agreed += float(said.agreed_m[0])
        return through, agreed

    def polished(self, first: Sequence[int], second: Sequence[int], pose: Floats) -> Floats:
        """Poses ``(H, 3)`` moved to where all pairs agree best."""
        pose = pose.copy()
        at = self.groups.pose
        for tolerance in (0.12, 0.08, TOLERANCE_M):
            matrix, right = np.zeros((len(pose), 3, 3)), np.zeros((len(pose), 3))
            for i in first:
                for j in second:
                    relative = between(at[i], composed(pose, at[j]))
                    n, r = equations(self.field(i), self.field(j), relative, tolerance)
                    n, r = _in_frame(n, r, at[i], composed(pose, at[j])[:, :2], pose[:, :2])
                    matrix += n
                    right += r
            step = np.linalg.solve(matrix + 0.02 * np.eye(3), right[..., None])[..., 0]
            step[:, :2] = np.clip(step[:, :2], -0.15, 0.15)
            step[:, 2] = np.clip(step[:, 2], -0.05, 0.05)
            pose = pose + step
        return pose


def _in_frame(
    matrix: Floats, right: Floats, pose: Floats, centre: Floats, about: Floats
) -> tuple[Floats, Floats]:
    """Normal equations of a motion about a station, given in another station's frame (`pose`), as
    those of a motion about points `about (H, 2)` in the common frame; `centre (H, 2)` is where the
    moved stations are."""
    h = len(matrix)
    change = np.zeros((h, 3, 3))
    # A shift of the common frame is turned back into the station's; a clockwise turn about another
    # point also shifts the moved station by (arm_y, -arm_x).
    back = turn_matrix(-float(pose[2]))
    change[:, :2, :2] = back
    arm = centre - about
    change[:, :2, 2] = np.stack([arm[:, 1], -arm[:, 0]], axis=-1) @ back.T
    change[:, 2, 2] = 1.0
    turned_over = np.transpose(change, (0, 2, 1))
    return turned_over @ matrix @ change, np.einsum("hij,hj->hi", turned_over, right)
