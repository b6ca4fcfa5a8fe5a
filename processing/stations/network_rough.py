# SPDX-License-Identifier: GPL-2.0-or-later
"""What a person should know about stations tied by rough captures."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .network_group import AdjustedGroup


def rough_walls(names: Sequence[str], number: int, group: AdjustedGroup) -> list[str]:
    """A sentence about how well walls agree in a group with ties by readings; none without."""
    if not group.relatives:
        return []
    rough = sorted({end for tie in group.relatives for end in (tie.first, tie.second)})
    spread = np.sqrt(np.mean([tie.misfit_m**2 for tie in group.relatives]))
    return [
        f"{', '.join(names[s] for s in rough)} of group {number} are tied by their readings, as "
        f"the walls of their captures agree only to {100 * spread:.0f} cm (1 sigma)."
    ]
