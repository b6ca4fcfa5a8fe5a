# SPDX-License-Identifier: GPL-2.0-or-later
"""The names of ties, by which a person speaks of them, and back."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from .model import TieKind

WITH, TO, ON, COMPASS_OF, GEOTAG_OF = (
    " with ",
    " to ",
    " on the surface of ",
    "compass of ",
    "geotag of ",
)


def sighting_name(station: str, target: str) -> str:
    """The name of a target tie."""
    return f"{station}{TO}{target}"


def surface_name(station: str, target: str) -> str:
    """The name of a surface tie."""
    return f"{station}{ON}{target}"


def overlap_name(first: str, second: str) -> str:
    """The name of an overlap tie, the station that comes first in the survey first."""
    return f"{first}{WITH}{second}"


def compass_name(station: str) -> str:
    """The name of a compass tie."""
    return f"{COMPASS_OF}{station}"


def geotag_name(station: str) -> str:
    """The name of a geotag's residual in the list of ties."""
    return f"{GEOTAG_OF}{station}"


def _split(name: str, word: str) -> Iterator[tuple[str, str]]:
    """A name cut at each place where a word stands in it."""
    at = name.find(word)
    while at >= 0:
        yield name[:at], name[at + len(word) :]
        at = name.find(word, at + 1)


def pairs_named(names: Iterable[str], stations: Sequence[str]) -> frozenset[tuple[int, int]]:
    """The pairs of stations (indices, the lesser first) whose overlap ties have these names."""
    place = {name: k for k, name in enumerate(stations)}
    return frozenset(
        (min(place[a], place[b]), max(place[a], place[b]))
        for name in names
        for a, b in _split(name, WITH)
        if a in place and b in place and a != b
    )


@dataclass(frozen=True)
class Named:
    """What the name of a tie speaks of: kind, station, the other station (-1: none), the target
    (empty: none)."""

    kind: TieKind
    station: int
    other: int = -1
    target: str = ""


def named(name: str, stations: Sequence[str], targets: Collection[str]) -> Named | None:
    """What the name of a tie speaks of; None where that is not in the survey."""
    place = {own: k for k, own in enumerate(stations)}
    for prefix, kind in ((COMPASS_OF, TieKind.COMPASS), (GEOTAG_OF, TieKind.GEOTAG)):
        if name.startswith(prefix) and name[len(prefix) :] in place:
            return Named(kind, place[name[len(prefix) :]])
    for word, kind in ((ON, TieKind.SURFACE), (TO, TieKind.TARGET)):
        for station, target in _split(name, word):
            if station in place and target in targets:
                return Named(kind, place[station], target=target)
    for i, j in pairs_named([name], stations):
        return Named(TieKind.OVERLAP, i, j)
    return None
