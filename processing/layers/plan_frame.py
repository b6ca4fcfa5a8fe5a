# SPDX-License-Identifier: GPL-2.0-or-later
"""From layers that were placed on a site back to the plan's own axes, and out again.

Stations keep their plan coordinates as attributes wherever their points lie, so that every layer of
a plan can be taken back, whatever coordinate system it was moved to: each connected group by the
similarity that brings its plan points onto the stored ones.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from ..angles import Floats
from ..captures.model import Survey
from ..errors import SurveyError
from ..stations.model import Network

UNMOVED = (0.0 + 0.0j, 1.0 + 0.0j)
UNMOVED_M = 1e-9
"""Plan coordinates that were stored and read again are the same to rounding."""

ONE_POINT_M = 1e-3
LARGEST_GAP_M = 0.005
"""Layers of one plan agree with one motion to rounding; more is an edit, or another plan."""


@dataclass(frozen=True)
class PlanFrame:
    """For each connected group the complex numbers (shift, factor) of stored = shift + factor plan,
    x + iy."""

    motions: Mapping[int, tuple[complex, complex]]

    @property
    def moved(self) -> bool:
        """Whether anything lies elsewhere than at its plan coordinates."""
        return any(motion != UNMOVED for motion in self.motions.values())

    def place(self, network: int, xy_m: Floats) -> Floats:
        """Stored coordinates ``(..., 2)`` of plan points of a group."""
        shift, factor = self._of(network)
        return _pair(shift + factor * _complex(xy_m))

    def to_plan(self, network: int, xy: Floats) -> Floats:
        """Plan coordinates ``(..., 2)`` of stored points of a group."""
        shift, factor = self._of(network)
        return _pair((_complex(xy) - shift) / factor)

    def _of(self, network: int) -> tuple[complex, complex]:
        known = self.motions.get(int(network))
        return known if known is not None else next(iter(self.motions.values()))


def plan_frame(
    survey: Survey,
    network: Network,
    station_points: np.ndarray,
    reading_points: np.ndarray | None,
    reading_rows: Mapping[str, np.ndarray] | None,
) -> PlanFrame:
    """The frame of stored layers: points of the stations ``(S,)`` and, for groups of one station,
    of its readings, in the rows of each station.

    A group that is one point alone does not tell how it was turned: it is taken to have moved with
    the first group where that agrees. SurveyError when the points do not belong to the plan
    coordinates.
    """
    motions: dict[int, tuple[complex, complex]] = {}
    alone = {}
    for group in sorted({int(n) for n in network.network}):
        plan, stored = [], []
        for s in np.flatnonzero(network.network == group):
            if station_points[s] is not None and np.isfinite(network.xy_m[s]).all():
                plan.append(network.xy_m[s][None])
                stored.append(shapely.get_coordinates(station_points[s])[:1])
            if reading_points is None or reading_rows is None:
                continue
            rows = reading_rows[network.station[s]]
            there = np.flatnonzero([point is not None for point in reading_points[rows]])
            at = network.to_plan(int(s), survey.captures[s].xy_m[there])
            plan.append(at)
            stored.append(shapely.get_coordinates(reading_points[rows[there]]))
        if not plan:
            continue
        p, q = _complex(np.concatenate(plan)), _complex(np.concatenate(stored))
        good = np.isfinite(p) & np.isfinite(q)
        p, q = p[good], q[good]
        if not len(p):
            continue
        if np.abs(q - p).max(initial=0.0) < UNMOVED_M:
            motions[group] = UNMOVED
        elif np.ptp(p.real) + np.ptp(p.imag) < ONE_POINT_M:
            alone[group] = (p[0], q[0])
        else:
            motions[group] = _motion(p, q, network, group)
    if not motions and not alone:
        raise SurveyError("Layer stations: no station has a point; expected those of a plan.")
    for group, (plan_point, stored_point) in alone.items():
        shift, factor = next(iter(motions.values()), UNMOVED)
        if abs(stored_point - shift - factor * plan_point) > LARGEST_GAP_M * abs(factor):
            (name,) = [n for n, g in zip(network.station, network.network) if g == group][:1]
            raise SurveyError(
                f"Layer stations, station {name}: nothing is tied to it, and its point alone does "
                "not tell how it was turned when it was moved; expected its readings with it."
            )
        motions[group] = (shift, factor)
    return PlanFrame(dict(sorted(motions.items())))


def _motion(p: np.ndarray, q: np.ndarray, network: Network, group: int) -> tuple[complex, complex]:
    middle, goal = p.mean(), q.mean()
    spread = float(np.sum(np.abs(p - middle) ** 2))
    factor = complex(np.sum((q - goal) * np.conj(p - middle)) / spread)
    shift = complex(goal - factor * middle)
    gap = float(np.abs(q - shift - factor * p).max(initial=0.0)) / abs(factor)
    if gap > LARGEST_GAP_M:
        names = [n for n, g in zip(network.station, network.network) if g == group]
        raise SurveyError(
            f"Layers stations and readings: the points of group {group} ({', '.join(names[:6])}) "
            f"differ by up to {gap:.3f} m from their plan coordinates; expected layers of one plan "
            "whose points were not moved one by one."
        )
    return shift, factor


def _complex(xy: Floats) -> np.ndarray:
    return np.asarray(xy[..., 0] + 1j * xy[..., 1])


def _pair(z: np.ndarray) -> Floats:
    return np.stack([z.real, z.imag], axis=-1)
