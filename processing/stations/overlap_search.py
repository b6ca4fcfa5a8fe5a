# SPDX-License-Identifier: GPL-2.0-or-later
"""Poses of one capture in another's frame by the readings themselves, without a starting guess.

A correlative search over all turns and shifts (after Olson, Real-time correlative scan matching,
ICRA 2009), the shifts by fast Fourier transform: one capture is a raster of what a surface of each
direction is worth at each place, the other a histogram of its points. Several local maxima are
kept, since noise and alike rooms make the best of one pair a poor witness.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import fft
from scipy.ndimage import maximum_filter
from scipy.spatial import cKDTree

from ..angles import Floats
from ..progress import SILENT, Progress
from .connect_frames import turned
from .matching import distinct
from .overlap_field import LONE_THROUGH, Field, bearing_bin, refined, verdict

RASTER_M = 0.15
SIDE = 160
"""Cells along each side: shifts up to half of 24 m."""

DIRECTIONS = 8
TURN_STEP_RAD = float(np.radians(4.0))
PEAKS = 6
MOST_TRIED = 100
MOST_REFINED = 24
MOST_KEPT = 10
COARSE_M, FINE_M = 0.15, 0.06
"""Tolerances (1 sigma, m) of the search and of the final verdict. The finer one is what walls of
captures of such instruments agree to."""


@dataclass(frozen=True, eq=False)
class Candidates:
    """Poses ``(H, 3)`` of the second capture in the first one's frame, best first, with what both
    say about them, `score_m (H,)`."""

    pose: Floats
    score_m: Floats

    def __len__(self) -> int:
        return len(self.pose)


def worth_of(field: Field) -> np.ndarray:
    """Transform of the raster of a field: what a point is worth there, by the direction of its
    normal (the last layer: unknown)."""
    half = SIDE * RASTER_M / 2
    axis = (np.arange(SIDE) + 0.5) * RASTER_M - half
    cells = np.stack(np.meshgrid(axis, axis, indexing="ij"), axis=-1).reshape(-1, 2)
    away, own = cKDTree(field.point_m).query(cells)
    distance = np.hypot(cells[:, 0], cells[:, 1])
    spread = np.hypot(COARSE_M, 0.02 * distance)
    agreed = np.exp(-0.5 * (away / spread) ** 2) * (away < 3 * spread)
    depth = np.nan_to_num(field.near_m[bearing_bin(cells)] - distance, nan=-1.0)
    through = np.clip((depth - 2 * spread) / (2 * spread), 0.0, 1.0) * (away > 2 * spread)
    raster = np.empty((DIRECTIONS + 1, SIDE, SIDE), dtype=np.float32)
    azimuth, flat = field.azimuth_rad[own], field.flat[own]
    for k in range(DIRECTIONS):
        middle = (k + 0.5) * 2 * np.pi / DIRECTIONS
        alike = np.clip((np.cos(azimuth - middle) - 0.3) / 0.5, 0.0, 1.0)
        raster[k] = (agreed * np.where(flat, alike, 0.5) - through).reshape(SIDE, SIDE)
    raster[-1] = (0.5 * agreed - LONE_THROUGH * through).reshape(SIDE, SIDE)
    return np.asarray(np.conj(fft.rfft2(raster)))


def candidates(
    first: Field, second: Field, worth: np.ndarray, progress: Progress = SILENT
) -> Candidates:
    """The poses that the readings of two captures support, best first; `worth` is `worth_of` the
    first."""
    found = []
    turns = np.arange(0.0, 2 * np.pi, TURN_STEP_RAD)
    for turn in progress.part(0.0, 0.5).over(turns):
        found.append(_peaks(worth, second, float(turn)))
    start = np.concatenate(found)
    pose, rough = start[:, :3], start[:, 3]
    keep = distinct(pose, rough, 0.3, 0.09, MOST_TRIED)
    progress.at(0.6)
    pose = pose[keep]
    score = verdict(first, second, pose, COARSE_M).score_m
    pose = pose[np.argsort(-score, kind="stable")[:MOST_REFINED]]
    progress.at(0.8)
    pose, _ = refined(first, second, pose, (0.15, 0.15, 0.10, 0.08, FINE_M, FINE_M))
    score = verdict(first, second, pose, FINE_M).score_m
    keep = distinct(pose, score, 0.2, 0.07, MOST_KEPT)
    keep = keep[score[keep] > 0]
    return Candidates(pose[keep], score[keep])


def _peaks(worth: np.ndarray, second: Field, turn_rad: float) -> Floats:
    """The best shifts at one turn ``(k, 4)``: pose and worth."""
    at = turned(second.point_m, turn_rad)
    cell = np.floor(at / RASTER_M).astype(np.int64) % SIDE
    sector = np.floor((second.azimuth_rad + turn_rad) / (2 * np.pi / DIRECTIONS)).astype(np.int64)
    layer = np.where(second.flat, sector % DIRECTIONS, DIRECTIONS)
    flat = (layer * SIDE + cell[:, 0]) * SIDE + cell[:, 1]
    points = np.bincount(flat, second.length_m, (DIRECTIONS + 1) * SIDE * SIDE)
    points = points.reshape(DIRECTIONS + 1, SIDE, SIDE).astype(np.float32)
    product = np.einsum("kij,kij->ij", fft.rfft2(points), worth)
    total = fft.irfft2(product, s=(SIDE, SIDE))
    # The transform gives the sum at minus the shift, cyclically.
    total = np.roll(total[::-1, ::-1], 1, axis=(0, 1))
    top = np.flatnonzero((total == maximum_filter(total, 5, mode="wrap")) & (total > 0))
    top = top[np.argsort(-total.ravel()[top], kind="stable")[:PEAKS]]
    i, j = np.unravel_index(top, total.shape)
    half = SIDE * RASTER_M / 2
    turn = np.full(len(top), turn_rad)
    return np.column_stack([i * RASTER_M - half, j * RASTER_M - half, turn, total.ravel()[top]])
