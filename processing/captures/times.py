# SPDX-License-Identifier: GPL-2.0-or-later
"""Times of captures that cannot all be right."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from datetime import datetime, timezone

import numpy as np

from .findings import listed
from .geotags import FAR_SIGMAS, distances_m
from .setups import Setup

EARLIEST_YEAR = 1990
"""Before this there was no rotating laser to measure rooms with; a clock without power starts in
1970, 1980 or so (common practice)."""

WALKING_M_S = 2.0
"""An instrument is carried to the next station no faster than a brisk walk"""

AFOOT_S = 300.0
"""within this time, which taking it down, driving and setting it up again needs at least;"""

DRIVING_M_S = 30.0
"""and no faster than a car after that."""

ORDERED = 0.8
"""Where so many of the numbered stations follow each other in time, the others are out of order."""

FEWEST_ORDERED = 5


def check_times(setups: Sequence[Setup], latest: datetime | None) -> list[tuple[str, str]]:
    """Sentences, each with the station that it is about (empty: the job). Times without a zone are
    compared as if they were all of one."""
    timed = [setup for setup in setups if setup.captured_at is not None]
    found = []
    for setup in timed:
        at = _moment(setup)
        why = ""
        if at.year < EARLIEST_YEAR:
            why = "the instrument's clock was not set"
        elif latest is not None and at > _utc(latest):
            why = "that is in the future"
        if why:
            found.append((setup.station, f"The time of {setup.station} is {_shown(setup)}: {why}."))
    found.extend(_zones(timed))
    exact = [setup for setup in timed if not _date_only(setup)]
    found.extend(_same(exact))
    found.extend(_too_fast(exact))
    found.extend(_out_of_order(exact))
    return found


def _utc(at: datetime) -> datetime:
    return at.replace(tzinfo=timezone.utc) if at.tzinfo is None else at.astimezone(timezone.utc)


def _moment(setup: Setup) -> datetime:
    if setup.captured_at is None:
        raise ValueError(setup.station)
    try:
        return _utc(setup.captured_at)
    except OverflowError:
        return setup.captured_at.replace(tzinfo=timezone.utc)


def _shown(setup: Setup) -> str:
    return "" if setup.captured_at is None else setup.captured_at.isoformat(sep=" ")


def _date_only(setup: Setup) -> bool:
    at = setup.captured_at
    return at is not None and at.tzinfo is None and not (at.hour or at.minute or at.second)


def _zones(timed: list[Setup]) -> list[tuple[str, str]]:
    without = [
        s.station for s in timed if s.captured_at is not None and s.captured_at.tzinfo is None
    ]
    if not without or len(without) == len(timed):
        return []
    return [
        (
            "",
            f"The times of {listed(without)} have no time zone, those of the others have: they "
            "are taken as UTC.",
        )
    ]


def _same(exact: list[Setup]) -> list[tuple[str, str]]:
    by_time: dict[datetime, list[Setup]] = {}
    for setup in exact:
        by_time.setdefault(_moment(setup), []).append(setup)
    return [
        (
            "",
            f"{listed([setup.station for setup in setups])} were captured at the same time, "
            f"{_shown(setups[0])}: one instrument stands in one place; check captured_at.",
        )
        for _, setups in sorted(by_time.items(), key=lambda item: item[0])
        if len(setups) > 1
    ]


def _too_fast(exact: list[Setup]) -> list[tuple[str, str]]:
    ordered = sorted((s for s in exact if s.has_geotag), key=lambda s: (_moment(s), s.station))
    found = []
    for one, two in zip(ordered, ordered[1:]):
        seconds = (_moment(two) - _moment(one)).total_seconds()
        apart = float(distances_m([two], one.longitude_deg, one.latitude_deg)[0])
        sure = apart - FAR_SIGMAS * float(np.hypot(one.geotag_sigma_m, two.geotag_sigma_m))
        reach = seconds * (WALKING_M_S if seconds < AFOOT_S else DRIVING_M_S)
        if sure > reach:
            found.append(
                (
                    "",
                    f"{one.station} and {two.station} lie {apart:.0f} m apart by their geotags and "
                    f"were captured within {seconds:.0f} s: a geotag or a time is wrong.",
                )
            )
    return found


_DIGITS = re.compile(r"\d+")


def _out_of_order(exact: list[Setup]) -> list[tuple[str, str]]:
    """Numbered stations whose times do not ascend with their numbers, where most do."""
    numbered: dict[str, list[tuple[int, Setup]]] = {}
    for setup in exact:
        digits = [*_DIGITS.finditer(setup.station)][-1:]
        if digits and len(digits[0][0]) < 10:
            prefix = setup.station[: digits[0].start()]
            numbered.setdefault(prefix, []).append((int(digits[0][0]), setup))
    found = []
    for _, members in sorted(numbered.items()):
        if len(members) < FEWEST_ORDERED:
            continue
        own = [setup for _, setup in sorted(members, key=lambda pair: pair[0])]
        kept = _ascending([_moment(setup) for setup in own])
        odd = [setup.station for index, setup in enumerate(own) if index not in kept]
        if odd and len(kept) >= ORDERED * len(own):
            found.append(
                (
                    "",
                    f"The times of {listed(odd)} are out of the order of the stations' numbers: "
                    "check captured_at and the names.",
                )
            )
    return found


def _ascending(times: Sequence[datetime]) -> set[int]:
    """Places of a longest subsequence that does not descend (patience sorting: Fredman 1975)."""
    tails: list[datetime] = []
    at: list[int] = []
    before: list[int] = []
    for index, time in enumerate(times):
        place = bisect_right(tails, time)
        before.append(at[place - 1] if place else -1)
        tails[place:] = [time] if place == len(tails) else [time, *tails[place + 1 :]]
        at[place:] = [index] if place == len(at) else [index, *at[place + 1 :]]
    kept = set()
    index = at[-1] if at else -1
    while index >= 0:
        kept.add(index)
        index = before[index]
    return kept
