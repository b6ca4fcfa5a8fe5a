# SPDX-License-Identifier: GPL-2.0-or-later
"""New captures beside those of an earlier survey: which are new, known already, or taken again."""

from __future__ import annotations

import re
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

_ASIDE = re.compile(r" \(earlier( \d+)?\)$")


class Retaken(str, Enum):
    """What becomes of a capture whose station has the name of one that is there."""

    REPLACED = "the later capture replaces the earlier"
    BOTH = "both are used"


@dataclass(frozen=True, eq=False)
class Joined:
    """The captures in use, those kept aside, and what became of each new one.

    `aside` are captures that another has taken the place of, under names of their own and with
    their readings flagged. `earlier` are the stations of the earlier survey that are used as
    before, `new` those that are used for the first time. `replaced` says for what is put aside now
    which station took its place, `renamed` for a new capture that has a name of its own which name
    it had. `known` are new captures that were there already.
    """

    survey: Survey
    aside: tuple[Capture, ...]
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
            f"Station {now} was captured again: the capture of {self._time(now)} is used; the "
            f"other one is kept as {kept}, its readings flagged {Flag.RETAKEN.text}."
            for kept, now in self.replaced.items()
        ]
        told += [
            f"A new capture has the name of station {before}, and both are used: it is called "
            f"{name}."
            for name, before in self.renamed.items()
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
    and the other is kept aside; with `Retaken.BOTH` the new one gets a name of its own. Sentences,
    digests and known points are those of both; a point that both give is the new one's.
    """
    joining = _Joining(earlier, set(new.names) if new is not None else set())
    for capture in new.captures if new is not None else ():
        joining.add(capture, retaken)
    return joining.joined(earlier, new)


class _Joining:
    """Takes new captures one at a time."""

    def __init__(self, earlier: Survey, names: set[str]) -> None:
        self.used = [c for c in earlier.captures if not _is_retaken(c)]
        self.aside = [c for c in earlier.captures if _is_retaken(c)]
        self.taken = {*earlier.names, *names}
        self.by_size: dict[int, list[Capture]] = {}
        for capture in earlier.captures:
            self.by_size.setdefault(len(capture), []).append(capture)
        self.known: list[str] = []
        self.new: list[str] = []
        self.replaced: dict[str, str] = {}
        self.renamed: dict[str, str] = {}

    def add(self, capture: Capture, retaken: Retaken) -> None:
        station = capture.station
        names = [one.station for one in self.used]
        if any(_same(capture, other) for other in self.by_size.get(len(capture), ())):
            self.known.append(station)
        elif station not in names:
            self._use(capture)
        elif retaken is Retaken.BOTH:
            name = self._free(f"{station} ({n})" for n in count(2))
            self.renamed[name] = station
            self._use(replace(capture, station=name))
        else:
            self._again(capture, names.index(station))

    def _use(self, capture: Capture) -> None:
        self.used.append(capture)
        self.new.append(capture.station)

    def _again(self, capture: Capture, at: int) -> None:
        """One of the two is used, the other put aside."""
        before = self.used[at]
        name = self._free(
            f"{capture.station} (earlier{f' {n}' if n > 1 else ''})" for n in count(1)
        )
        older = capture if _later(before, capture) else before
        if older is before:
            self.used[at] = capture
            self.new.append(capture.station)
        self.aside.append(_put_aside(older, name))
        self.replaced[name] = capture.station

    def _free(self, names: Iterator[str]) -> str:
        """The first name that nobody has; it is taken from then on."""
        name = next(name for name in names if name not in self.taken)
        self.taken.add(name)
        return name

    def joined(self, earlier: Survey, new: Survey | None) -> Joined:
        """What came of it."""
        more = new if new is not None else Survey(())
        survey = Survey(
            tuple(self.used),
            (*earlier.skipped, *more.skipped),
            tuple(dict.fromkeys((*earlier.warnings, *more.warnings))),
            MappingProxyType({**earlier.digests, **more.digests}),
            _points(earlier, more),
        )
        fresh = set(self.new)
        return Joined(
            survey,
            tuple(self.aside),
            tuple(c.station for c in self.used if c.station not in fresh),
            tuple(self.new),
            MappingProxyType(self.replaced),
            MappingProxyType(self.renamed),
            tuple(self.known),
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
    """Whether a capture was put aside; the name tells of one that had no usable reading left to
    flag."""
    flagged = bool((capture.flag == Flag.RETAKEN).any())
    return not capture.usable.any() and (flagged or bool(_ASIDE.search(capture.station)))


def _points(earlier: Survey, new: Survey) -> tuple[KnownPoint, ...]:
    given = {(p.name, p.station) for p in new.known_points}
    kept = [p for p in earlier.known_points if (p.name, p.station) not in given]
    return (*kept, *new.known_points)
