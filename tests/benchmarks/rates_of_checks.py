# SPDX-License-Identifier: GPL-2.0-or-later
"""How often the checks of a capture find a fault that is there, and one that is not.

Usage: OMP_NUM_THREADS=1 python tests/benchmarks/rates_of_checks.py [captures of each kind, 200]
"""

from __future__ import annotations

import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS), str(TESTS / "captures")]

import conftest  # noqa: E402, F401  (loads the package under its name)
import numpy as np  # noqa: E402
import simulated_faults as faults  # noqa: E402
from checked import checked  # noqa: E402
from roomtie.processing.captures.checks import COVERAGE  # noqa: E402
from roomtie.processing.captures.model import Flag  # noqa: E402
from simulated import capture_of  # noqa: E402

TOLD = (Flag.MOVED, Flag.PASSER_BY, Flag.THROUGH_GLASS, Flag.REFLECTION, Flag.TILTED)


def vector(rng, length_m):
    azimuth = rng.uniform(0, 2 * np.pi)
    return length_m * np.array([np.sin(azimuth), np.cos(azimuth)])


def one_turn(rng):
    walls, origin = faults.room(rng)
    return capture_of(walls, origin, rng.uniform(0, 6), rng=rng, outliers=0.01, mixed=True)[0]


def two_sweeps(shift_m):
    def make(rng):
        walls, origin = faults.room(rng)
        lag = rng.choice([0.0, 3.0])
        return faults.there_and_back(walls, origin, vector(rng, shift_m), rng, lag_deg=lag)

    return make


def kick(shift_m, turned_deg=0.0):
    def make(rng):
        walls, origin = faults.room(rng)
        return faults.kicked(walls, origin, vector(rng, shift_m), rng, turned_deg=turned_deg)

    return make


def tilt(tilt_deg):
    def make(rng):
        walls, origin = faults.room(rng)
        return faults.tilted(walls, origin, tilt_deg, rng.uniform(0, 2 * np.pi), rng)

    return make


def person(rng):
    capture = two_sweeps(0.0)(rng)
    first = np.arange(len(capture)) < len(capture) // 2
    return faults.with_person(capture, first, rng.uniform(0, 360), rng.uniform(0.6, 1.6))


def captures(make, count):
    return (make(np.random.default_rng(seed)) for seed in range(count))


def remarks(name, make, check, count):
    """The share of captures with a remark of a check."""
    found = sum(
        any(remark.check == check for remark in checked(capture).remarks)
        for capture in captures(make, count)
    )
    print(f"{name:58s} {found / count:.3f}")


def alarms(name, make, count):
    """The share of captures in which any check finds something, though nothing is there."""
    found = 0
    for capture in captures(make, count):
        after = checked(capture[0] if isinstance(capture, tuple) else capture)
        other = any(remark.check not in COVERAGE for remark in after.remarks)
        found += other or bool(np.isin(after.flag, TOLD).any())
    print(f"{name:58s} {found / count:.3f}")


def flags(name, make, flag, count):
    """The share of captures most of whose affected readings are flagged, the share of affected
    readings that are, and how many others are."""
    there = found = readings = marked = wrong = 0
    for capture, affected, *_ in captures(make, count):
        own = checked(capture).flag == flag
        wrong += int((own & ~affected).sum())
        if affected.sum() >= 10:
            there += 1
            found += own[affected].mean() > 0.5
            readings, marked = readings + affected.sum(), marked + own[affected].sum()
    print(f"{name:58s} {found / there:.3f} of readings {marked / readings:.3f}, wrong {wrong}")


def main(count):
    print("False alarms, share of captures")
    alarms("one turn in a furnished room, 1 % strays, mixed returns", one_turn, count)
    alarms("there and back, lag 0 or 3 deg", two_sweeps(0.0), count)
    alarms("an open doorway into another room", faults.before_doorway, count)
    alarms(
        "an open doorway into a room that mirrors this one",
        lambda rng: faults.before_doorway(rng, True),
        count,
    )
    print("Found, share of captures")
    for mm in (5, 8, 10, 30):
        remarks(f"moved by {mm} mm between two sweeps", two_sweeps(mm / 1e3), "movement", count)
    for mm in (5, 10, 20, 40):
        remarks(f"moved by {mm} mm during one turn", kick(mm / 1e3), "movement", count)
    remarks("turned by 1 deg during one turn", kick(0.0, 1.0), "movement", count)
    for degrees in (3, 5, 6, 8, 10):
        remarks(f"tilted by {degrees} deg, not reported", tilt(degrees), "level", count)
    flags("a person in one of two sweeps", person, Flag.PASSER_BY, count)
    for back in (0.1, 0.3, 0.5, 0.7):
        flags(
            f"a pane that sends {100 * back:.0f} % of the beams back",
            lambda rng, back=back: faults.before_pane(rng, back),
            Flag.THROUGH_GLASS,
            count,
        )
    flags(
        "a pane 0.1 m deep in its reveal, 30 %",
        lambda rng: faults.before_pane(rng, 0.3, 0.1),
        Flag.THROUGH_GLASS,
        count,
    )
    flags("a mirror", faults.before_mirror, Flag.REFLECTION, count)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
