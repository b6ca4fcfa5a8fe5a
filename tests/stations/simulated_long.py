# SPDX-License-Identifier: GPL-2.0-or-later
"""Surveys of long invented storeys, for how cost grows with the number of stations: a spine with
wings to both sides, a corridor and a dozen rooms each, about 25 stations a wing.

Seeds below 1000 are for tuning, those from 1000 on for reporting.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.model import Survey
from shapely import affinity
from simulated_buildings import _overlaps, _stations
from simulated_plan import Parts, Storey, _storey, _wing
from simulated_rays import FARTHEST_M, capture_among
from surveyed import with_sightings

ROOMS_A_WING = 12
BETWEEN_M = 19.0
"""Wings on one side of the spine stand so far apart."""

GEOTAG_M = 5.0


@dataclass(frozen=True, eq=False)
class LongTruth:
    """What is known: `pose (S, 3)` of the stations in one frame, and the storey."""

    pose: np.ndarray
    storey: Storey

    def honest(self) -> np.ndarray:
        """Which pairs of stations ``(S, S)`` an overlap can tie."""
        level = np.zeros(len(self.pose), dtype=np.int64)
        return _overlaps((self.storey,), self.pose, level)[1]


def long_building(seed, wings, geotags=True) -> tuple[Survey, LongTruth]:
    """A survey with flagged readings, taken room by room, and the truth; with geotags of 5 m, or
    without."""
    rng = np.random.default_rng([17, seed, wings])
    plan = _long_storey(rng, wings)
    pose = np.array([(*at, rng.uniform(-np.pi, np.pi)) for at, _ in _stations(plan, rng)])
    low, high = plan.segments.min(axis=1), plan.segments.max(axis=1)
    captures = []
    for s, (x, y, _) in enumerate(pose):
        own = np.random.default_rng([19, seed, wings, s])
        gap = np.maximum(np.maximum(low - (x, y), (x, y) - high), 0.0)
        near = np.hypot(*gap.T) < FARTHEST_M
        east, north = (x, y) + GEOTAG_M * own.standard_normal(2)
        tag = {
            "longitude_deg": 9.0 + east / 73e3,
            "latitude_deg": 48.5 + north / 111e3,
            "geotag_sigma_m": GEOTAG_M,
        }
        capture, _ = capture_among(
            plan.segments[near],
            plan.surface[near],
            pose[s],
            own,
            station=f"S{s + 1:04d}",
            **(tag if geotags else {}),
        )
        captures.append(capture)
    return flag_readings(Survey(tuple(captures))), LongTruth(pose, plan)


def with_targets(survey, truth, seed) -> Survey:
    """The survey with two targets between each station and the nearest two of those before it, as
    a practitioner sets them up who wants one network: on tripods, wherever that is."""
    rng = np.random.default_rng([23, seed])
    seen: list[dict[str, np.ndarray]] = [{} for _ in survey.captures]
    for s, (*at, _) in enumerate(truth.pose[: len(survey)]):
        away = np.hypot(*(truth.pose[:s, :2] - at).T)
        for other in np.argsort(away, kind="stable")[:2]:
            between = (truth.pose[other, :2] + at) / 2
            for number in range(2):
                name = f"T{s + 1:04d}-{other + 1:04d}-{number}"
                seen[s][name] = seen[other][name] = between + rng.uniform(-1.0, 1.0, 2)
    captures = [
        with_sightings(capture, pose, points, rng) if points else capture
        for capture, pose, points in zip(survey.captures, truth.pose, seen)
    ]
    return replace(survey, captures=tuple(captures))


def _long_storey(rng, wings) -> Storey:
    """A spine along x with wings to both sides."""
    parts = Parts(
        alike=bool(rng.random() < 0.4),
        door=(rng.random(), rng.uniform(0.8, 1.0)),
        notched=rng.choice([0.1, 0.4]),
        windows=rng.choice([0.2, 0.7]),
        furnished=rng.choice([0.3, 1.0]),
    )
    beyond = -(-wings // 2) * BETWEEN_M
    _wing(parts, rng, 0, rng.uniform(1.6, 2.4), (3.0, 4.0), lambda shape: shape, beyond=beyond)
    for k in range(wings):
        at = (10.0 + (k // 2) * BETWEEN_M + rng.uniform(-1, 1), 0.0)
        turn = (90.0 if k % 2 else -90.0) + rng.uniform(-4, 4)

        def place(shape, turn=turn, at=at):
            return affinity.translate(affinity.rotate(shape, turn, origin=(0, 0)), *at)

        module = (rng.uniform(2.6, 4.6), rng.uniform(3.4, 5.5))
        _wing(parts, rng, ROOMS_A_WING, rng.uniform(1.2, 2.4), module, place, lead=1.6)
    return _storey(parts, rng)
