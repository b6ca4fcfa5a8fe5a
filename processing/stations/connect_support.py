# SPDX-License-Identifier: GPL-2.0-or-later
"""What compasses and walls say of a pose that targets ask for."""

from __future__ import annotations

from ..angles import Floats, wrap_half
from .connect_groups import Groups
from .connect_judge import PAIR_M, Judge, compass_objection

MOST_NAMES = 4


def objection(groups: Groups, judge: Judge | None, first: int, second: int, pose: Floats) -> str:
    """Why compasses or what the captures see exclude a pose; empty if they do not."""
    why = compass_objection(groups, first, second, pose)
    if why or judge is None:
        return why
    return judge.contradiction(groups.members(first), groups.members(second), pose)


def support(
    groups: Groups, judge: Judge | None, first: int, second: int, pose: Floats
) -> list[str]:
    """What of compasses and walls speaks for a pose."""
    found = []
    turn = groups.compass_turn(first, second)
    if turn is not None and abs(float(wrap_half(pose[2] - turn[0]))) < 3.0 * turn[1]:
        found.append("the compasses agree")
    if judge is not None:
        together = judge.together(groups.members(first), groups.members(second), pose[None])
        walls = float(together.score_m[0])
        if walls > PAIR_M:
            found.append(f"{walls:.0f} m of wall agree")
    return found


def names_of(groups: Groups, group: int) -> str:
    """The stations of a group, the first of them by name."""
    of = groups.members(group)
    more = f" and {len(of) - MOST_NAMES} more" if len(of) > MOST_NAMES else ""
    return ", ".join(groups.names[s] for s in of[:MOST_NAMES]) + more


def smaller_first(groups: Groups, first: int, second: int) -> tuple[int, int]:
    """Two groups, that with fewer stations first, of equals the later one."""
    if len(groups.members(second)) <= len(groups.members(first)):
        return second, first
    return first, second
