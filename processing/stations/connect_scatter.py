# SPDX-License-Identifier: GPL-2.0-or-later
"""How much worse walls agree than their stated errors let expect."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from .connect_weigh import misfit, walls_of
from .matching import Hypotheses
from .overlap import View

SURE_SCORE_M, SURE_GAP, MOST_SURE = 12.0, 0.3, 40
LEAST_SCATTER, LARGEST_SCATTER = 1.25, 4.0

_HERE = np.zeros((1, 3))


def scatter_of(views: Sequence[View], found: Mapping[tuple[int, int], Hypotheses]) -> float:
    """Factor on the errors of faces that the surest pairs ask for: an instrument may have errors
    that all its captures share, plaster may be rough. 1 if they are as good as stated; of pairs
    that are only alike the better quarter tells nothing."""
    sure = [
        (h.score_m[0], i, j)
        for (i, j), h in found.items()
        if h.score_m[0] > SURE_SCORE_M and h.gap > SURE_GAP
    ]
    values = [
        misfit(
            walls_of([views[i].faces], _HERE),
            walls_of([views[j].faces], _HERE),
            found[i, j].pose[0],
        )
        for _, i, j in sorted(sure, reverse=True)[:MOST_SURE]
    ]
    told = [value for value in values if np.isfinite(value)]
    factor = float(np.sqrt(np.quantile(told, 0.25))) if told else 1.0
    return min(factor, LARGEST_SCATTER) if factor > LEAST_SCATTER else 1.0
