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

BETTER = 0.25
"""Pairs that are only alike seem to be rough; so the better quarter decides, and of a few the best
one: two of three looked sure and were wrong."""

FEWEST_TOLD = 4
"""Where bare rooms are of one series so many pairs must tell: that is where pairs look sure and are
of two rooms, as the only two of a building were."""

_HERE = np.zeros((1, 3))


def scatter_of(
    views: Sequence[View], found: Mapping[tuple[int, int], Hypotheses]
) -> tuple[float, int]:
    """Factor on the errors of faces that the surest pairs ask for, and how many tell it: an
    instrument may have errors that all its captures share, plaster may be rough. The factor is 1 if
    faces are as good as stated."""
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
    factor = float(np.sqrt(np.quantile(told, BETTER, method="lower"))) if told else 1.0
    return min(factor, LARGEST_SCATTER) if factor > LEAST_SCATTER else 1.0, len(told)
