# SPDX-License-Identifier: GPL-2.0-or-later
"""Site fits of simulated surveys, some with a planted blunder, against their truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from roomtie.processing.angles import turn, wrap_half
from roomtie.processing.site.accuracy import far_corner_sigma, with_second_order
from roomtie.processing.site.contradictions import judge
from roomtie.processing.site.model import North, SiteFit
from roomtie.processing.site.observations import COMPASS, GEOTAG, Observations
from roomtie.tests.site.simulated_evidence import SCALE, draw

CORNER = np.array([40.0, -25.0])
BOUNDS = (1.96, 2.448, 1.96, 1.96)
FIVE = {"geotags": 5, "bearings": 5}

Plant = Callable[[np.random.Generator, Observations], tuple[Observations, list[int]]]


def nothing(rng: np.random.Generator, o: Observations) -> tuple[Observations, list[int]]:
    return o, []


def bent_compass(rng: np.random.Generator, o: Observations) -> tuple[Observations, list[int]]:
    """One bearing turned by 20 to 180 degrees, as steel does it."""
    item = int(rng.choice(np.flatnonzero(o.of_kind(COMPASS))))
    bearing = o.bearing_rad.copy()
    bearing[item - o.positions] += np.radians(rng.uniform(20, 180)) * rng.choice([-1, 1])
    return replace(o, bearing_rad=wrap_half(bearing)), [item]


def wrong_geotag(rng: np.random.Generator, o: Observations) -> tuple[Observations, list[int]]:
    """One geotag off by 40 to 150 m, as a reflected signal puts it."""
    item = int(rng.choice(np.flatnonzero(o.of_kind(GEOTAG))))
    host, azimuth = o.host_m.copy(), rng.uniform(0, 2 * np.pi)
    host[item] += rng.uniform(40, 150) * np.array([np.sin(azimuth), np.cos(azimuth)])
    return replace(o, host_m=host), [item]


def both(rng: np.random.Generator, o: Observations) -> tuple[Observations, list[int]]:
    o, first = bent_compass(rng, o)
    o, second = wrong_geotag(rng, o)
    return o, first + second


SCENARIOS: dict[str, tuple[dict[str, int], Plant]] = {
    "five geotags and bearings, no control": (FIVE, nothing),
    "the same, one control point": ({**FIVE, "controls": 1}, nothing),
    "the same, two control points": ({**FIVE, "controls": 2}, nothing),
    "the same, three control points": ({**FIVE, "controls": 3}, nothing),
    "one bent compass in five, no control": (FIVE, bent_compass),
    "one bent compass in five, two control points": ({**FIVE, "controls": 2}, bent_compass),
    "one wrong geotag in five, no control": (FIVE, wrong_geotag),
    "one wrong geotag in five, two control points": ({**FIVE, "controls": 2}, wrong_geotag),
    "both, no control": (FIVE, both),
    "both, two control points": ({**FIVE, "controls": 2}, both),
}


@dataclass(frozen=True, eq=False)
class Outcome:
    """`standardised (n, 4)`: differences from the truth of rotation, origin (Mahalanobis distance),
    and east and north of a corner, in standard errors; the share of planted blunders that were
    `found` (NaN: none planted) and of honest observations that were `lost`."""

    standardised: np.ndarray
    found: float
    lost: float

    def inside(self) -> np.ndarray:
        """The shares ``(4,)`` within the 95 % bounds."""
        return (np.abs(self.standardised) < BOUNDS).mean(axis=0)


def simulated(name: str, surveys: int) -> Outcome:
    """The fits of a scenario's surveys."""
    counts, plant = SCENARIOS[name]
    rng = np.random.default_rng([20260318, list(SCENARIOS).index(name)])
    rows, found, planted, lost, honest = [], 0, 0, 0, 0
    for _ in range(surveys):
        observations, true = draw(
            rng,
            **counts,
            bearing_sigma_deg=rng.uniform(1.0, 4.0),
            geotag_sigma_m=rng.uniform(2.0, 6.0),
        )
        observations, wrong = plant(rng, observations)
        judged, solution = judge(observations, ("",) * len(observations))
        rows.append(standardised(solution.parameters[:3], solution.fit_covariance, true))
        left_out = ~judged.use
        found, planted = found + int(left_out[wrong].sum()), planted + len(wrong)
        lost += int(left_out.sum() - left_out[wrong].sum())
        honest += len(left_out) - len(wrong)
    return Outcome(np.array(rows), found / planted if planted else np.nan, lost / honest)


def standardised(estimate: np.ndarray, covariance: np.ndarray, true: np.ndarray) -> list[float]:
    """The differences of one fit from its truth, in standard errors."""
    off = estimate - true
    off[2] = wrap_half(off[2])
    covariance = with_second_order(covariance)
    fit = SiteFit(
        1, "EPSG:32632", 1.0, *estimate, SCALE, covariance,
        North(0.0, 0.0, "", None, 0.0), (), "", "",
    )  # fmt: skip
    corner = fit.to_target(CORNER) - (true[:2] + SCALE * turn(CORNER, true[2]))
    ellipse = off[:2] @ np.linalg.solve(covariance[:2, :2], off[:2])
    return [
        off[2] / np.sqrt(covariance[2, 2]),
        np.sqrt(ellipse),
        *corner / far_corner_sigma(fit, CORNER),
    ]
