# SPDX-License-Identifier: GPL-2.0-or-later
"""The pieces of wall lines that may bound rooms."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property

import numpy as np
from shapely import STRtree, linestrings, points

from ..angles import Floats
from ..captures.model import Ints

CORNER_M = 0.12
"""How near to the end of a wall another one must meet it to form a corner."""


class Piece(IntEnum):
    """What a piece of a line is."""

    BACKED = 0
    """Readings lie on it."""
    CLOSURE = 1
    """A gap with the same wall on both sides."""
    EXTENSION = 2
    """Beyond the end of what was seen."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """``P`` straight pieces, each along its wall's direction: free side to the right.

    `ends_m (P, 2, 2)`; `kind (P,)` of `Piece`; `wall (P, 2)` the wall faces at its start and end
    (the same one unless a closure joins two); `from_wall_m (P, 2)` how far each end is from what
    was seen of the wall (infinite where it leads away from it); `backed_m (P,)` how much of that
    wall was seen.
    """

    ends_m: Floats
    kind: Ints
    wall: Ints
    from_wall_m: Floats
    backed_m: Floats

    def __len__(self) -> int:
        return len(self.kind)

    @cached_property
    def length_m(self) -> Floats:
        """Lengths ``(P,)``."""
        return np.hypot(*(self.ends_m[:, 1] - self.ends_m[:, 0]).T)

    @cached_property
    def direction(self) -> Floats:
        """Unit directions ``(P, 2)``."""
        vector = self.ends_m[:, 1] - self.ends_m[:, 0]
        return vector / np.hypot(*vector.T)[:, None]

    @cached_property
    def normal(self) -> Floats:
        """Unit normals ``(P, 2)`` towards the free side."""
        return self.direction[:, ::-1] * [1.0, -1.0]

    @cached_property
    def backed(self) -> Ints:
        """The pieces that readings lie on."""
        return np.flatnonzero(self.kind == Piece.BACKED)

    @cached_property
    def _trees(self) -> dict[int, tuple[Ints, STRtree]]:
        """By kind, the pieces and an index of them."""
        of_kind = {int(kind): np.flatnonzero(self.kind == kind) for kind in Piece}
        return {k: (of, STRtree(linestrings(self.ends_m[of]))) for k, of in of_kind.items()}

    def near(self, kind: Piece, start_m: Floats, end_m: Floats, reach_m: float) -> Ints:
        """The pieces of a kind within a reach of the line between two points, in order."""
        # GEOS 3.13 finds nothing near a line of no length.
        alike = np.array_equal(start_m, end_m)
        line = points(start_m) if alike else linestrings(np.stack([start_m, end_m]))
        of_kind, tree = self._trees[int(kind)]
        return of_kind[np.sort(tree.query(line, predicate="dwithin", distance=reach_m))]

    def backed_near(self, start_m: Floats, end_m: Floats, reach_m: float) -> Ints:
        """The backed pieces within a reach of the line between two points, in order."""
        return self.near(Piece.BACKED, start_m, end_m, reach_m)
