# SPDX-License-Identifier: GPL-2.0-or-later
"""A plan that stands, and captures that join it: what a new adjustment and a new drawing take over
from the earlier ones."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from .angles import Floats
from .captures.joined import Joined, Retaken, join
from .captures.model import Capture, Ints, Survey
from .chain import Tied
from .stations.choices import Choices, Start
from .stations.connect_frames import composed
from .stations.model import Network, Status
from .stations.moves import CONNECTED
from .stations.network_start import HeldApart
from .stations.same_datum import (
    EarlierPoses,
    came_from_groups,
    motion_between,
    network_poses,
    on_earlier_datum,
)
from .stations.tie_names import named
from .walls.earlier import EarlierDrawing


class Stations(str, Enum):
    """What becomes of the stations of the earlier plan."""

    READJUSTED = "readjusted"
    HELD = "held"


@dataclass(frozen=True, eq=False)
class Earlier:
    """A plan that stands: its survey as it was imported, its adjusted network, what a person chose,
    and what it drew (all in its plan coordinates)."""

    survey: Survey
    network: Network
    choices: Choices
    drawing: EarlierDrawing


@dataclass(frozen=True, eq=False)
class Aside:
    """Captures kept aside, with the poses ``(n, 3)`` at which they stood in the plan (NaN: none),
    and the earlier groups ``(n,)`` that they were in (0: none)."""

    captures: tuple[Capture, ...]
    pose: Floats
    network: Ints


@dataclass(frozen=True, eq=False)
class Grown:
    """All captures in use tied, in the datum of the earlier plan; how they were joined; the earlier
    drawing where the stations lie now; from which earlier group each one came; the captures kept
    aside; and sentences that a person should know."""

    tied: Tied
    joined: Joined
    drawing: EarlierDrawing
    came_from: Mapping[int, int]
    aside: Aside
    sentences: tuple[str, ...]


def grow(
    earlier: Earlier,
    new: Survey | None,
    tie: Callable[[Survey, Choices, Start], Tied],
    retaken: Retaken = Retaken.REPLACED,
    stations: Stations = Stations.READJUSTED,
) -> Grown:
    """Tie the captures of an earlier plan and new ones (None: only adjust again).

    ``tie`` ties a survey with a person's choices, starting at earlier poses (`chain.tie_stations`).
    With `Stations.HELD` all connected stations of the earlier plan keep their poses; where new
    captures connect networks that were apart, only the largest can, and a sentence says so.
    """
    joined = join(earlier.survey, new, retaken)
    before = EarlierPoses(
        earlier.network.station, network_poses(earlier.network), earlier.network.network
    ).only(joined.earlier)
    chosen = _surviving(earlier.choices, joined, earlier.network)
    start = Start.of(joined.survey.names, _kept(earlier.network, joined))
    sentences = joined.sentences()
    held: tuple[str, ...] = ()
    if stations is Stations.HELD:
        held = _all_held(earlier.network, joined, chosen)
    try:
        tied = tie(joined.survey, _holding(chosen, held), start)
    except HeldApart as two:
        if not held:
            raise
        held = _largest(earlier.network, held)
        sentences.append(f"{two} Only the {len(held)} stations of the largest are held.")
        tied = tie(joined.survey, _holding(chosen, held), start)
    # What only this run held is no choice of a person's.
    of_person = set(tied.network.choices.held) - (set(held) - set(chosen.held))
    choices = replace(
        tied.network.choices,
        held=tuple(name for name in tied.network.choices.held if name in of_person),
    )
    network = on_earlier_datum(replace(tied.network, choices=choices), before)
    motions = _motions(network, before)
    drawing = earlier.drawing.moved(motions)
    return Grown(
        replace(tied, network=network),
        joined,
        drawing,
        came_from_groups(network, before),
        _aside(joined, earlier.network, motions),
        tuple(sentences),
    )


def _aside(joined: Joined, earlier: Network, motions: Mapping[int, Floats]) -> Aside:
    """The captures kept aside where they stood; NaN for one that never had a place."""
    was = joined.put_aside
    row = {name: k for k, name in enumerate(earlier.station)}
    pose, group = np.full((len(joined.aside), 3), np.nan), np.zeros(len(joined.aside), np.int64)
    for i, capture in enumerate(joined.aside):
        place = row.get(was.get(capture.station, capture.station))
        if capture.station in joined.replaced and capture.station not in was:
            continue
        if place is not None:
            group[i] = earlier.network[place]
            motion = motions.get(int(group[i]), np.zeros(3))
            pose[i] = composed(motion, network_poses(earlier)[place])
    return Aside(joined.aside, pose, group)


def _kept(network: Network, joined: Joined) -> Network:
    """The earlier network in which a station that was taken again has no place: its name is that of
    another set-up now."""
    status = tuple(
        own if name in joined.earlier else Status.UNCONNECTED
        for name, own in zip(network.station, network.status)
    )
    return replace(network, status=status)


def _surviving(choices: Choices, joined: Joined, network: Network) -> Choices:
    """The choices about stations and ties that are still there; those about a capture that was
    taken again are not about the new one."""
    gone = set(joined.put_aside.values())
    index = {k for k, name in enumerate(network.station) if name in gone}

    def stays(tie: str) -> bool:
        said = named(tie, network.station, network.targets.name)
        return said is None or not {said.station, said.other} & index

    return Choices(
        tuple(name for name in choices.held if name not in gone),
        tuple(name for name in choices.left_out if name not in gone),
        frozenset(name for name in choices.ties_left_out if stays(name)),
        {name: factor for name, factor in choices.sigma_factor.items() if stays(name)},
    )


def _all_held(network: Network, joined: Joined, chosen: Choices) -> tuple[str, ...]:
    return tuple(
        name
        for name, status in zip(network.station, network.status)
        if status in CONNECTED and name in joined.earlier and name not in chosen.left_out
    )


def _holding(chosen: Choices, held: tuple[str, ...]) -> Choices:
    """The choices with more stations that are held."""
    return replace(chosen, held=tuple(dict.fromkeys((*chosen.held, *held))))


def _largest(network: Network, names: tuple[str, ...]) -> tuple[str, ...]:
    """Those of the stations that lie in the network with most of them."""
    group = {name: int(k) for name, k in zip(network.station, network.network)}
    groups = [group[name] for name in names]
    largest = max(sorted(set(groups)), key=groups.count)
    return tuple(name for name in names if group[name] == largest)


def _motions(network: Network, earlier: EarlierPoses) -> Mapping[int, Floats]:
    """How each group of the earlier plan moved as a whole."""
    place = {name: row for row, name in enumerate(network.station)}
    now = network_poses(network)
    found = {}
    for group in np.unique(earlier.network):
        rows = [
            row
            for row in np.flatnonzero(earlier.network == group)
            if earlier.station[row] in place and np.isfinite(earlier.pose[row]).all()
        ]
        if rows:
            after = now[[place[earlier.station[row]] for row in rows]]
            found[int(group)] = motion_between(earlier.pose[rows], after)
    return found
