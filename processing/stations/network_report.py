# SPDX-License-Identifier: GPL-2.0-or-later
"""The figures and sentences about a network that a person should read."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..captures.model import Ints
from .choices import Choices
from .model import NetworkStatistics, TieKind, Ties
from .network_group import AdjustedGroup
from .network_rough import rough_walls
from .statistics import variance_bounds
from .tie_names import GEOTAG_OF


def statistics_over(
    adjusted: Sequence[AdjustedGroup], ties: Ties, unconnected: int
) -> NetworkStatistics:
    """Figures over all groups together: sums of squares and degrees of freedom add."""
    squares = sum(group.snooping.adjustment.sum_of_squares for group in adjusted)
    freedom = sum(group.snooping.adjustment.degrees_of_freedom for group in adjusted)
    w = np.concatenate([g.snooping.statistics.standardised for g in adjusted] + [np.empty(0)])
    used = np.concatenate([g.snooping.adjustment.used for g in adjusted] + [np.empty(0, bool)])
    tested = np.abs(w[used & np.isfinite(w)])
    rejected = sum(
        1 for kind, taken in zip(ties.kind, ties.used) if not taken and kind != TieKind.GEOTAG
    )
    low, high = variance_bounds(int(freedom)) if freedom else (0.0, np.inf)
    return NetworkStatistics(
        reference_variance=float(squares / freedom) if freedom else 1.0,
        degrees_of_freedom=int(freedom),
        lower_bound=float(low),
        upper_bound=float(high),
        largest_standardised_residual=float(tested.max(initial=0.0)),
        unconnected_stations=unconnected,
        rejected_ties=rejected,
        observations=_observed(adjusted),
        unknowns=_unknowns(adjusted),
    )


_OBSERVED = {
    "sightings": ("directions to targets", "distances to targets"),
    "surface_directions": ("directions of walls and surfaces",),
    "surface_offsets": ("distances of walls",),
    "relative_poses": ("relative poses of rough captures (three values each)",),
    "orientations": ("compass bearings",),
}


def _observed(adjusted: Sequence[AdjustedGroup]) -> tuple[tuple[str, int, int], ...]:
    """Kinds of observation in words, how many there are and how many are used."""
    found = []
    for name, words in _OBSERVED.items():
        used = [
            g.snooping.adjustment.observations.by_item(name, g.snooping.adjustment.used)
            for g in adjusted
        ]
        for k, word in enumerate(words):
            column = np.concatenate([u[:, k] for u in used if len(u)] or [np.empty(0, dtype=bool)])
            if len(column):
                found.append((word, len(column), int(column.sum())))
    return tuple(found)


def _unknowns(adjusted: Sequence[AdjustedGroup]) -> tuple[tuple[str, int], ...]:
    every = [group.snooping.adjustment.unknowns for group in adjusted]
    offsets = [name == "compass offset" for u in every for name in u.scalar_name]
    lines = [name.startswith("surface ") for u in every for name in u.scalar_name]
    return (
        ("station pose", sum(int((~u.held[: 3 * len(u.station)]).sum()) // 3 for u in every)),
        ("target", sum(len(u.point) for u in every)),
        ("wall or surface", sum(lines)),
        ("compass offset", sum(offsets)),
    )


def choice_warnings(choices: Choices, unknown: Sequence[str]) -> list[str]:
    """What a person decided, where it should be read first, and what of it names no tie."""
    told = []
    if choices.left_out:
        told.append(
            f"Left out by a person, drawn apart: {', '.join(choices.left_out)}; all readings stay."
        )
    geotags = sorted(name for name in choices.ties_left_out if name.startswith(GEOTAG_OF))
    if geotags:
        told.append(
            f"Choices on geotags: {', '.join(geotags)}. They have no effect here: geotags place "
            "the plan and take no part in the adjustment."
        )
    if unknown:
        told.append(
            f"Choices on ties that there are not: {', '.join(unknown)}. They have no effect."
        )
    return told


def warnings_of(
    names: Sequence[str],
    adjusted: Sequence[AdjustedGroup],
    ties: Ties,
    statistics: NetworkStatistics,
    number: Ints,
) -> list[str]:
    """What was not as it should be, a sentence each; `number (S,)` is the group of each station, 0
    where nothing connects it, -1 where a person left it out."""
    told = []
    alone = [name for name, n in zip(names, number) if n == 0]
    if alone and len(names) > 1:
        told.append(
            f"Not connected, drawn apart and outside the adjustment: {', '.join(alone)}. "
            "A common target or a wider view of common walls would tie them."
        )
    if len(adjusted) > 1:
        parts = [
            f"{k}: {', '.join(names[s] for s in group.members)}"
            for k, group in enumerate(adjusted, start=1)
        ]
        told.append(
            f"The stations form {len(adjusted)} groups that nothing connects, each adjusted by "
            f"itself ({'; '.join(parts)}); their places relative to each other are a sketch."
        )
    for k, group in enumerate(adjusted, start=1):
        told.extend(rough_walls(names, k, group))
        if group.scatter > 1.0:
            told.append(
                f"Walls of group {k} agree {group.scatter:.1f} times worse than the readings' "
                "noise; the errors of the stations are raised accordingly."
            )
    if not statistics.passes:
        told.append(
            f"The reference variance {statistics.reference_variance:.2f} lies outside "
            f"{statistics.lower_bound:.2f} to {statistics.upper_bound:.2f} (95 %): "
            "the stated noise or some ties are not right."
        )
    return told
