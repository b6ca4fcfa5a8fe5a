# SPDX-License-Identifier: GPL-2.0-or-later
"""Rooms of two dates, and what became of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from ..angles import Floats
from ..captures.model import Ints

UNCHANGED, RESHAPED, MOVED, SPLIT, MERGED, NEW, REMOVED, UNRESOLVED = CHANGES = (
    "unchanged",
    "reshaped",
    "moved",
    "split",
    "merged",
    "new",
    "removed",
    "unresolved",
)
KEEP, REPLACE, INSERT, SUPERSEDE, NOTHING = ACTIONS = (
    "keep",
    "replace",
    "insert",
    "supersede",
    "none",
)
"""What an update makes of a row: nothing (`keep`: the room stays as it is, `none`: a person has to
decide), a new outline for the same identifier, a new room, the end of a room."""

STRAIGHT_M = 0.001
"""Corners that lie this near to the line of their neighbours are none."""


@dataclass(frozen=True, eq=False)
class RoomSet:
    """``n`` rooms of one date in one plane of metres on the ground.

    `polygon (n,)` are valid polygons or multipolygons, `level (n,)` the storeys. `area_m2`,
    `sigma_area_m2`, `sigma_edge_m (n,)` are areas and standard errors (1 sigma) of an area and of
    the place of an edge. `doubt` is empty, or says why a room's outline is not to be trusted.
    """

    id: tuple[str, ...]
    name: tuple[str, ...]
    level: Ints
    polygon: NDArray[Any]
    area_m2: Floats
    sigma_area_m2: Floats
    sigma_edge_m: Floats
    doubt: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.id)

    def taken(self, order: Sequence[int] | Ints) -> RoomSet:
        """The rooms of these indices, in this order."""
        return RoomSet(
            tuple(self.id[i] for i in order),
            tuple(self.name[i] for i in order),
            self.level[order],
            self.polygon[order],
            self.area_m2[order],
            self.sigma_area_m2[order],
            self.sigma_edge_m[order],
            tuple(self.doubt[i] for i in order),
        )

    def placed(self, polygon: NDArray[Any]) -> RoomSet:
        """The same rooms with these outlines."""
        return replace(self, polygon=polygon)


def edge_root(polygon: NDArray[Any]) -> Floats:
    """Square roots ``(n,)`` of the sums of squared edge lengths (m).

    An edge of length L that is off by d along its normal changes the area by L d, so that edges
    with independent errors sigma give an area an error of sigma times this root (propagation of
    errors: Ghilani, *Adjustment Computations*, ch. 6). Corners that are none are left out first:
    the parts of one straight wall are not independent.
    """
    roots = np.zeros(len(polygon))
    for i, shape in enumerate(shapely.simplify(polygon, STRAIGHT_M)):
        squares = 0.0
        for part in shapely.get_parts(shape):
            for ring in (part.exterior, *part.interiors):
                steps = np.diff(shapely.get_coordinates(ring), axis=0)
                squares += float((steps**2).sum())
        roots[i] = np.sqrt(squares)
    return roots


def edges_by_areas(polygon: Sequence[Any], sigma_area_m2: Floats) -> Floats:
    """Standard errors (m) of the edges of rooms by those of their areas ``(n,)``, as if all edges
    of a room were off by as much, independently."""
    shapes = np.empty(len(polygon), dtype=object)
    shapes[:] = list(polygon)
    return np.asarray(sigma_area_m2 / np.maximum(edge_root(shapes), 1e-9))


def room_set(
    ids: Sequence[str],
    polygon: Sequence[Any],
    level: Sequence[int] | Ints,
    sigma_edge_m: Sequence[float] | Floats | float,
    name: Sequence[str] | None = None,
    area_m2: Sequence[float] | Floats | None = None,
    sigma_area_m2: Sequence[float] | Floats | None = None,
    doubt: Sequence[str] | None = None,
) -> RoomSet:
    """Rooms of columns; what is not given comes from the outlines. Standard errors of areas that
    are NaN follow from those of the edges."""
    shapes = np.empty(len(ids), dtype=object)
    shapes[:] = list(polygon)
    area = shapely.area(shapes) if area_m2 is None else np.asarray(area_m2, dtype=float)
    edge = np.broadcast_to(np.asarray(sigma_edge_m, dtype=float), (len(ids),)).copy()
    root = np.maximum(edge_root(shapes), 1e-9)
    if sigma_area_m2 is None:
        sigma_area = edge * root
    else:
        sigma_area = np.asarray(sigma_area_m2, dtype=float)
        sigma_area = np.where(np.isnan(sigma_area), edge * root, sigma_area)
    return RoomSet(
        tuple(ids),
        tuple(name) if name is not None else ("",) * len(ids),
        np.asarray(level, dtype=np.int64),
        shapes,
        area,
        sigma_area,
        edge,
        tuple(doubt) if doubt is not None else ("",) * len(ids),
    )


@dataclass(frozen=True)
class Change:
    """One old room beside one new room, or one of them alone (-1: none): indices into the two sets.

    `group` numbers what belongs together (all rows of a split). `offset_m` is the largest distance
    between the two outlines after the common shift, `tolerance_m` what their errors allow;
    `moved_m` the move of the room itself. NaN where there is nothing to compare.
    """

    change: str
    action: str
    group: int
    old: int = -1
    new: int = -1
    difference_m2: float = float("nan")
    sigma_difference_m2: float = float("nan")
    offset_m: float = float("nan")
    tolerance_m: float = float("nan")
    moved_m: tuple[float, float] = (float("nan"), float("nan"))
    reason: str = ""

    @property
    def standardised(self) -> float:
        """The difference in units of its standard error."""
        sigma = self.sigma_difference_m2
        return self.difference_m2 / sigma if sigma > 0.0 else float("nan")
