# SPDX-License-Identifier: GPL-2.0-or-later
"""Control points: what is known of them, and which of them a plan holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from ..errors import SurveyError
from ..stations.model import Network

CONTROL_SIGMA_M = 0.01


@dataclass(frozen=True, eq=False)
class Control:
    """Known targets: `name` of each, `xy (n, 2)` in host x, y of the target CRS (its unit),
    `sigma_m (n,)` the standard error of a coordinate in metres (10 mm unless given). Those under
    `station (n,)` are not targets but where the station of that name stood (none unless given).
    One value for all may stand for an array."""

    name: tuple[str, ...]
    xy: Floats
    sigma_m: Floats = field(default_factory=lambda: np.array(CONTROL_SIGMA_M))
    station: NDArray[np.bool_] = field(default_factory=lambda: np.array(False))

    def __post_init__(self) -> None:
        xy = np.asarray(self.xy, dtype=float).reshape(-1, 2)
        sigma, station = np.asarray(self.sigma_m, float), np.asarray(self.station, bool)
        sigma = np.full(len(xy), sigma) if sigma.ndim == 0 else sigma
        station = np.full(len(xy), station) if station.ndim == 0 else station
        if not len(self.name) == len(xy) == len(sigma) == len(station):
            raise SurveyError(
                f"Control points: {len(self.name)} names, {len(xy)} coordinate pairs and "
                f"{len(sigma)} standard errors; expected as many of each."
            )
        both = list(zip(self.name, station.tolist()))
        twice = sorted({name for name, stood in both if both.count((name, stood)) > 1})
        if twice:
            raise SurveyError(
                f"Control points: {', '.join(twice)} occurs more than once; expected one "
                "point a name."
            )
        for name, point, error in zip(self.name, xy, sigma):
            if not np.isfinite(point).all():
                raise SurveyError(f"Control point {name}: its coordinates are not finite numbers.")
            if not (np.isfinite(error) and error > 0):
                raise SurveyError(
                    f"Control point {name}: a standard error of {error:g} m; expected more than 0."
                )
        object.__setattr__(self, "name", tuple(self.name))
        object.__setattr__(self, "xy", xy)
        object.__setattr__(self, "sigma_m", sigma)
        object.__setattr__(self, "station", station)

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True, eq=False)
class Known:
    """A control point of a group: its name, host `xy (2,)` and standard error as in `Control`, and
    its place in the plan, which is that of a target or that of a station (their index; -1 for the
    other one)."""

    name: str
    xy: Floats
    sigma_m: float
    plan_m: Floats
    target: int = -1
    station: int = -1


def known_in(
    network: Network, control: Control | None, targets_of: Sequence[int], stations_of: Sequence[int]
) -> list[Known]:
    """The control points among these targets and stations of the network."""
    if control is None:
        return []
    rows = {both: row for row, both in enumerate(zip(control.name, control.station.tolist()))}
    targets, names = network.targets, network.station
    wanted = [
        *((targets.name[k], False, targets.xy_m[k], k) for k in targets_of),
        *((names[i], True, network.xy_m[i], i) for i in stations_of),
    ]
    return [
        Known(
            name,
            control.xy[rows[name, stood]],
            float(control.sigma_m[rows[name, stood]]),
            plan_m,
            target=-1 if stood else index,
            station=index if stood else -1,
        )
        for name, stood, plan_m, index in wanted
        if (name, stood) in rows
    ]
