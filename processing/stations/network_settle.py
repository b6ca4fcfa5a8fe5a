# SPDX-License-Identifier: GPL-2.0-or-later
"""Groups that targets tie, adjusted with their walls before overlaps are asked.

A target a few metres away is known to millimetres, and two that stand close together turn a station
by tenths of a degree; walls agree to tenths of a millimetre. As targets alone lay a group, its own
walls would speak against its true place among others.
"""

from __future__ import annotations

import numpy as np

from ..progress import SILENT, Progress
from .connect_frames import apart
from .connect_groups import Groups
from .network_evidence import Evidence
from .network_group import adjust_group
from .network_rigid import Loose
from .network_system import Datum

MOST_M, MOST_RAD = 0.10, np.radians(2.0)
"""Where walls move a station further than this from where targets put it, they are left out of
it."""


def settle_groups(evidence: Evidence, groups: Groups, progress: Progress = SILENT) -> None:
    """Move the stations of each group of two and more to where its sightings and its common walls
    put them together; a group that these do not make rigid stays as it is."""
    several = [of for of in map(groups.members, groups.leaders()) if len(of) > 1]
    for step, members in progress.each(several):
        try:
            found = adjust_group(
                evidence, members, groups.pose, Datum(), groups.why_out, True, step, closely=False
            ).pose
        except Loose:
            continue
        shift, turn = apart(found, groups.pose[members])
        if shift.max() < MOST_M and turn.max() < MOST_RAD:
            groups.pose[members] = found
