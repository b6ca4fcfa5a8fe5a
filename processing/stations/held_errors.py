# SPDX-License-Identifier: GPL-2.0-or-later
"""The errors of held stations, carried on into what hangs on them.

Several held stations keep their poses exactly, as a plan that was handed over must not move; but
they are not known exactly. The first of them is the datum, as a single held station is; the errors
of the others against it, as the earlier adjustment stated them, go on into the stations adjusted on
them (a hierarchical network: Teunissen, *Network quality control*, 2006, ch. 2).
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from .adjustment import Adjustment
from .observations_equations import equations


def follow_held(adjustment: Adjustment, held: Ints) -> Floats:
    """How the poses of all ``m`` stations follow a unit of each coordinate of the k held ones
    ``(3m, 3k)``; `held` are places in the adjustment."""
    unknowns = adjustment.unknowns
    count, columns = len(unknowns.station), 3 * len(held)
    column = np.full(unknowns.size + 1, -1, dtype=np.int64)
    rows_held = (3 * held[:, None] + np.arange(3)).ravel()
    column[rows_held] = np.arange(columns)
    change = np.zeros((adjustment.observations.rows, columns))
    extended = np.append(unknowns.vector, 0.0)
    for equation in equations(unknowns, adjustment.observations):
        _, jacobian = equation.evaluate(extended)
        size = jacobian.shape[1]
        rows = np.arange(equation.rows.start, equation.rows.stop).reshape(-1, size)
        at = column[equation.columns]
        for item, place in zip(*np.nonzero(at >= 0)):
            # What the held pose adds to a computed value is missing in the observed one.
            change[rows[item], at[item, place]] -= jacobian[item, :, place]
    follow, _, _ = adjustment.influence(change)
    result = follow[: 3 * count]
    result[rows_held, np.arange(columns)] += 1.0
    return result
