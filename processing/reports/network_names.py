# SPDX-License-Identifier: GPL-2.0-or-later
"""What the sections on a network call its ties and observations."""

from __future__ import annotations

import re

from ..stations.model import Network, TieKind


def left_out_ties(network: Network) -> list[int]:
    """Ties that could have been used; geotags only say where groups are drawn."""
    t = network.ties
    return [i for i in range(len(t)) if not t.used[i] and t.kind[i] is not TieKind.GEOTAG]


def far_name(network: Network, tie: int) -> str:
    """The station or target at the other end of a tie; empty where there is none."""
    t = network.ties
    if t.to_station[tie] >= 0:
        return network.station[t.to_station[tie]]
    return network.targets.name[t.to_target[tie]] if t.to_target[tie] >= 0 else ""


def in_words(observation: str) -> str:
    """What the adjustment calls an observation (``Observations.describe``), for people."""
    found = re.fullmatch(r"surface (offset|direction) (.+)-surface (.+)/(\d+)", observation)
    if not found:
        return observation
    what, seen_from, station, number = found.groups()
    word = "distance" if what == "offset" else "direction"
    return f"{word} of wall face {number} of {station}, seen from {seen_from}"
