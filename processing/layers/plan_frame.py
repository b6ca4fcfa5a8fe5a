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

LARGEST_GAP_M = 0.005
"""Layers of one plan agree with one motion to rounding; more is an edit, or another plan."""


@dataclass(frozen=True)
class PlanFrame:
    """For each connected group the complex numbers (shift, factor) of stored = shift + factor plan,
    x + iy."""

    motions: Mapping[int, tuple[complex, complex]]

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

    SurveyError when the points do not belong to the plan coordinates.
    """
    motions = {}
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
        motions[group] = _motion(p[good], q[good], network, group)
    if not motions:
        raise SurveyError("Layer stations: no station has a point; expected those of a plan.")
    return PlanFrame(motions)


def _motion(p: np.ndarray, q: np.ndarray, network: Network, group: int) -> tuple[complex, complex]:
    middle, goal = p.mean(), q.mean()
    spread = float(np.sum(np.abs(p - middle) ** 2))
    if spread < 1e-6:
        # One point alone: nothing tells a turn, so only a shift can be meant.
        return complex(goal - middle), 1.0 + 0.0j
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
