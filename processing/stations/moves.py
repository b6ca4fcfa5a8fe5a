# SPDX-License-Identifier: GPL-2.0-or-later
"""How far the stations of an earlier plan moved in a new adjustment."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from ..angles import Floats, wrap_half
from .model import Network, Status

CONNECTED = (Status.ADJUSTED, Status.HELD)


@dataclass(frozen=True, eq=False)
class Moves:
    """Stations that moved by `shift_m (n, 2)` and turned by `turn_rad (n,)`, with the standard
    errors ``sigma (n, 3)`` (m, rad) that the earlier plan stated; all in one datum."""

    station: tuple[str, ...]
    status: tuple[Status, ...]
    shift_m: Floats
    turn_rad: Floats
    sigma: Floats

    def __len__(self) -> int:
        return len(self.station)

    @property
    def distance_m(self) -> Floats:
        """How far each moved ``(n,)``."""
        return np.hypot(*self.shift_m.T)

    @property
    def standardised(self) -> Floats:
        """The largest of the moves in x, y and direction over its standard error ``(n,)``; NaN
        where that is zero or not known."""
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.abs(np.column_stack([self.shift_m, self.turn_rad])) / self.sigma
        share[~np.isfinite(share)] = np.nan
        known = np.isfinite(share).any(axis=1)
        return np.where(known, np.nanmax(np.where(known[:, None], share, 0.0), axis=1), np.nan)


def moves_of(earlier: Network, now: Network, names: Collection[str]) -> Moves:
    """The moves of those stations of these names that were connected before and are."""
    place = {name: row for row, name in enumerate(now.station) if name in names}
    pairs = [
        (row, place[name])
        for row, name in enumerate(earlier.station)
        if name in place
        and earlier.status[row] in CONNECTED
        and now.status[place[name]] in CONNECTED
    ]
    before, after = (np.array([pair[k] for pair in pairs], dtype=np.int64) for k in (0, 1))
    return Moves(
        tuple(earlier.station[row] for row in before),
        tuple(now.status[row] for row in after),
        now.xy_m[after] - earlier.xy_m[before],
        wrap_half(now.orientation_rad[after] - earlier.orientation_rad[before]),
        earlier.sigma()[before],
    )
