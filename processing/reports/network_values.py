# SPDX-License-Identifier: GPL-2.0-or-later
"""How the figures of a network are written, for all its sections."""

from __future__ import annotations

import re

import numpy as np

from ..stations.model import Network, TieKind

MM = 1000.0


def figure(value: float, digits: int) -> str:
    """A number with a fixed count of digits, never minus zero; a dash where there is none."""
    if np.isinf(value):
        return "∞"
    return "–" if np.isnan(value) else f"{round(value, digits) + 0.0:.{digits}f}"


def degrees(value_rad: float, digits: int) -> str:
    """An angle in degrees."""
    return figure(float(np.degrees(value_rad)), digits)


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


def natural(name: str) -> list[tuple[int, str]]:
    """A key that sorts T2 before T10."""
    parts = re.split(r"(\d+)", name.casefold())
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in parts]


def in_words(observation: str) -> str:
    """What the adjustment calls an observation (``Observations.describe``), for people."""
    found = re.fullmatch(r"surface (offset|direction) (.+)-surface (.+)/(\d+)", observation)
    if not found:
        return observation
    what, seen_from, station, number = found.groups()
    word = "distance" if what == "offset" else "direction"
    return f"{word} of wall face {number} of {station}, seen from {seen_from}"


def several(count: int, one: str, many: str = "") -> str:
    """A count with its noun."""
    return f"{count} {one if count == 1 else many or one + 's'}"
