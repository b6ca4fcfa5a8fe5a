# SPDX-License-Identifier: GPL-2.0-or-later
"""New captures beside those of an earlier survey: which are new, known already, or taken again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import Enum
from itertools import count
from types import MappingProxyType

import numpy as np

from .findings import listed
from .model import Capture, Flag, KnownPoint, Survey

SAME_M = 1e-4
"""Distances that were written and read again agree far better than this; those of two rings, even
from one set-up, do not."""


class Retaken(str, Enum):
    """What becomes of a capture whose station has the name of one that is there."""

    REPLACED = "the later capture replaces the earlier"
    BOTH = "both are used"


@dataclass(frozen=True)
class Joined:
    """The survey of all captures, and what became of each new one.

    `earlier` are the stations of the earlier survey that are used as before, `new` those that are
    used for the first time. `replaced` says for a capture that is kept, and no more used, which
    station took its place; `renamed` tells for each name that had to change, of an earlier capture
    or a new one, what it was. `known` are new captures that were there already.
    """

    survey: Survey
    earlier: tuple[str, ...]
    new: tuple[str, ...]
    replaced: Mapping[str, str]
    renamed: Mapping[str, str]
    known: tuple[str, ...]

    @property
    def put_aside(self) -> Mapping[str, str]:
        """The earlier captures that are no more used, and what they were called."""
        return {kept: station for kept, station in self.replaced.items() if station in self.new}

    def sentences(self) -> list[str]:
        """What a person should know, each in a sentence."""
        told = []
        if self.known:
            told.append(
                f"Captures that the plan has already, with the same readings, were not taken a "
                f"second time: {listed(self.known)}."
            )
        told += [
            f"Station {now} was captured again: the capture of {time} is used; the other one is "
            f"kept as {kept}, its readings flagged {Flag.RETAKEN.text}."
            for kept, now in self.replaced.items()
            for time in [self._time(now)]
        ]
        told += [
            f"A new capture has the name of station {before}, and both are used: it is called "
            f"{name}."
            for name, before in self.renamed.items()
            if name not in self.replaced
        ]
        return told

    def _time(self, station: str) -> str:
        when = self.survey.captures[self.survey.index(station)].captured_at
        return when.isoformat() if when else "an unstated time"


def join(earlier: Survey, new: Survey | None, retaken: Retaken = Retaken.REPLACED) -> Joined:
    """The captures of an earlier survey and new ones as one survey.

    A new capture with the very readings of one that is there is not taken a second time, whatever
    its name. One with the name of another station is that station taken again: with
    `Retaken.REPLACED` the one with the later time is used (the new one where a time is missing)
    and the other is kept under a name of its own, its readings flagged; with `Retaken.BOTH` the
    new one gets a name of its own. Sentences, digests and known points are those of both; a point
    that both give is the new one's.
    """
    names = list(earlier.names)
    if new is None:
        used = tuple(c.station for c in earlier.captures if not _is_retaken(c))
        none: Mapping[str, str] = MappingProxyType({})
        return Joined(earlier, used, (), none, none, ())
    captures = list(earlier.captures)
    taken = {*names, *new.names}
    known: list[str] = []
    fresh: list[str] = []
    out: set[str] = set()
    replaced: dict[str, str] = {}
    renamed: dict[str, str] = {}
    sizes: dict[int, list[Capture]] = {}
    for capture in earlier.captures:
        sizes.setdefault(len(capture), []).append(capture)
    for capture in new.captures:
        if any(_same(capture, other) for other in sizes.get(len(capture), ())):
            known.append(capture.station)
            continue
        if capture.station not in names:
            captures.append(capture)
            fresh.append(capture.station)
            continue
        at = names.index(capture.station)
        before = captures[at]
        if retaken is Retaken.BOTH:
            name = _free((f"{capture.station} ({n})" for n in count(2)), taken)
            captures.append(replace(capture, station=name))
            fresh.append(name)
            renamed[name] = capture.station
            continue
        aside = (f"{capture.station} (earlier{f' {n}' if n > 1 else ''})" for n in count(1))
        name = _free(aside, taken)
        later, older = (before, capture) if _later(before, capture) else (capture, before)
        captures[at] = later
        captures.append(_put_aside(older, name))
        replaced[name] = renamed[name] = capture.station
        out.add(name)
        if later is capture:
            fresh.append(capture.station)
            out.add(capture.station)
    survey = Survey(
        tuple(captures),
        (*earlier.skipped, *new.skipped),
        tuple(dict.fromkeys((*earlier.warnings, *new.warnings))),
        MappingProxyType({**earlier.digests, **new.digests}),
        _points(earlier, new),
    )
    used = tuple(c.station for c in earlier.captures if c.station not in out and not _is_retaken(c))
    return Joined(
        survey,
        used,
        tuple(fresh),
        MappingProxyType(replaced),
        MappingProxyType(renamed),
        tuple(known),
    )


def _same(a: Capture, b: Capture) -> bool:
    """Whether two captures of one length have the same readings."""
    one, other = a.slope_distance_m, b.slope_distance_m
    return bool(np.allclose(one, other, rtol=0.0, atol=SAME_M, equal_nan=True))


def _later(a: Capture, b: Capture) -> bool:
    """Whether `a` is known to have been taken after `b`."""
    if a.captured_at is None or b.captured_at is None:
        return False
    if (a.captured_at.tzinfo is None) != (b.captured_at.tzinfo is None):
        return False  # a time without a zone cannot be compared with one that has it
    return a.captured_at > b.captured_at


def _put_aside(capture: Capture, name: str) -> Capture:
    every = np.ones(len(capture), dtype=bool)
    return replace(capture.with_flags(every, Flag.RETAKEN), station=name)


def _is_retaken(capture: Capture) -> bool:
    return bool((capture.flag == Flag.RETAKEN).any()) and not capture.usable.any()


def _free(names: Iterator[str], taken: set[str]) -> str:
    """The first name that nobody has; it is taken from then on."""
    name = next(name for name in names if name not in taken)
    taken.add(name)
    return name


def _points(earlier: Survey, new: Survey) -> tuple[KnownPoint, ...]:
    given = {(p.name, p.station) for p in new.known_points}
    kept = [p for p in earlier.known_points if (p.name, p.station) not in given]
    return (*kept, *new.known_points)
