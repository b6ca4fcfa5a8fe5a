# SPDX-License-Identifier: GPL-2.0-or-later
"""Evidence that a tripod moved between its ring and its sightings of targets.

The sightings that were taken out give the station a pose of their own, by the targets as the other
stations place them; its difference from the adjusted pose, with the errors of both, is tested by
chi-square with 3 degrees of freedom (0.1 %: 16.27).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats, turn_matrix
from .choices import TAKEN_OUT
from .connect_frames import inverse, moved, pose_matrix
from .network_evidence import Evidence
from .network_group import AdjustedGroup
from .statistics import critical_value
from .target_poses import fixes_turn

LEFT_M, LEFT_SHARE = 0.010, 0.3
"""A moved tripod has its sightings all moved alike; what is left by more than this, and by more
than this share of the movement, is something else: a mistaken name."""


@dataclass(frozen=True)
class MovedSightings:
    """Sightings of a station (its name) that lie elsewhere than its ring: targets with the misfit
    of each (m), the movement (m, rad), chi-square with 3 degrees of freedom, and the one other
    station that sighted these targets (empty: several), which may be the one that moved."""

    station: str
    targets: tuple[tuple[str, float], ...]
    shift_m: float
    turn_rad: float
    chi_square: float
    other: str

    def __str__(self) -> str:
        each = ", ".join(f"{name} {1e3 * misfit:.0f} mm" for name, misfit in self.targets)
        text = (
            f"its sightings lie {1e3 * self.shift_m:.0f} mm and "
            f"{np.degrees(abs(self.turn_rad)):.2f} deg from where its ring lies ({each}; "
            f"chi-square {self.chi_square:.0f} > {critical_value(3):.2f}): the tripod moved "
            "between the two"
        )
        return text + (f", here or at {self.other}" if self.other else "")


def moved_sightings(evidence: Evidence, group: AdjustedGroup) -> list[MovedSightings]:
    """Stations of a group of whose sightings two or more, and at least half, were taken out, and
    are moved against the ring as a whole; one target sighted twice does not tell that."""
    found = []
    s, at = evidence.sightings, group.target_rows
    used = _used(group)
    for place, station in enumerate(group.members):
        own = np.flatnonzero(s.station[at] == station)
        out = np.array(
            [k for k in own if not used[k] and group.why_out.get(int(at[k])) != TAKEN_OUT],
            dtype=np.int64,
        )
        if len(out) >= 2 and 2 * len(out) >= len(own):
            one = _movement(evidence, group, place, out)
            if one is not None:
                found.append(one)
    return found


def _used(group: AdjustedGroup) -> np.ndarray:
    """Which sightings of a group ``(n,)`` the adjustment used."""
    adjustment = group.snooping.adjustment
    return adjustment.observations.by_item("sightings", adjustment.used).all(axis=1)


def _movement(
    evidence: Evidence, group: AdjustedGroup, place: int, items: np.ndarray
) -> MovedSightings | None:
    adjustment, s = group.snooping.adjustment, evidence.sightings
    rows = group.target_rows[items]
    point = np.searchsorted(group.targets, s.target[rows])
    pose = group.pose[place]
    sighted = s.local_m[rows]
    if not fixes_turn(sighted):
        return None
    expected = moved(inverse(pose), adjustment.unknowns.point_xy_m[point])
    # A clockwise turn about the station moves a point at (x, y) by (y, -x).
    design = np.zeros((len(rows), 2, 3))
    design[:, 0, 0] = design[:, 1, 1] = 1.0
    design[:, 0, 2], design[:, 1, 2] = sighted[:, 1], -sighted[:, 0]
    back = turn_matrix(-pose[2])
    variance = back @ adjustment.point_covariance()[point] @ back.T
    variance = variance + np.eye(2) * (s.spread_m[rows] ** 2)[:, None, None]
    weight = np.linalg.inv(variance)
    normal = np.einsum("nik,nij,njl->kl", design, weight, design)
    right = np.einsum("nik,nij,nj->k", design, weight, expected - sighted)
    motion = np.linalg.solve(normal, right)
    left = expected - sighted - design @ motion
    shift = float(np.hypot(*motion[:2]))
    misfit = np.hypot(*(expected - sighted).T)
    if np.hypot(*left.T).max() > max(LEFT_M, LEFT_SHARE * float(misfit.max())):
        return None
    turn = pose_matrix(-pose[2])
    own = turn @ adjustment.station_covariance()[place] @ turn.T
    chi_square = float(motion @ np.linalg.solve(np.linalg.inv(normal) + own, motion))
    if chi_square <= critical_value(3):
        return None
    return MovedSightings(
        evidence.names[group.members[place]],
        tuple((s.name[s.target[row]], float(m)) for row, m in zip(rows, misfit)),
        shift,
        float(motion[2]),
        chi_square,
        _only_other(evidence, group, rows),
    )


def _only_other(evidence: Evidence, group: AdjustedGroup, rows: Floats) -> str:
    """The station by which alone these targets are placed; empty where there are several."""
    s = evidence.sightings
    used = group.target_rows[_used(group)]
    others = {int(k) for k in s.station[used[np.isin(s.target[used], s.target[rows])]]}
    return evidence.names[others.pop()] if len(others) == 1 else ""
