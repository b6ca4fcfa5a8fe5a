# SPDX-License-Identifier: GPL-2.0-or-later
"""Groups of stations at the poses of an earlier adjustment, and back there after new ones joined.

An earlier frame stays: what was drawn in it still fits. Stations that are held keep their poses to
the last digit; without any, the network is free, and its inner constraints refer to the poses it
started from.
"""

from __future__ import annotations

import numpy as np

from ..captures.model import Ints
from ..errors import SurveyError
from .choices import Start
from .connect_frames import composed, inverse
from .connect_groups import Groups
from .network_system import Datum


class HeldApart(SurveyError):
    """Held stations whose places relative to each other nothing had told before."""


def check_start(start: Start | None, names: tuple[str, ...], held: Ints) -> None:
    """SurveyError where poses are not one a station, or stations to hold have none: one such
    station can be the datum, but several must lie somewhere to be held there."""
    if start is not None and start.pose.shape != (len(names), 3):
        raise SurveyError(
            f"The poses to start from are {start.pose.shape}, expected ({len(names)}, 3)."
        )
    known = np.zeros(len(names), dtype=bool) if start is None else start.known
    without = [names[s] for s in held if not known[s]]
    if without and len(held) > 1:
        raise SurveyError(
            f"Station {without[0]} is to be held beside others, but it has no pose to be held at; "
            "expected stations that were adjusted before, or a single station to hold."
        )


def begin_at(groups: Groups, start: Start) -> None:
    """Join the stations that an earlier adjustment connected, at their poses."""
    known = start.known
    for number in np.unique(start.group[known]):
        of = np.flatnonzero(known & (start.group == number))
        groups.group[of] = int(of.min())
        groups.pose[of] = start.pose[of]


def _reference(members: Ints, start: Start, held: Ints) -> tuple[Ints, Ints]:
    """The held stations of a group that have an earlier pose, and the largest set of its stations
    that was connected before.

    HeldApart where two are held that the earlier adjustment had not connected: they would be held
    at places that a sketch gave them.
    """
    known = members[start.known[members]]
    fixed = np.intersect1d(known, held)
    if len(np.unique(start.group[fixed])) > 1:
        numbers = " and ".join(str(k) for k in np.unique(start.group[fixed]))
        raise HeldApart(
            f"Stations of networks {numbers} are held and now connected, but their places relative "
            "to each other were a sketch; expected held stations of one network."
        )
    numbers_, count = np.unique(start.group[known], return_counts=True)
    return fixed, known[start.group[known] == numbers_[np.argmax(count)]] if len(known) else known


def datum_of(members: Ints, start: Start | None, held: Ints) -> Datum:
    """Where a group lies: at its held stations, else as near as can be to where the largest part
    of it lay before."""
    own = np.intersect1d(members, held)
    if start is None or len(own):
        return Datum(held=own)
    reference = _reference(members, start, held)[1]
    # One place does not say how a network is turned.
    return Datum(reference=reference) if len(reference) > 1 else Datum()


def joined_since(members: Ints, start: Start | None, held: Ints) -> Ints:
    """The stations of a free group that came to those which its inner constraints refer to: their
    errors are counted from where these lie."""
    reference = datum_of(members, start, held).reference
    return np.setdiff1d(members, reference) if len(reference) else reference


def return_to(groups: Groups, start: Start, held: Ints) -> None:
    """Move every group that has earlier poses back to where these are."""
    for leader in groups.leaders():
        of = groups.members(leader)
        fixed, reference = _reference(of, start, held)
        datum = fixed if len(fixed) else reference
        if len(datum):
            back = composed(start.pose[datum[0]], inverse(groups.pose[datum[0]]))
            groups.pose[of] = composed(back, groups.pose[of])
            groups.pose[datum] = start.pose[datum]
