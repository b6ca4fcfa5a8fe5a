# SPDX-License-Identifier: GPL-2.0-or-later
"""At which height a ring cuts the building.

A horizontal ring cuts at the instrument's height. A reading with a zenith angle z and a slope
distance s meets its surface at s cos z above the instrument, and its horizontal distance s sin z is
that of the foot of the surface only where this is vertical.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from .findings import listed
from .model import NAN, Capture, Remark

SPREAD_M = 0.20
"""Readings of one ring that meet walls at heights further apart than this do not cut them at one
height: a skirting, a dado or a window sill lies between (a choice, not a standard)."""

SAME_HEIGHT_M = 0.05
"""Instrument heights on one level that agree to this are one height."""


@dataclass(frozen=True)
class CutHeight:
    """Where the usable ring readings of a capture meet their surfaces: lowest and highest (m),
    above the station point where the instrument's height is known (`instrument_height_m`, else NaN)
    and above the instrument's axis where it is not. `with_zenith` readings are not horizontal."""

    instrument_height_m: float
    low_m: float
    high_m: float
    with_zenith: int

    @property
    def spread_m(self) -> float:
        return self.high_m - self.low_m


def cut_height(capture: Capture) -> CutHeight:
    """The height of a capture's cut; NaN from and to where no ring reading is usable."""
    ring = capture.usable_ring
    zenith, slope = capture.zenith_deg[ring], capture.slope_distance_m[ring]
    above = np.where(zenith == 90.0, 0.0, slope * np.cos(np.radians(zenith)))
    above = above[np.isfinite(above)]
    base = capture.instrument_height_m
    start = base if np.isfinite(base) else 0.0
    low, high = (float(above.min()), float(above.max())) if len(above) else (NAN, NAN)
    return CutHeight(base, start + low, start + high, int((zenith != 90.0).sum()))


def check_cut(cut: CutHeight) -> tuple[Remark, ...]:
    """A remark where one ring meets its walls at heights too far apart."""
    if not cut.spread_m > SPREAD_M:
        return ()
    above = "the station point" if np.isfinite(cut.instrument_height_m) else "the instrument"
    return (
        Remark(
            "height",
            f"The ring meets what it shows between {cut.low_m:.2f} and {cut.high_m:.2f} m above "
            f"{above}, {cut.spread_m:.2f} m apart: it is no cut at one height. Only vertical walls "
            "are drawn right from it.",
        ),
    )


def told_by_level(cuts: Mapping[int, Iterable[tuple[str, CutHeight]]]) -> list[str]:
    """Sentences about each level's cut: stations without a height, and several heights."""
    sentences = []
    for level, stations in sorted(cuts.items()):
        known: list[tuple[float, str]] = []
        unknown: list[str] = []
        for name, cut in stations:
            if np.isfinite(cut.instrument_height_m):
                known.append((cut.instrument_height_m, name))
            else:
                unknown.append(name)
        groups = _groups(sorted(known))
        if len(groups) > 1:
            told = listed(
                [f"{_range(group)} ({listed([name for _, name in group], 4)})" for group in groups]
            )
            sentences.append(
                f"Level {level} is cut at {told}: what stands between these heights, a sill or a "
                "worktop, is seen from some stations only."
            )
        if unknown and known:
            sentences.append(
                f"Level {level}: no instrument height is given for {listed(unknown)}, and so the "
                "height of the cut there is not known."
            )
    return sentences


def _groups(heights: list[tuple[float, str]]) -> list[list[tuple[float, str]]]:
    """Heights in order, cut where the next one differs by more than `SAME_HEIGHT_M`."""
    groups: list[list[tuple[float, str]]] = []
    for height, name in heights:
        if groups and height - groups[-1][-1][0] <= SAME_HEIGHT_M:
            groups[-1].append((height, name))
        else:
            groups.append([(height, name)])
    return groups


def _range(group: list[tuple[float, str]]) -> str:
    low, high = f"{group[0][0]:.2f}", f"{group[-1][0]:.2f}"
    return f"{low} m" if low == high else f"{low} to {high} m"
