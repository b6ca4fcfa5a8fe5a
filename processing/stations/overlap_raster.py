# SPDX-License-Identifier: GPL-2.0-or-later
"""What a capture sees, as a raster: thousands of poses are judged by looking cells up.

Each cell around the instrument is free space that was measured through, or lies on a face, whose
direction it knows, or says nothing. All rasters have the same cells, so that their bearings and
distances are worked out once.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from ..captures.face_model import Faces
from ..captures.model import Ints
from .connect_frames import turned

CELL_M = 0.10
SIDE = 320
"""Cells along each side: 16 m each way."""

SECTORS = 64
"""Directions of faces that are told apart."""

NEAR_M = 0.12
"""How near a cell's centre lies to a face that passes through it, an approximate pose included."""

_NOTHING, _THROUGH, _FACE = 0, 1, 2

Codes = NDArray[np.uint8]


@lru_cache(maxsize=4)
def _cells(bins: int) -> tuple[Floats, Floats, Floats, Ints]:
    """Easting, northing, distance and bearing bin ``(SIDE * SIDE,)`` of the cells' centres."""
    axis = (np.arange(SIDE) + 0.5) * CELL_M - SIDE * CELL_M / 2
    x, y = (grid.ravel() for grid in np.meshgrid(axis, axis, indexing="ij"))
    place = np.floor(np.arctan2(x, y) * (bins / (2 * np.pi))).astype(np.int64) % bins
    return x, y, np.hypot(x, y), place


def raster_of(faces: Faces, near_m: Floats, face_at: Ints) -> Codes:
    """The raster ``(SIDE * SIDE,)`` of a capture, from what it sees by bearing."""
    x, y, distance, place = _cells(len(near_m))
    with np.errstate(invalid="ignore"):
        codes = np.where(near_m[place] - distance > 2 * NEAR_M, _THROUGH, _NOTHING)
    codes = codes.astype(np.uint8)
    if len(faces):
        height = np.einsum("ij,ij->i", faces.normal, faces.centre_m)
        sector = _FACE + _sector(faces.normal_rad)
        seen = face_at[place]
        normal = faces.normal[face_at]
        across = normal[:, 0][place] * x + normal[:, 1][place] * y - height[face_at][place]
        on = (seen >= 0) & (np.abs(across) < NEAR_M)
        codes[on] = sector[seen[on]]
    border = codes.reshape(SIDE, SIDE)
    border[[0, -1]] = _NOTHING
    border[:, [0, -1]] = _NOTHING
    return codes


def _sector(normal_rad: Floats) -> Ints:
    return np.floor(normal_rad * (SECTORS / (2 * np.pi))).astype(np.int64) % SECTORS


def raster_worth(
    codes: Codes,
    sample_m: Floats,
    normal_rad: Floats,
    length_m: Floats,
    shift: Floats,
    turn: float,
    through_weight: float,
) -> Floats:
    """Metres ``(H,)`` that agree less those measured through, weighted, when samples of another
    capture's faces are turned and laid over a raster at shifts ``(H, 2)``."""
    count = len(sample_m)
    worth = np.zeros((count, _FACE + SECTORS), dtype=np.float32)
    own = _sector(normal_rad + turn)
    for step in (-1, 0, 1):
        worth[np.arange(count), _FACE + (own + step) % SECTORS] = length_m
    worth[:, _THROUGH] = -through_weight * length_m
    at = (turned(sample_m, turn) / CELL_M + SIDE / 2).astype(np.float32)
    move = (shift / CELL_M).astype(np.float32)
    cell = _index(at[:, 0], move[:, 0])
    cell *= SIDE
    cell += _index(at[:, 1], move[:, 1])
    code = codes.take(cell).astype(np.int32)
    code += np.arange(count, dtype=np.int32) * worth.shape[1]
    return np.asarray(worth.ravel().take(code).sum(axis=1), dtype=float)


def _index(at: NDArray[np.float32], move: NDArray[np.float32]) -> NDArray[np.int32]:
    """Cells ``(H, K)`` along one axis; what falls outside counts to the empty border."""
    place = at + move[:, None]
    np.maximum(place, 0, out=place)
    np.minimum(place, SIDE - 1, out=place)
    return place.astype(np.int32)
