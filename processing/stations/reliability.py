# SPDX-License-Identifier: GPL-2.0-or-later
"""What an error that the tests do not find would do.

Internal reliability is the minimal detectable bias of an observation (`statistics.detectable`:
delta0 sigma / sqrt(r) with delta0 = 4.13 for a test of 0.1 % and a power of 80 %); external
reliability is what a bias of that size does to the results: Baarda, *A testing procedure for use in
geodetic networks* (1968).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats
from ..progress import SILENT, Progress
from .adjustment import Adjustment
from .statistics import Statistics, noncentrality

LEAST_CONTROL = 0.05
"""An observation with less redundancy is hardly controlled: data snooping does not reject it."""

RESTS = 0.5
"""A station that follows an error of one observation by this share and more rests on it."""

LEAST_SHIFT_M = 0.005
"""What moves stations by less, unseen, is not worth a word."""

_CHUNK = 32


@dataclass(frozen=True)
class Unseen:
    """The error of one observation that goes unseen with a probability of 20 % and moves a station
    most: the observation in words, its size in the observation's unit, whether that is an angle
    (rad) or a length (m), the station, and its shift (m)."""

    observation: str
    size: float
    angular: bool
    station: str
    shift_m: float


def largest_unseen(
    adjustment: Adjustment, statistics: Statistics, progress: Progress = SILENT
) -> Unseen | None:
    """Of all used observations that others control (`LEAST_CONTROL`), the one whose minimal
    detectable bias moves a station most; None without such an observation or station.

    No result f is moved by more than sqrt(lambda0 (1 - r) / r) of its standard error (Baarda):
    stations known too well for that are not looked at.
    """
    stations = len(adjustment.unknowns.station)
    # The least redundancy in any direction bounds what a correlated item may do.
    control = np.where(adjustment.used, statistics.control, 0.0)
    tried = np.flatnonzero((control >= LEAST_CONTROL) & np.isfinite(statistics.detectable))
    if not len(tried) or not stations:
        return None
    blocks = adjustment.station_covariance()[:, :2, :2]
    sigma_m = np.sqrt(np.linalg.eigvalsh(blocks)[:, 1].clip(0.0))
    passed_on = 1.0 / np.minimum(control[tried], 1.0) - 1.0
    most = float(np.sqrt(_noncentralities(adjustment)[tried] * passed_on).max())
    size = statistics.detectable[tried]
    order = np.argsort(-sigma_m, kind="stable")
    best: tuple[float, int, int] = (0.0, -1, -1)
    for first in range(0, stations, _CHUNK):
        some = order[first : first + _CHUNK]
        if sigma_m[some[0]] * most <= best[0]:
            break
        progress.at(first / stations)
        follow = adjustment.response(3 * some[:, None] + np.arange(2))[tried] * size[:, None]
        shift = np.hypot(follow[:, 0::2], follow[:, 1::2])
        at, column = np.unravel_index(int(np.argmax(shift)), shift.shape)
        if shift[at, column] > best[0]:
            best = (float(shift[at, column]), int(tried[at]), int(some[column]))
    shift_m, row, place = best
    if row < 0:
        return None
    observations = adjustment.observations
    return Unseen(
        observations.describe(adjustment.unknowns, row),
        float(statistics.detectable[row]),
        _is_angle(adjustment, row),
        adjustment.unknowns.station[place],
        shift_m,
    )


@dataclass(frozen=True)
class Rest:
    """Stations that rest on one observation hardly controlled by others: they follow at most the
    `share` of its error against the other stations. `redundancy` and `detectable_m`, its minimal
    detectable bias, are the observation's."""

    observation: str
    stations: tuple[str, ...]
    share: float
    redundancy: float
    detectable_m: float

    @property
    def shift_m(self) -> float:
        """How far an error that may go unseen moves them at most."""
        return self.share * self.detectable_m


def resting(
    adjustment: Adjustment, statistics: Statistics, progress: Progress = SILENT
) -> list[Rest]:
    """Stations that rest on one length that hardly anything controls: each with the observation
    that it follows most, those of one together, those first that an unseen error moves farthest."""
    names = adjustment.unknowns.station
    control = np.where(adjustment.used, statistics.control, np.inf)
    rows = np.array(
        [r for r in np.flatnonzero(control < LEAST_CONTROL) if not _is_angle(adjustment, int(r))],
        dtype=np.int64,
    )
    most, by = np.zeros(len(names)), np.full(len(names), -1, dtype=np.int64)
    for first in range(0, len(rows), _CHUNK):
        progress.at(first / len(rows))
        some = rows[first : first + _CHUNK]
        moved = _motions(adjustment, some, np.ones(len(some)))
        # What moves most stations alike moves the network, not a station in it.
        share = np.hypot(*np.moveaxis(moved - np.median(moved, axis=0), 1, 0))
        best = np.argmax(share, axis=1)
        largest = share[np.arange(len(names)), best]
        by = np.where(largest > most, some[best], by)
        most = np.maximum(most, largest)
    rests: dict[str, list[int]] = {}
    for k in np.flatnonzero(most >= RESTS):
        # The components of one correlated tie are one observation.
        text = adjustment.observations.describe(adjustment.unknowns, int(by[k]))
        rests.setdefault(text, []).append(int(k))
    found = [
        Rest(
            text,
            tuple(names[k] for k in of),
            float(most[of].max()),
            max(float(control[by[of]].min()), 0.0),
            float(statistics.detectable[by[of]].max()),
        )
        for text, of in rests.items()
    ]
    far = [rest for rest in found if rest.shift_m >= LEAST_SHIFT_M]
    return sorted(far, key=lambda rest: -rest.shift_m)


def _noncentralities(adjustment: Adjustment) -> Floats:
    """The noncentrality ``(m,)`` at which the test of each row has its power."""
    found = np.full(adjustment.observations.rows, noncentrality(1))
    for _, kind, rows in adjustment.observations.kinds():
        if kind.correlated:
            found[rows] = noncentrality(kind.components)
    return found


_ANGLES = ("angles", "azimuths", "orientations", "surface_directions")


def _is_angle(adjustment: Adjustment, row: int) -> bool:
    name, _, component = adjustment.observations.locate(row)
    ends = {"sightings": 0, "relative_poses": 2}
    return name in _ANGLES or ends.get(name) == component


def _motions(adjustment: Adjustment, rows: np.ndarray, bias: Floats) -> Floats:
    """How each station ``(S, 2, k)`` moves by a bias in each of k rows."""
    change = np.zeros((adjustment.observations.rows, len(rows)))
    change[rows, np.arange(len(rows))] = bias
    follow, _, _ = adjustment.influence(change)
    poses = follow[: 3 * len(adjustment.unknowns.station)].reshape(-1, 3, len(rows))
    return np.asarray(poses[:, :2])
